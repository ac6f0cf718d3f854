"""The plan in each of its forms, read back by other programs."""

import io
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import openpyxl
import polars as pl
import pypdf
import pytest
import vobject

from fleetlens import load, open_store
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.planning.plan import Plan, agreed, cleaning_plan
from fleetlens.advice.planning.wishes import AGREED, wishes_of
from fleetlens.errors import FleetlensError
from fleetlens.output.plan_calendar import plan_calendar
from fleetlens.output.plan_files import PLAN_FORMATS, plan_content
from fleetlens.places import folder
from fleetlens.store.preferences import Preferences, Workshop

STAMP = datetime(2026, 7, 1, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    store = tmp_path_factory.mktemp("plan") / "store"
    load([folder("sample_fleet")], store)
    with open_store(store) as snapshot:
        made = cleaning_plan(snapshot, weeks=4, preferences=Preferences(workshop=Workshop(hours_a_day=5)))
    assert made.tasks.rows["week_from"].n_unique() > 1
    return made


def test_the_calendar_is_read_by_another_parser(plan: Plan) -> None:
    """RFC 5545: vobject is a parser of its own, no relation of the library that wrote the file."""
    made = plan_calendar(plan, STAMP)
    assert all(len(line) <= 75 for line in made.split(b"\r\n")), "RFC 5545, section 3.1: lines are folded"
    events = vobject.readOne(made.decode()).vevent_list
    visits = plan.tasks.rows.select("week_from", "vehicle_id").unique(maintain_order=True)
    assert len(events) == visits.height
    days = {row["week_from"]: row for row in plan.weeks.rows.to_dicts()}
    for event, (monday, vehicle) in zip(events, visits.iter_rows(), strict=True):
        assert event.summary.value.startswith(f"{vehicle}: ")
        assert event.dtstart.value == days[monday]["first_open_day"]
        assert event.dtend.value == days[monday]["last_open_day"] + timedelta(days=1)
        assert event.dtstamp.value == STAMP
        assert event.transp.value == "TRANSPARENT"
        assert CAUTIONS[0] in event.description.value
        assert "km old" in event.description.value
    assert len({event.uid.value for event in events}) == len(events)


def test_an_entry_that_moves_keeps_its_identifier(plan: Plan) -> None:
    later = plan.tasks.rows.with_columns(pl.col("week_from").replace({date(2026, 6, 29): date(2026, 7, 6)}))
    moved = replace(plan, tasks=replace(plan.tasks, rows=later))
    names = [
        {
            event.summary.value: event.uid.value
            for event in vobject.readOne(plan_calendar(one, STAMP).decode()).vevent_list
        }
        for one in (plan, moved)
    ]
    assert names[0] == names[1]


def test_the_workbook_has_a_sheet_a_week_and_one_for_the_reasons(plan: Plan) -> None:
    book = openpyxl.load_workbook(io.BytesIO(plan_content(plan, ".xlsx")))
    mondays = plan.tasks.rows["week_from"].unique().sort()
    assert book.sheetnames == [
        "Weeks",
        *(f"Week of {monday}" for monday in mondays),
        "Reasons",
        "Parts to order",
        "Without a week",
        "Not dated",
        "About",
    ]
    told = 0
    for monday in mondays:
        sheet = book[f"Week of {monday}"]
        told += sheet.max_row - 1
        assert sheet["A1"].value == "Vehicle"
    assert told == plan.tasks.rows.height == book["Reasons"].max_row - 1
    about = [cell.value for column in book["About"].columns for cell in column]
    assert set(CAUTIONS) <= set(about)


def test_the_sheet_has_every_task_reason_part_and_caution(plan: Plan) -> None:
    pages = pypdf.PdfReader(io.BytesIO(plan_content(plan, ".pdf"))).pages
    text = " ".join(" ".join(page.extract_text().split()) for page in pages)
    assert len(pages) >= plan.tasks.rows["week_from"].n_unique()
    for row in plan.tasks.rows.to_dicts():
        assert row["vehicle_id"] in text
        assert row["why"].split(";")[0] in text
    assert "gaskets and seals" in text
    for caution in CAUTIONS:
        assert caution[:40] in text
    assert text.count("Before anyone starts work") == plan.tasks.rows["week_from"].n_unique()


def test_words_of_the_workshop_are_never_markup(plan: Plan) -> None:
    hostile = '#panic("no") $x$ *b* [a] \\ Łódź'
    rows = plan.tasks.rows.with_columns(registration=pl.lit(hostile))
    pages = pypdf.PdfReader(io.BytesIO(plan_content(replace(plan, tasks=replace(plan.tasks, rows=rows)), ".pdf"))).pages
    assert '#panic("no")' in "".join(pages[0].extract_text().split("\n")).replace(" ", " ")


def test_an_empty_plan_can_be_written_in_every_form(plan: Plan) -> None:
    empty = replace(
        plan,
        tasks=replace(plan.tasks, rows=plan.tasks.rows.clear()),
        parts=replace(plan.parts, rows=plan.parts.rows.clear()),
    )
    for ending in PLAN_FORMATS:
        assert plan_content(empty, ending)
    assert "No task is planned" in pypdf.PdfReader(io.BytesIO(plan_content(empty, ".pdf"))).pages[0].extract_text()


def test_the_json_holds_all_tables(plan: Plan) -> None:
    told = json.loads(plan_content(plan, ".json"))
    assert len(told["rows"]) == plan.tasks.rows.height
    assert {"weeks", "parts", "without_a_week", "not_dated", "saved", "gap", "cautions"} <= set(told)


def test_a_plan_written_as_csv_is_read_back_as_agreed_dates(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    path.write_bytes(plan_content(plan, ".csv"))
    rows = pl.read_csv(path, infer_schema=False)
    assert wishes_of(rows, str(path), AGREED) == agreed(plan)


def test_another_ending_is_refused_with_those_there_are(plan: Plan) -> None:
    with pytest.raises(FleetlensError, match=r"\.ics"):
        plan_content(plan, ".docx")
