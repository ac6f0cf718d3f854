"""The pages on lives, repeat failures, causes and measurements show what the Python calls say, and open their rows."""

from pathlib import Path

import pytest
from dashboards.house import HOSTILE, Open, read_as_markup, texts

from fleetlens.advice.bench import cause_split
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.findings.b_lives import b_lives
from fleetlens.findings.causes import NEVER_SKIP, cause_rows
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.drift import drift, drift_rows
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.fates import fates
from fleetlens.findings.filters import Filters, choices
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.life_fit import life_fit
from fleetlens.findings.measurements import check_rows, measurements
from fleetlens.findings.recurrence import recurrence_difference
from fleetlens.findings.vehicle_failures import failure_rows
from fleetlens.store.reader import open_store

FATES, COMPARED = "what becomes of the parts", "whether the groups fail alike"
ANY_SHARE, FIT = "by when any share has failed", "whether one Weibull describes them"
HAZARD = "cumulative hazard"
PANELS = (FATES, COMPARED, ANY_SHARE, FIT, HAZARD)


def life(open_app: Open, panel: str, **address: str) -> list[object]:
    """The tables of the panel: those after figures and shares."""
    app = open_app("sample", "component_life", component="egr_valve", more=panel, **{"by": "Duty", **address})
    assert not app.exception
    assert not app.error, texts(app)
    return [app, *(table.value for table in app.dataframe[2:])]


