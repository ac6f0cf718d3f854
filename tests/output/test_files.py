"""Files: what is written reads back the same, nothing can become a formula, half a file never stands."""

import csv
import io
import json
import os
import re
import xml.etree.ElementTree as ET
import zipfile
from datetime import date

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from fleetlens.errors import FleetlensError
from fleetlens.findings.finding import Finding, Period
from fleetlens.output import files, workbook
from fleetlens.output.flat import flat, heading
from fleetlens.output.records import record

SHEET = {"m": "http://schemas.openxmlformats.org/spreadsheetml/2006/main"}  # ECMA-376 part 1
RISKY = ("=1+1", "+1", "-1", "@x", "\tx", "\rx")


def sheet(made: bytes, number: int) -> ET.Element:
    with zipfile.ZipFile(io.BytesIO(made)) as parts:
        return ET.fromstring(parts.read(f"xl/worksheets/sheet{number}.xml"))


def lines(made: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(made.decode("utf-8"), newline="")))


# --- CSV


def test_csv_has_machine_names_iso_dates_and_blanks(make):
    head, first, second = lines(files.content(make["vehicle"](), ".csv"))
    assert head == make["vehicle"]().rows.columns
    assert first[1:4] == ["2024-03-01", "2024-03-02", "81213.6"]
    assert second[2] == ""


@pytest.mark.parametrize("text", RISKY)
def test_csv_text_can_not_become_a_formula(make, text):
    one = make["finding"](pl.DataFrame({"complaint": [text], "cost": [-4.5], "events": [-3]}))
    assert lines(files.content(one, ".csv"))[1] == ["'" + text, "-4.5", "-3"]


def test_csv_text_of_a_category_is_guarded_too(make):
    rows = pl.DataFrame({"model": pl.Series(["=1", "b"], dtype=pl.Enum(["=1", "b"]))})
    assert lines(files.content(make["finding"](rows), ".csv"))[1:] == [["'=1"], ["b"]]


plain_text = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=8)


@given(st.lists(plain_text | st.none(), min_size=1, max_size=5))
def test_any_text_survives_csv_but_for_the_apostrophe(texts):
    one = Finding("q", pl.DataFrame({"id": list(range(len(texts))), "note": texts}), "m", Period(None, None), "s")
    back = [line[1] for line in lines(files.content(one, ".csv"))[1:]]
    assert back == [("'" if text and text[0] in "=+-@\t\r" else "") + (text or "") for text in texts]


# --- Parquet and JSON


def test_parquet_keeps_types_nesting_and_evidence(every):
    made = io.BytesIO(files.content(every, ".parquet"))
    assert_frame_equal(pl.read_parquet(made), every.rows)
    told = json.loads(pl.read_parquet_metadata(made)["fleetlens"])
    assert (told["method"], told["period"]["start"]) == (every.method, "2020-01-01")


def test_json_is_the_record(every):
    assert json.loads(files.content(every, ".json")) == record(every)


# --- XLSX


def test_workbook_holds_the_same_rows_typed(every):
    made = files.content(every, ".xlsx")
    table = flat(every.rows)
    back = pl.read_excel(io.BytesIO(made), sheet_id=1, infer_schema_length=None)
    assert back.columns == [heading(name) for name in table.columns]
    for name, kind in table.schema.items():
        got = back[heading(name)]
        if kind.is_numeric():
            assert got.cast(pl.Float64).to_list() == pytest.approx(table[name].cast(pl.Float64).to_list())
        elif kind == pl.Date:
            assert got.cast(pl.Date).to_list() == table[name].to_list()


def test_workbook_header_is_frozen_and_filtered(every):
    main = sheet(files.content(every, ".xlsx"), 1)
    pane = main.find(".//m:pane", SHEET)
    assert (pane.get("ySplit"), pane.get("state")) == ("1", "frozen")
    rows, columns = every.rows.height + 1, flat(every.rows).width
    assert main.find("m:autoFilter", SHEET).get("ref").endswith(str(rows))
    assert sum(int(col.get("max")) - int(col.get("min")) + 1 for col in main.findall(".//m:col", SHEET)) == columns


def test_workbook_has_no_formula_and_no_link(make):
    texts = [*RISKY, "{=1}", "http://example.invalid", "mailto:x@example.invalid", "internal:About!A1", "12"]
    made = files.content(make["finding"](pl.DataFrame({"complaint": texts}), notes=tuple(RISKY)), ".xlsx")
    for number in (1, 2):
        found = sheet(made, number)
        assert found.findall(".//m:f", SHEET) == found.findall(".//m:hyperlink", SHEET) == []
    kinds = {cell.get("t") for cell in sheet(made, 1).findall(".//m:c", SHEET)}
    assert kinds == {"s"}  # strings all, "12" too
    assert pl.read_excel(io.BytesIO(made), sheet_id=1)["Complaint"].to_list()[0] == "=1+1"


