"""Every page opens on every store, shows what the Python call says, and keeps workshop text plain."""

import ast
import shutil
import sys
from pathlib import Path

import pytest
from dashboards.house import HOSTILE, HOUSE, PAGES, Open, read_as_markup, texts

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.filters import Filters, choices
from fleetlens.findings.fleet import overview
from fleetlens.findings.lives import component_lives, life_rows
from fleetlens.findings.vehicles import vehicle_history, vehicle_ids
from fleetlens.intake.load import load
from fleetlens.output.columns import WHY_UNKNOWN
from fleetlens.store.reader import Snapshot, open_store

BRING_IN = ("uploads", "column_maps", "selectors", "loading")  # the helpers of the page that loads


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("store", ["sample", "one vehicle", "no jobs", "hostile"])
def test_every_page_opens_on_every_store(page: str, store: str, open_app: Open) -> None:
    app = open_app(store, page)
    assert not app.exception
    assert not app.error, texts(app)
    assert app.title[0].value
    assert app.main.markdown  # the question that it answers
    assert any("Snapshot: fleet-000001" in text.value for text in app.sidebar.text)


@pytest.mark.parametrize("page", [page for page in PAGES if page != "bring_in_data"])
def test_without_a_store_every_page_says_what_to_do(page: str, open_app: Open) -> None:
    app = open_app("empty", page)
    assert not app.exception
    assert app.title[0].value
    assert app.error
    assert "there is no store here yet" in texts(app)
    assert "fleetlens load FOLDER" in texts(app)


def test_a_filter_in_the_address_changes_the_figures_to_those_of_the_python_call(
    open_app: Open, stores: dict[str, Path]
) -> None:
    with open_store(stores["sample"]) as snapshot:
        model = choices(snapshot)["model"][0]
        everything, some = overview(snapshot), overview(snapshot, Filters(model=(model,)))
    assert some.vehicles < everything.vehicles
    shown = {metric.label: metric.value for metric in open_app("sample", "overview", model=model).metric}
    assert shown["Vehicles"] == f"{some.vehicles:,}"
    assert shown["Jobs"] == f"{some.jobs:,}"
    assert shown["Distance observed (km)"] == f"{some.km:,.0f}"


