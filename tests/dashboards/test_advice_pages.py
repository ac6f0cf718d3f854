"""The pages of advice: what they ask, answer and say beside it."""

from pathlib import Path

from dashboards.house import Open, texts

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.policies import policies
from fleetlens.store.preferences import FILE
from fleetlens.store.reader import open_store


def test_the_interval_page_tells_the_policy_too(open_app: Open, stores: dict[str, Path]) -> None:
    app = open_app("sample", "cleaning_intervals", component="egr_valve")
    with open_store(stores["sample"]) as snapshot:
        finding = policies(snapshot, "egr_valve").finding
    said = texts(app)
    assert all(note in said for note in finding.notes)
    assert finding.method in said
    assert "Long-run cost per 1,000 km by policy: " in said


def test_split_by_how_lives_began_the_policy_is_told_without_that_key(open_app: Open) -> None:
    app = open_app("sample", "cleaning_intervals", component="egr_valve", by=["Began as"])
    assert not app.exception
    assert not app.error


def test_clean_or_replace_says_its_verdict_with_all_cautions(open_app: Open, stores: dict[str, Path]) -> None:
    app = open_app("sample", "clean_or_replace", vehicle="V000004", component="egr_valve", replace_price="420")
    with open_store(stores["sample"]) as snapshot:
        finding = choose(snapshot, "V000004", "egr_valve", given=Given(replace=420.0))
    said = texts(app)
    assert not app.exception
    assert all(line in said for line in (*finding.notes, *finding.assumed, *CAUTIONS))
    (table,) = app.dataframe
    assert table.value["option"].tolist() == ["leave", "clean", "replace"]


def test_what_does_not_apply_is_left_out(open_app: Open) -> None:
    app = open_app("sample", "clean_or_replace", vehicle="V000004", component="egr_valve", rule_out=["leave"])
    assert app.dataframe[0].value["option"].tolist() == ["clean", "replace"]


def test_without_a_vehicle_it_asks_for_one(open_app: Open) -> None:
    app = open_app("sample", "clean_or_replace")
    assert "Choose a vehicle" in app.info[0].value
    assert not app.dataframe


def test_an_edited_file_of_preferences_is_seen_at_once(open_app: Open, stores: dict[str, Path]) -> None:
    file = stores["sample"] / FILE
    try:
        for price in ("111.00", "222.00"):
            file.write_text(f"[money]\ncurrency = 'EUR'\n[component.egr_valve]\nclean = {price}\n", encoding="utf-8")
            said = texts(open_app("sample", "clean_or_replace", vehicle="V000004", component="egr_valve"))
            assert f"planned cleaning {price} EUR as clean in [component.egr_valve] of fleetlens.toml" in said
    finally:
        file.unlink()


def test_what_can_not_be_priced_has_no_empty_chart(open_app: Open) -> None:
    priced = open_app("sample", "clean_or_replace", vehicle="V000004", component="egr_valve")
    unpriced = open_app("sample", "clean_or_replace", vehicle="V000004", component="air_filter")
    assert not unpriced.exception
    assert len(priced.get("vega_lite_chart")) == 1
    assert not unpriced.get("vega_lite_chart")
    assert "the price of a failure is unknown" in texts(unpriced)