def test_workbook_says_what_it_is_about(make):
    made = files.content(make["intervals"](), ".xlsx")
    about = pl.read_excel(io.BytesIO(made), sheet_name="About", has_header=False)
    told = list(zip(*about.get_columns(), strict=True))
    for line in (
        ("Question", "cleaning intervals"),
        ("Method", "Poisson rate, Garwood interval, 95 %"),
        ("Period", "2020-01-01 to 2025-12-31"),
        ("Filters", "model: Alder 3, Birch"),
        ("Snapshot", "fleet-000003"),
        ("Counted", "1,234 code events: seen in the record"),
        ("Left out", "3 lives: ended before the record began"),
        ("Assumed", "Parts of vehicles whose history begins late are taken for the original ones."),
        ("Note", "[red]Brack[/red] 200: too few failures."),
        ("Caution", "Follow the maker's instructions first."),
    ):
        assert line in told
    assert any(left == "Cleaning interval (km)" and "[interval_km]" in right for left, right in told)


def test_workbook_keeps_dates_as_dates(make):
    made = files.content(make["vehicle"](), ".xlsx")
    assert pl.read_excel(io.BytesIO(made), sheet_id=1)["Opened"].to_list() == [
        date(2024, 3, 1),
        date(2024, 5, 9),
    ]


@pytest.mark.parametrize(
    ("question", "name"),
    [
        ("recurring codes", "Recurring codes"),
        ("about", "Rows"),
        ("", "Rows"),
        ("a/b: [c]?*", "A b   c"),
        ("x" * 40, "X" + "x" * 30),
    ],
)
def test_any_question_makes_a_sheet_name(make, question, name):
    made = files.content(make["finding"](pl.DataFrame({"km": [1.0]}), question=question), ".xlsx")
    with zipfile.ZipFile(io.BytesIO(made)) as parts:
        assert re.findall(r'<sheet name="([^"]*)"', parts.read("xl/workbook.xml").decode()) == [name, "About"]


def test_a_text_too_long_for_a_cell_is_cut_visibly(make):
    made = files.content(make["finding"](pl.DataFrame({"complaint": ["x" * 40_000]})), ".xlsx")
    text = pl.read_excel(io.BytesIO(made), sheet_id=1)["Complaint"][0]
    assert (len(text), text[-2:]) == (32_767, "x…")


def test_too_many_rows_for_a_sheet(make, monkeypatch):
    monkeypatch.setattr(workbook, "MOST_ROWS", 2)
    with pytest.raises(
        FleetlensError, match=r"3 rows don't fit on a sheet, which holds 2\n  try: write to a \.parquet"
    ):
        files.content(make["codes"](), ".xlsx")


@pytest.mark.parametrize("ending", list(files.FORMATS))
def test_no_rows_make_a_file_too(make, ending):
    rows = make["comebacks"]().rows.clear()
    assert files.content(make["finding"](rows), ending)
    assert files.content(make["finding"](pl.DataFrame()), ending)


# --- writing


@pytest.mark.parametrize("ending", [*files.FORMATS, ".XLSX"])
def test_write_leaves_one_file(make, tmp_path, ending):
    target = tmp_path / f"answer{ending}"
    target.write_text("old")
    files.write(make["codes"](), target)
    assert [path.name for path in tmp_path.iterdir()] == [target.name]
    assert target.read_bytes() != b"old"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("answer.pdf", "no format is known for the ending '.pdf'"),
        ("answer", "the file name has no ending"),
        ("missing/answer.csv", "the folder of this file doesn't exist"),
        ("folder.csv", "this is a folder, and a file is wanted"),
    ],
)
def test_a_target_that_will_not_do(make, tmp_path, name, message):
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(FleetlensError, match=re.escape(message)) as caught:
        files.write(make["codes"](), tmp_path / name)
    assert str(tmp_path / name) in str(caught.value)
    assert caught.value.do


def test_a_failed_write_leaves_the_old_file_and_no_rubbish(make, tmp_path, monkeypatch):
    target = tmp_path / "answer.csv"
    target.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(FleetlensError, match="No space left on device"):
        files.write(make["codes"](), target)
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("answer.csv", "old")]
