"""Workbooks as people keep them: sheets, titles, merged cells, formulas, errors, hidden things.

The numbers in the names are those of our list of messes in job histories (common practice, no source).
"""

from datetime import date, datetime, time, timedelta

import openpyxl
import pytest
from intake.readers.books import ods, replace_in, xls, xlsx
from intake.readers.reading import left_out, refusal, rows

from fleetlens.intake.readers import Sheet, open_file, workbook

HEADER = ("job", "vehicle", "opened", "km")


def sheet_of(path) -> Sheet:
    (sheet,) = open_file(path)
    return sheet


@pytest.mark.parametrize("write", [xlsx, xls, ods])
def test_values_of_each_kind(tmp_path, write):
    cells = [
        HEADER,
        ("0012", "V1", date(2024, 3, 1), 148220),
        ("J2", "Ü", datetime(2024, 3, 1, 8, 30), 1.5),
        (12, None, None, 123456789012.0),
    ]
    sheet = sheet_of(write(tmp_path / f"book.{write.__name__}", {"Jobs": cells}))
    assert (sheet.part, sheet.label, sheet.columns, sheet.header_row) == ("Jobs", "Jobs", HEADER, 1)
    found = [tuple(str(cell).replace("T", " ") for cell in row) for row in rows(sheet)]
    assert found == [
        ("2", "0012", "V1", "2024-03-01", "148220"),
        ("3", "J2", "Ü", "2024-03-01 08:30:00", "1.5"),
        ("4", "12", "", "", "123456789012"),
    ]
    assert sheet.remarkable == ()


def test_true_false_times_and_long_fractions(tmp_path):
    cells = [("a", "b", "c", "d"), (True, time(8, 30), 0.1 + 0.2, timedelta(hours=7))]
    assert rows(sheet_of(xlsx(tmp_path / "b.xlsx", {"S": cells}))) == [(2, "true", "08:30:00", "0.3", "07:00:00")]


def test_a_time_of_day_in_an_open_document(tmp_path):
    path = ods(tmp_path / "b.ods", {"S": [("job", "at"), ("J1", time(8, 30)), ("J2", "x")]})
    assert rows(sheet_of(path)) == [(2, "J1", "08:30:00"), (3, "J2", "x")]


@pytest.mark.parametrize("write", [xlsx, xls, ods])
def test_60_titles_blank_rows_and_columns_around_the_table(tmp_path, write):
    cells = [
        (None, "Job history, depot North"),
        (),
        (None, None, None, None, None),
        (None, *HEADER),
        (None, "J1", "V1", "2024-03-01", 5),
        (),
        (None, "J2", "V1", "2024-03-02", 6),
        (None, "Total", None, None, 11),
        (None, "printed on 3 March"),
    ]
    sheet = sheet_of(write(tmp_path / f"book.{write.__name__}", {"S": cells}))
    assert (sheet.columns, sheet.header_row) == (HEADER, 4)
    assert [row[:2] for row in rows(sheet)] == [(5, "J1"), (7, "J2")]
    assert left_out(sheet) == {"title row": 1, "blank row": 1, "total row": 1, "footer": 1}
    assert "header in row 4" in sheet.remarkable


def test_60_two_header_rows_of_merged_cells(tmp_path):
    cells = [("Job", "Start", None, "End", None), (None, "Date", "Km", "Date", "Km"), ("J1", "2024-01-01", 5, "x", 7)]
    sheet = sheet_of(xlsx(tmp_path / "b.xlsx", {"S": cells}, merges=["A1:A2", "B1:C1", "D1:E1"]))
    assert sheet.columns == ("Job", "Start Date", "Start Km", "End Date", "End Km")
    assert rows(sheet) == [(3, "J1", "2024-01-01", "5", "x", "7")]


def test_32_merged_cells_are_filled_down_and_right(tmp_path):
    cells = [HEADER, ("J1", "V1", "2024-03-01", 5), (None, None, "2024-03-02", 6), ("J2", "V2", "same", None)]
    path = xlsx(tmp_path / "b.xlsx", {"S": cells}, merges=["A2:A3", "B2:B3", "C4:D4"])
    sheet = sheet_of(path)
    assert rows(sheet) == [
        (2, "J1", "V1", "2024-03-01", "5"),
        (3, "J1", "V1", "2024-03-02", "6"),
        (4, "J2", "V2", "same", "same"),
    ]
    assert "3 merged areas filled" in sheet.told


def test_32_blank_cells_that_arent_merged_stay_blank(tmp_path):
    cells = [HEADER, ("J1", "V1", "2024-03-01", 5), (None, None, "2024-03-02", 6)]
    assert rows(sheet_of(xlsx(tmp_path / "b.xlsx", {"S": cells})))[1] == (3, "", "", "2024-03-02", "6")


def test_32_merged_cells_of_an_open_document(tmp_path):
    cells = [HEADER, (("J1", 2), "V1", date(2024, 3, 1), 5), (..., "V1", date(2024, 3, 2), 6)]
    sheet = sheet_of(ods(tmp_path / "b.ods", {"S": cells}))
    assert [row[1] for row in rows(sheet)] == ["J1", "J1"]
    assert "1 merged area filled" in sheet.told