def test_a_page_says_which_filters_hold(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        first, second = choices(snapshot)["depot"][:2]
    assert f"Only depot {first} or {second}." in texts(open_app("sample", "comebacks", depot=[first, second]))


def test_an_address_that_asks_for_the_unknown_is_answered_not_dropped_in_silence(open_app: Open) -> None:
    app = open_app("sample", "overview", model="Nosuch 9")
    assert "'Nosuch 9', which this store doesn't know: shown without it" in texts(app)
    assert not app.multiselect(key="model").value


def test_the_codes_are_those_of_the_python_call_and_a_code_opens_its_jobs(
    open_app: Open, stores: dict[str, Path]
) -> None:
    with open_store(stores["sample"]) as snapshot:
        ranked = recurring_codes(snapshot).rows
        jobs = code_rows(snapshot, ranked["code"][1]).rows
    table, opened = open_app("sample", "recurring_codes", code=ranked["code"][1]).dataframe
    assert table.value["code"].tolist() == ranked["code"].to_list()
    assert table.value["rate_per_100k_km"].tolist() == ranked["rate_per_100k_km"].to_list()
    assert opened.value["job_id"].tolist() == jobs["job_id"].to_list()
    assert opened.value["open vehicle_id"][0] == f"vehicle_history?vehicle={jobs['vehicle_id'][0]}"


def test_a_long_table_is_ordered_as_the_address_asks(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        ranked = recurring_codes(snapshot).rows["vehicles"].sort(descending=True)
    table = open_app("sample", "recurring_codes", codes_order="Vehicles").dataframe[0].value
    assert table["vehicles"].tolist() == ranked.to_list()


def test_limits_stand_beside_their_figure(open_app: Open) -> None:
    columns = open_app("sample", "recurring_codes").dataframe[0].value.columns.tolist()
    rate = columns.index("rate_per_100k_km")
    assert columns[rate + 1] == "rate_per_100k_km: 95 % limits"
    assert not {"rate_low", "rate_high"} & set(columns)


def test_a_code_without_description_says_so(open_app: Open, tmp_path: Path) -> None:
    (tmp_path / "vehicles.csv").write_text("vehicle_id,in_service_on\nV1,2023-01-01\n")
    (tmp_path / "jobs.csv").write_text("job_id,vehicle_id,opened_at,odometer,reason\nJ1,V1,2024-01-01,9000,defect\n")
    (tmp_path / "job_codes.csv").write_text("job_id,code\nJ1,P3FFE\n")
    load([tmp_path], tmp_path / "store")
    table = open_app(tmp_path / "store", "recurring_codes").dataframe[0].value
    assert table["description"].tolist() == [WHY_UNKNOWN["description"]]


def test_lives_are_those_of_the_python_call(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = component_lives(snapshot, "egr_valve", by=("duty",), at=(30_000, 60_000), unknown_start="leave-out")
        lives = life_rows(snapshot, "egr_valve", unknown_start="leave-out").rows
    app = open_app(
        "sample", "component_life", component="egr_valve", by="Duty", at="30000, 60000", leave_out="true", rows="true"
    )
    figures, shares = (table.value for table in app.dataframe[:2])
    assert figures["duty"].tolist() == called.rows["duty"].to_list()
    assert figures["lives"].tolist() == called.rows["lives"].to_list()
    assert figures["b10_km"].dropna().tolist() == called.rows["b10_km"].drop_nulls().to_list()
    assert figures["Failed"][0] == f"{called.rows['failures'][0]} of {called.rows['lives'][0]}"
    assert [name for name in shares.columns if name.endswith("share")] == [
        "survival_30000_share",
        "survival_60000_share",
    ]
    assert app.dataframe[2].value["vehicle_id"].tolist() == lives["vehicle_id"].head(200).to_list()
    assert all(note in texts(app) for note in called.notes)


def test_distances_that_are_none_are_answered_with_what_to_write(open_app: Open) -> None:
    app = open_app("sample", "component_life", at="far")
    assert app.error
    assert "these aren't distances: 'far'" in texts(app)
    assert "try: such as 50000, 100000" in texts(app)


def test_comebacks_are_those_of_the_python_call(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = comebacks(snapshot, "egr_valve", by=("workshop",), days=60, km=4000)
    app = open_app("sample", "comebacks", component="egr_valve", split="Workshop", days="60", km="4000")
    table = app.dataframe[0].value
    assert table["workshop"].tolist() == called.rows["workshop"].to_list()
    assert table["share_60d"].dropna().tolist() == called.rows["share_60d"].drop_nulls().to_list()
    assert table["Came back"][0] == f"{called.rows['comebacks'][0]} of {called.rows['repairs'][0]}"
    assert called.method in texts(app)


def test_cautions_stand_in_full_under_the_advice_and_nothing_folds_them_away(open_app: Open) -> None:
    app = open_app("sample", "cleaning_intervals")
    assert all(caution in texts(app) for caution in CAUTIONS)
    assert not app.expander
    assert not app.tabs


def test_costs_from_the_address_reach_the_advice(open_app: Open) -> None:
    app = open_app("sample", "cleaning_intervals", component="egr_valve", clean_price="120", failure_price="2400")
    assert "planned renewal 120.00 as asked; failure 2,400.00 as asked" in texts(app)


@pytest.mark.parametrize(("leave_out", "unknown_start"), [("false", "original"), ("true", "leave-out")])
def test_a_figure_tells_how_it_was_counted(
    leave_out: str, unknown_start: str, open_app: Open, stores: dict[str, Path]
) -> None:
    with open_store(stores["sample"]) as snapshot:
        finding = component_lives(snapshot, "egr_valve", unknown_start=unknown_start)
    assert finding.assumed if unknown_start == "original" else finding.excluded
    said = texts(open_app("sample", "component_life", component="egr_valve", leave_out=leave_out))
    for part in (finding.method, str(finding.period), *map(str, finding.counted + finding.excluded), *finding.assumed):
        assert part in said


def test_a_chart_has_a_sentence_beside_it(open_app: Open) -> None:
    app = open_app("sample", "component_life")
    chart = app.get("vega_lite_chart")[0].proto
    assert chart.alt
    assert chart.alt in texts(app)


def test_a_vehicle_shows_its_facts_and_jobs(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        vehicle = vehicle_ids(snapshot)[3]
        called = vehicle_history(snapshot, vehicle)
    app = open_app("sample", "vehicle_history", vehicle=vehicle)
    assert app.dataframe[0].value["job_id"].tolist() == called.rows["job_id"].to_list()
    assert all(note in texts(app) for note in called.notes)


@pytest.mark.parametrize("page", PAGES)
def test_text_of_the_workshop_is_never_read_as_markup(page: str, open_app: Open) -> None:
    app = open_app(
        "hostile", page, vehicle=f"V1 {HOSTILE}", code="P0401", rows="true", model=HOSTILE, depot=f"no {HOSTILE}"
    )
    assert not app.exception
    assert read_as_markup(app, "evil") == []
    assert "evil.invalid" in texts(app)  # what the address asked for in vain is there, as plain text


def test_text_in_a_table_cannot_become_a_formula_when_its_toolbar_saves_it(open_app: Open) -> None:
    jobs = open_app("hostile", "vehicle_history", vehicle=f"V1 {HOSTILE}").dataframe[0].value["job_id"]
    assert jobs.str.startswith("'=J").all()


def test_a_load_is_noticed_at_the_next_run(open_app: Open, stores: dict[str, Path], tmp_path: Path) -> None:
    store = tmp_path / "store"
    shutil.copytree(stores["one vehicle"], store)
    app = open_app(store, "overview")
    assert not app.success
    (tmp_path / "vehicles.csv").write_text("vehicle_id,in_service_on\nADDED,2023-01-01\n")
    load([tmp_path / "vehicles.csv"], store)
    app.run()
    assert app.success[0].value == "New data loaded: fleet-000002"
    assert app.metric[0].value == "2"
    assert not app.run().success  # said once


def test_answers_are_remembered_for_a_snapshot_and_its_choices(
    open_app: Open, monkeypatch: pytest.MonkeyPatch, stores: dict[str, Path]
) -> None:
    open_app("sample", "data_check")  # loads the package
    record = sys.modules["fleetlens_dashboard.record"]
    record.open_live()
    asked = []

    def question(snapshot: Snapshot, *given: str) -> int:
        asked.append((snapshot.name, given))
        return len(asked)

    assert [record.answer(question, "a"), record.answer(question, "a"), record.answer(question, "b")] == [1, 1, 2]
    monkeypatch.setenv("FLEETLENS_STORE", str(stores["one vehicle"]))
    assert record.answer(question, "a") == 1  # the whole run of a page is about one snapshot
    record.open_live()
    assert record.answer(question, "a") == 3


@pytest.mark.parametrize("page", PAGES)
def test_a_page_computes_nothing(page: str) -> None:
    tree = ast.parse((HOUSE / "views" / f"{page}.py").read_text(encoding="utf-8"))
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.BinOp | ast.FunctionDef)]


def test_the_dashboard_knows_neither_the_engine_nor_the_statistics() -> None:
    for path in HOUSE.rglob("*.py"):
        told = path.read_text(encoding="utf-8")
        strangers = ("duckdb", "numpy", "scipy", "fleetlens.cli", "fleetlens.reliability")
        if path.stem not in BRING_IN:
            strangers += ("fleetlens.intake",)
        for node in ast.walk(ast.parse(told)):
            if isinstance(node, ast.ImportFrom | ast.Import):
                names = [getattr(node, "module", None) or "", *(alias.name for alias in node.names)]
                assert not [name for name in names if name.startswith(strangers)], path
        assert "unsafe_allow_html" not in told
