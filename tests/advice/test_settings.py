"""Settings: every key with its value and where it comes from."""

import re
import tomllib
from pathlib import Path

import polars as pl
import pytest
from advice.known_fleet import Law, Truth, write_fleet

from fleetlens import FleetlensError, load, open_store
from fleetlens.advice.settings import settings
from fleetlens.findings.finding import Finding
from fleetlens.store import preferences
from fleetlens.store.preferences import FILE


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("settings")
    write_fleet(folder, {"A": Truth(Law(2.8, 110_000.0), Law(2.2, 70_000.0))}, vehicles=4)
    load([folder], folder / "s")
    return folder / "s"


def asked(store: Path, text: str | None) -> Finding:
    (store / FILE).unlink(missing_ok=True)
    if text is not None:
        (store / FILE).write_text(text, encoding="utf-8")
    with open_store(store) as snapshot:
        return settings(snapshot)


def of(told: Finding, name: str) -> tuple[str | None, str]:
    row = told.rows.row(by_predicate=pl.col("setting") == name, named=True)
    return row["set_to"], row["set_by"]


def test_without_a_file_all_is_default_or_learned(store: Path) -> None:
    told = asked(store, None)
    assert of(told, "money.currency") == (None, "default")
    assert of(told, "service.every_km") == ("30,000", "default")
    assert of(told, "component.egr_valve.clean")[0] == "100.00"
    assert of(told, "component.egr_valve.clean")[1].startswith("learned: the median of ")
    assert of(told, "component.egr_valve.warranty_months") == (None, "not set")
    assert told.notes == (f"There is no {FILE} yet.",)


def test_every_key_of_the_template_is_listed_with_its_meaning(store: Path) -> None:
    told = asked(store, None).rows
    lines = [line.removeprefix("# ") for line in preferences.template().splitlines()]
    keys = tomllib.loads("\n".join(line for line in lines if re.match(r"\[|\w+ = ", line)))
    named = {f"{table}.{key}" for table, own in keys.items() if table != "component" for key in own}
    named |= {f"component.egr_valve.{key}" for key in keys["component"]["egr_valve"]}
    assert set(told["setting"]) == named
    assert told["meaning"].null_count() == 0


def test_what_the_file_sets_is_named_though_it_is_the_default(store: Path) -> None:
    told = asked(store, "[service]\nevery_km = 30000\n[component.egr_valve]\nclean = 180\nwarranty_months = 24\n")
    assert of(told, "service.every_km") == ("30,000", f"set in {FILE}")
    assert of(told, "service.every_days") == ("365", "default")
    assert of(told, "component.egr_valve.clean") == ("180", f"set in {FILE}")
    assert of(told, "component.egr_valve.warranty_months") == ("24", f"set in {FILE}")


def test_a_component_that_no_job_names_is_said(store: Path) -> None:
    told = asked(store, "[component.egr_vavle]\nclean = 180\n")
    assert "[component.egr_vavle]: no job of this store names this component; did you mean 'egr_valve'?" in told.notes


def test_a_wrong_key_is_an_error_that_names_it(store: Path) -> None:
    with pytest.raises(FleetlensError, match="every_kn"):
        asked(store, "[service]\nevery_kn = 30000\n")


def test_the_template_is_written_once_and_reads_as_nothing_set(store: Path) -> None:
    (store / FILE).unlink(missing_ok=True)
    assert preferences.write_template(store) == store / FILE
    assert preferences.read(store).stated == frozenset()
    with pytest.raises(FleetlensError, match="there already"):
        preferences.write_template(store)
    (store / FILE).unlink()
    with pytest.raises(FleetlensError, match="no such store"):
        preferences.write_template(store / "nowhere")
