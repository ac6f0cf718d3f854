"""The workbook to fill in: it offers the lists, leaves its examples out, and gives the figures of tidy tables."""

import io
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from intake.small import JOBS, VEHICLES, counts

from fleetlens.intake.load import load
from fleetlens.output.template import template
from fleetlens.store.reader import open_store
from fleetlens.vocabulary.tables import tables


@pytest.fixture(scope="module")
def book() -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(template()))


def test_a_sheet_for_each_table_after_one_that_explains(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == ["How to use", *tables(), "Components"]
    for name, table in tables().items():
        heads = [cell.value for cell in book[name][1] if cell.value]
        assert heads == [column.name for column in table.columns if column.name != "from_text"]
        assert all(cell.comment is not None for cell in book[name][1][: len(heads)])
        assert book[name].freeze_panes == "B2"


def test_the_lists_offer_what_is_allowed(book: openpyxl.Workbook) -> None:
    rules = {str(rule.sqref): rule.formula1 for rule in book["jobs"].data_validations.dataValidation}
    assert "breakdown,defect,scheduled" in rules["G2:G5001"]
    assert rules["B2:B5001"] == "vehicles!$A$3:$A$5001"
    listed = {row[3].value for row in book["Components"].iter_rows(min_row=2) if row[3].value}
    allowed = next(column.allowed for column in tables()["job_actions"].columns if column.name == "action")
    assert listed == set(allowed)


def test_as_it_is_it_loads_and_its_examples_are_left_out(tmp_path: Path) -> None:
    made = tmp_path / "vans.xlsx"
    made.write_bytes(template())
    report = load([made], tmp_path / "store")
    assert counts(report) == (0, 0, 0, 0, 0)
    assert any("1 example row left out" in note for note in report.notes)


def test_filled_in_it_gives_what_the_tidy_tables_give(tmp_path: Path, book: openpyxl.Workbook) -> None:
    tidy = tmp_path / "tidy"
    tidy.mkdir()
    for name, text in (("vehicles", VEHICLES), ("jobs", JOBS)):
        rows = [line.strip() for line in text.strip().splitlines()]
        (tidy / f"{name}.csv").write_text("\n".join(rows), encoding="utf-8")
        heads = [cell.value for cell in book[name][1]]
        for at, line in enumerate(rows[1:], start=3):
            for head, value in zip(rows[0].split(","), line.split(","), strict=True):
                book[name].cell(at, heads.index(head) + 1, value or None)
    filled = tmp_path / "filled.xlsx"
    book.save(filled)
    by_hand = load([filled], tmp_path / "by_hand")
    tables_loaded = load([tidy], tmp_path / "by_tables")
    assert counts(by_hand) == counts(tables_loaded) == (5, 5, 0, 0, 0)
    frames = []
    for name in ("by_hand", "by_tables"):
        with open_store(tmp_path / name) as snapshot:
            frames.append(snapshot.frame("findings/vehicle_jobs", vehicle_id="V1"))
    assert frames[0].equals(frames[1])
    assert isinstance(frames[0], pl.DataFrame)
    assert frames[0].height == 2
