"""What is said of files before a load: each sheet a table of ours, read through a map, or in need of one."""

import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.arrivals import look_over
from fleetlens.intake.load import load
from fleetlens.intake.maps import memory
from fleetlens.intake.maps.shape import shape
from fleetlens.intake.maps.suggest import suggest

TIDY = "vehicle_id,depot\nV1,Osmere\nV2,Osmere\n"
OTHER = "Fleet number,Yard\nV1,Osmere\nV2,Osmere\n"
TODAY = date(2026, 6, 1)


def written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def book(path: Path, **sheets: str) -> Path:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, text in sheets.items():
        sheet = made.create_sheet(name)
        for line in text.splitlines():
            sheet.append(line.split(","))
    whole = io.BytesIO()
    made.save(whole)
    path.write_bytes(whole.getvalue())
    return path


def test_a_table_of_ours_needs_no_map(tmp_path: Path) -> None:
    (arrival,) = look_over(written(tmp_path / "export.csv", f"Yard list\n\n{TIDY}\n"))
    assert (arrival.table, arrival.rows, arrival.column_map, arrival.why) == ("vehicles", 2, None, "")
    assert "header in row 2" in arrival.told


def test_a_file_named_after_a_table_with_other_columns_needs_one(tmp_path: Path) -> None:
    (arrival,) = look_over(written(tmp_path / "vehicles.csv", OTHER))
    assert (arrival.table, arrival.column_map) == ("", None)
    assert "'vehicle_id' is missing" in arrival.why


def test_the_map_that_is_meant_for_it_is_found(tmp_path: Path) -> None:
    path = written(tmp_path / "yards.csv", OTHER)
    (arrival,) = look_over(path)
    made = suggest(arrival.sheet, TODAY).column_map
    (given,) = look_over(path, [made])
    assert (given.column_map, given.given, given.table) == (made, True, "")
    (remembered,) = look_over(path, (), {shape(arrival.sheet.columns): [made]})
    assert (remembered.column_map, remembered.given) == (made, False)
    (elsewhere,) = look_over(path, [replace(made, sheet="Other")], {"another shape": [made]})
    assert elsewhere.given  # a file without sheets takes a map for any


def test_what_a_store_remembers_is_found(tmp_path: Path) -> None:
    path = written(tmp_path / "yards.csv", OTHER)
    (arrival,) = look_over(path)
    made = suggest(arrival.sheet, TODAY).column_map
    load([path], tmp_path / "store", maps=[made])
    (again,) = look_over(path, (), memory.remembered(tmp_path / "store"))
    assert again.column_map is not None
    assert again.column_map.tables == made.tables


@pytest.mark.parametrize("order", [("vehicles", "jobs", "Yards"), ("Yards", "jobs", "vehicles"), ("jobs", "Yards")])
def test_each_sheet_of_a_workbook_is_told_of_once(tmp_path: Path, order: tuple[str, ...]) -> None:
    texts = {"vehicles": TIDY, "jobs": "Number,Day\n1,2024-05-01\n", "Yards": OTHER}
    found = look_over(book(tmp_path / "book.xlsx", **{name: texts[name] for name in order}))
    assert [arrival.sheet.part for arrival in found] == list(order)
    tables = {arrival.sheet.part: arrival.table for arrival in found}
    assert tables == {name: "vehicles" if name == "vehicles" else "" for name in order}
    why = {arrival.sheet.part: arrival.why for arrival in found}
    assert "'job_id' is missing" in why["jobs"]
    assert why["Yards"]


def test_a_sheet_whose_map_is_for_another_sheet_has_none(tmp_path: Path) -> None:
    path = book(tmp_path / "book.xlsx", vehicles=TIDY, Yards=OTHER)
    made = suggest(look_over(path)[1].sheet, TODAY).column_map
    assert look_over(path, [made])[1].column_map == made
    assert look_over(path, [replace(made, sheet="Vans")])[1].column_map is None
    wider = replace(made, sheet="")
    assert look_over(path, [wider, made])[1].column_map == made  # the one for this sheet alone goes first


@pytest.mark.parametrize(("name", "content"), [("cut.xlsx", b"PK\x03\x04"), ("none.csv", b""), ("photo.png", b"x")])
def test_a_file_that_cannot_be_read_is_refused_with_its_reason(tmp_path: Path, name: str, content: bytes) -> None:
    (tmp_path / name).write_bytes(content)
    with pytest.raises(FleetlensError) as refused:
        look_over(tmp_path / name)
    assert refused.value.do
