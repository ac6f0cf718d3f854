"""A suggested map changed by hand: what stays, what is found anew, what is asked again."""

from datetime import date
from pathlib import Path

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps import changing
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap
from fleetlens.intake.maps.suggest import suggest
from fleetlens.intake.readers.opening import open_file
from fleetlens.intake.readers.sheet import Sheet

TODAY = date(2026, 6, 1)
JOBS = (
    "Job no;Van;Date in;Mileage km;Type;Work;Ready\n"
    "1001;V1;13/04/2024;45210;BD;replaced egr valve;14/04/2024\n"
    "1002;V2;05/06/2024;48110;SV;oil service;05/06/2024\n"
    "1003;V3;07/05/2024;91000;BD;cleaned dpf;08/05/2024\n"
)


@pytest.fixture
def sheet(tmp_path: Path) -> Sheet:
    (tmp_path / "list.csv").write_text(JOBS, encoding="utf-8")
    return open_file(tmp_path / "list.csv")[0]


@pytest.fixture
def made(sheet: Sheet) -> ColumnMap:
    return suggest(sheet, TODAY).column_map


def test_what_nobody_changes_stays(sheet: Sheet, made: ColumnMap) -> None:
    same = changing.reassign(sheet, made, changing.uses_of(made), TODAY)
    assert same == made
    assert changing.answer(same, {}) == made


def test_a_column_left_aside_is_ignored_and_its_table_goes_with_the_last(sheet: Sheet, made: ColumnMap) -> None:
    uses = changing.uses_of(made)
    assert "job_actions" in made.tables
    changed = changing.reassign(sheet, made, {**uses, "Work": []}, TODAY)
    assert "Work" in changed.ignore
    assert "job_actions" not in changed.tables
    assert changed.tables["jobs"] == made.tables["jobs"]


def test_a_new_meaning_is_settled_by_the_values_or_asked(sheet: Sheet, made: ColumnMap) -> None:
    uses = {**changing.uses_of(made), "Ready": ["vehicles.in_service_on"], "Mileage km": ["vehicles.in_service_km"]}
    changed = changing.reassign(sheet, made, uses, TODAY)
    assert changed.tables["vehicles"]["in_service_on"].date_order == "day_first"
    assert changed.tables["vehicles"]["in_service_km"].unit == "km"
    assert "odometer" not in changed.tables["jobs"]
    words = changing.reassign(sheet, made, {**uses, "Work": ["jobs.reason"]}, TODAY).tables["jobs"]["reason"]
    assert words.column == "Type"  # of two that are to be the same the first stands
    moved = changing.reassign(sheet, made, {**uses, "Type": [], "Work": ["jobs.reason"]}, TODAY)
    assert UNDECIDED in moved.tables["jobs"]["reason"].values.values()
    assert "values" in changing.keys_of("jobs", "reason", moved.tables["jobs"]["reason"])


def test_jobs_without_a_number_get_one_and_lines_are_counted(sheet: Sheet, made: ColumnMap) -> None:
    uses = {**changing.uses_of(made), "Job no": [], "Work": ["job_actions.note"]}
    changed = changing.reassign(sheet, made, uses, TODAY)
    assert changed.tables["jobs"]["job_id"].made_from == ("vehicle_id", "opened_at")
    assert changed.tables["job_actions"]["line"].counted
    assert changed.tables["job_actions"]["note"].text


def test_answers_are_checked_as_a_written_map_is(sheet: Sheet, made: ColumnMap) -> None:
    answered = changing.answer(made, {"jobs.odometer": {"unit": "mi"}})
    assert answered.tables["jobs"]["odometer"].unit == "mi"
    with pytest.raises(FleetlensError, match=r"jobs\.odometer\.unit can't be 'leagues'"):
        changing.answer(made, {"jobs.odometer": {"unit": "leagues"}})
    without = changing.reassign(sheet, made, {**changing.uses_of(made), "Date in": []}, TODAY)
    with pytest.raises(FleetlensError, match=r"doesn't say where jobs\.opened_at comes from"):
        changing.answer(without, {})