@pytest.mark.parametrize(
    "area", ["A1:XFD1048576", "A2:A900000", "ZZZ1:ZZZ9", "B9:B3", "A0:A1", "", "A1", "A1:B2:C3", "a1:b2"]
)
def test_32_areas_that_reach_beyond_the_cells_or_are_none(tmp_path, area):
    path = xlsx(tmp_path / "b.xlsx", {"S": [HEADER, ("J1", "V1", "x", 5), (None, "V2", "y", 6)]}, merges=["C3:D3"])
    replace_in(path, "xl/worksheets/sheet1.xml", b"C3:D3", area.encode())
    assert [row[0] for row in rows(sheet_of(path))] == [2, 3]


def test_31_and_33_in_a_merged_sheet(tmp_path):
    cells = [HEADER, ("J1", "V1", "x", 5), (None, '"', "y", 6), ("Total", None, None, 11), ("J2", "do.", "z", 7)]
    sheet = sheet_of(xlsx(tmp_path / "b.xlsx", {"S": cells}, merges=["A2:A3", "A4:C4"]))
    assert [row[:3] for row in rows(sheet)] == [(2, "J1", "V1"), (3, "J1", "V1"), (5, "J2", "V1")]


def test_61_hidden_sheets_are_named_and_marked(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(HEADER)
    book.active.append(("J1", "V1", "x", 5))
    for name, state in (("Old", "hidden"), ("Secret", "veryHidden")):
        sheet = book.create_sheet(name)
        sheet["A1"], sheet.sheet_state = "x", state
    book.create_sheet("Empty")
    book.save(tmp_path / "b.xlsx")
    assert [(sheet.label, sheet.hidden) for sheet in open_file(tmp_path / "b.xlsx")] == [
        ("Sheet", False),
        ("Old", True),
        ("Secret", True),
    ]


def test_61_hidden_and_filtered_rows_are_read_and_told(tmp_path):
    path = xlsx(tmp_path / "b.xlsx", {"S": [HEADER, ("J1", "V1", "x", 5), ("J2", "V1", "x", 5)]})
    book = openpyxl.load_workbook(path)
    book.active.row_dimensions[3].hidden = True
    book.save(path)
    sheet = sheet_of(path)
    assert len(rows(sheet)) == 2
    assert "1 hidden or filtered row read like the others" in sheet.told


def test_61_formulas_without_a_value_and_errors(tmp_path):
    path = xlsx(tmp_path / "b.xlsx", {"S": [HEADER, ("J1", "=B3", "#REF!", 5), ("J2", "V1", "=1+1", "#N/A")]})
    sheet = sheet_of(path)
    assert rows(sheet) == [(2, "J1", "", "", "5"), (3, "J2", "V1", "", "")]
    assert "2 cells with an error such as #REF!, taken as blank: C2, D3" in sheet.told
    assert "2 formulas without a value, taken as blank: B2, C3" in sheet.told


def test_61_formulas_give_the_value_that_the_workbook_keeps(tmp_path):
    path = xlsx(tmp_path / "b.xlsx", {"S": [HEADER, ("J1", "V1", "x", "=2*4")]})
    replace_in(path, "xl/worksheets/sheet1.xml", b"<f>2*4</f><v />", b"<f>2*4</f><v>8</v>")
    sheet = sheet_of(path)
    assert (rows(sheet), sheet.remarkable) == ([(2, "J1", "V1", "x", "8")], ())


def test_61_in_an_open_document(tmp_path):
    sheet = sheet_of(ods(tmp_path / "b.ods", {"S": [HEADER, ("J1", "V1", "#REF!", 5), ("J2", "=A1", "x", 6)]}))
    assert [row[2:4] for row in rows(sheet)] == [("V1", ""), ("", "x")]
    assert {
        "1 cell with an error such as #REF!, taken as blank",
        "1 formula without a value, taken as blank: B3",
    } <= set(sheet.told)


def test_a_workbook_of_nothing(tmp_path):
    assert refusal(xlsx(tmp_path / "b.xlsx", {"S": []})) == "this file is empty"


def test_a_workbook_under_another_ending(tmp_path):
    path = xlsx(tmp_path / "b.xlsx", {"S": [HEADER, ("J1", "V1", "x", 5)]}).rename(tmp_path / "b.csv")
    assert rows(sheet_of(path)) == [(2, "J1", "V1", "x", "5")]


def test_text_under_the_ending_of_a_workbook(tmp_path):
    path = tmp_path / "export.xls"
    path.write_text("job\tkm\nJ1\t5\n", encoding="utf-16")
    sheet = sheet_of(path)
    assert rows(sheet) == [(2, "J1", "5")]
    assert "text under the ending of XLS" in sheet.remarkable


def test_more_rows_than_one_batch(tmp_path, monkeypatch):
    monkeypatch.setattr(workbook, "_ROWS", 3)
    cells = [HEADER, *(("do." if n % 4 else f"J{n}", "V1", "x", n) for n in range(11))]
    sheet = sheet_of(xlsx(tmp_path / "b.xlsx", {"S": cells}))
    assert [row[:2] for row in rows(sheet)] == [(n + 2, f"J{n // 4 * 4}") for n in range(11)]
    assert [batch.share for batch in sheet.read(None)][-1] == 1.0