def test_what_becomes_of_the_parts(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = fates(snapshot, "egr_valve", by=("duty",), at=(40_000,))
    app, table = life(open_app, FATES, at="40000")
    assert table["fate"].tolist() == called.rows["fate"].to_list()
    assert table["ended_so"].tolist() == called.rows["ended_so"].to_list()
    assert "incidence_40000_share" in table.columns
    assert called.method in texts(app)
    assert "Share of lives that met each fate" in texts(app)


def test_whether_groups_fail_alike(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = compared_lives(snapshot, "egr_valve", by=("duty",), within=("model",))
        apart = two_groups(snapshot, "egr_valve", "duty", "multi-drop", "motorway")
    app, table, difference = life(open_app, COMPARED, within="Model", first_group="multi-drop", second_group="motorway")
    assert table["p"].dropna().tolist() == called.rows["p"].drop_nulls().to_list()
    assert called.notes[0] in texts(app)
    assert difference["km"].tolist() == apart.rows["km"].to_list()
    assert difference["difference"].dropna().tolist() == apart.rows["difference"].drop_nulls().to_list()


def test_a_comparison_needs_a_split(open_app: Open) -> None:
    app = open_app("sample", "component_life", component="egr_valve", more=COMPARED)
    app.multiselect(key="by").set_value([]).run()
    assert [told.value for told in app.info] == ["Split by something above to compare its groups."]
    assert len(app.dataframe) == 2


def test_any_share_with_a_shape(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = b_lives(snapshot, "egr_valve", by=("duty",), shares=(0.01,), shape=2.5)
    app, table = life(open_app, ANY_SHARE, shares="1 %", shape="2.5")
    assert table["basis"].tolist() == called.rows["basis"].to_list()
    assert table["life_km"].dropna().tolist() == called.rows["life_km"].drop_nulls().to_list()
    assert "The shape 2.5 is as given, not fitted." in texts(app)


def test_the_shape_of_a_named_group(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = b_lives(snapshot, "egr_valve", by=("duty",), shares=(0.1,), shape_from={"duty": "multi-drop"})
    app, table = life(open_app, ANY_SHARE, shares="10 %", shape_of="multi-drop")
    assert table["shape"].tolist() == called.rows["shape"].to_list()
    assert called.assumed[-1] in texts(app)


def test_whether_one_weibull_fits(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = life_fit(snapshot, "egr_valve", by=("duty",))
    app, table = life(open_app, FIT)
    assert table["reading"].tolist() == called.rows["reading"].to_list()
    assert "on scales where a Weibull is a straight line" in texts(app)


def test_the_cumulative_hazard(open_app: Open) -> None:
    app, table = life(open_app, HAZARD)
    assert (table["hazard"] > 0).all()
    assert len(app.get("vega_lite_chart")) == 2


def test_repeat_failures(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = failure_trends(snapshot, "egr_valve", by=("depot",))
        apart = recurrence_difference(snapshot, "egr_valve", "depot", "Osmere", "Sandreth")
        failures = failure_rows(snapshot, "egr_valve")
    app = open_app(
        "sample", "repeat_failures", component="egr_valve", by="Depot", first_group="Osmere", second_group="Sandreth",
        rows="true",
    )  # fmt: skip
    trend, difference, rows = (table.value for table in app.dataframe)
    assert trend["trend"].tolist() == called.rows["trend"].to_list()
    assert trend["growth"].dropna().tolist() == called.rows["growth"].drop_nulls().to_list()
    assert difference["difference"].dropna().tolist() == apart.rows["difference"].drop_nulls().to_list()
    assert rows["job_id"].tolist() == failures.rows["job_id"].head(200).to_list()
    assert all(note in texts(app) for note in called.notes)
    assert "Mean failures per vehicle" in texts(app)


def test_causes_lean_on_other_models_and_say_so(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        model = choices(snapshot)["model"][0]
        filters = Filters(model=(model,))
        parts = {part: cause_split(snapshot, ["P0401"], part, filters) for part in ("causes", "checks", "remedies")}
        jobs = cause_rows(snapshot, ["P0401"], filters)
    app = open_app("sample", "causes", codes="P0401", model=model, rows="true")
    causes, checks, remedies, rows = (table.value for table in app.dataframe)
    assert causes["share_of_causes"].tolist() == parts["causes"].rows["share_of_causes"].to_list()
    assert checks["failed"].tolist() == parts["checks"].rows["failed"].to_list()
    assert remedies["Came back"].tolist() == [
        f"{back} of {repairs}" for back, repairs in parts["remedies"].rows.select("comebacks", "repairs").iter_rows()
    ]
    assert rows["job_id"].tolist() == jobs.rows["job_id"].to_list()
    said = texts(app)
    assert all(told in said for told in (*parts["causes"].assumed, NEVER_SKIP, *CAUTIONS))
    assert any("lean on" in told for told in parts["causes"].assumed)


def test_without_a_choice_the_commonest_code_is_shown(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        code = recurring_codes(snapshot).rows["code"][0]
        called = cause_split(snapshot, [code])
    app = open_app("sample", "causes")
    assert app.dataframe[0].value["jobs"].tolist() == called.rows["jobs"].to_list()
    assert any(code in count for count in map(str, called.counted))


def test_measurements_and_their_drift(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        filters = Filters(component=("brakes",))
        called, moved = measurements(snapshot, filters=filters), drift(snapshot, within_km=30_000.0, filters=filters)
        before = drift_rows(snapshot, within_km=30_000.0, filters=filters)
        rows = check_rows(snapshot, filters=filters)
    app = open_app("sample", "measurements", component="brakes", within="30000", rows="true")
    figures, slopes, values, behind = (table.value for table in app.dataframe)
    assert figures["checks"].tolist() == called.rows["checks"].to_list()
    assert slopes["slope"].dropna().tolist() == moved.rows["slope"].drop_nulls().to_list()
    assert values["value"].tolist() == before.rows["value"].head(200).to_list()
    assert behind["job_id"].tolist() == rows.rows["job_id"].head(200).to_list()
    assert moved.method in texts(app)
    chart = app.get("vega_lite_chart")[0].proto
    assert chart.alt in texts(app)
    assert "by distance left to the failure" in chart.alt


@pytest.mark.parametrize("panel", PANELS)
@pytest.mark.parametrize("store", ["one vehicle", "hostile"])
def test_every_panel_opens_on_odd_stores(panel: str, store: str, open_app: Open) -> None:
    app = open_app(store, "component_life", more=panel, by="Duty")
    assert not app.exception
    assert not app.error, texts(app)
    assert read_as_markup(app, "evil") == []


def test_causes_of_the_workshop_stay_plain_text(open_app: Open) -> None:
    app = open_app("hostile", "causes", codes="P0401", rows="true")
    assert not app.exception
    assert read_as_markup(app, "evil") == []
    assert HOSTILE.lower()[:9] in app.dataframe[0].value["cause"][0]
