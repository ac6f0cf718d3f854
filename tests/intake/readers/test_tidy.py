"""A tidy file comes through as it stands, with nothing to tell of it."""

import polars as pl
import pytest
from intake.readers.reading import left_out, one, ragged, rows

from fleetlens.intake.readers import open_file

TIDY = 'job_id,vehicle_id,note\nJ1,V1,"a, b"\n\nJ2,V2,"say ""yes"""\nJ3,V3,"two\nlines"\nJ4,,\n'


def test_values_numbers_and_nothing_told(tmp_path):
    sheet = one(tmp_path, "jobs.csv", TIDY)
    assert sheet.columns == sheet.written == ("job_id", "vehicle_id", "note")
    assert rows(sheet) == [
        (2, "J1", "V1", "a, b"),
        (3, "J2", "V2", 'say "yes"'),
        (4, "J3", "V3", "two\nlines"),
        (5, "J4", "", ""),
    ]
    assert (sheet.part, sheet.name, sheet.header_row, sheet.hidden) == ("", "jobs.csv", 1, False)
    assert sheet.found == ("UTF-8", "',' between columns", "header in row 1")
    assert sheet.remarkable == sheet.left_out == ()


def test_only_the_columns_that_are_wanted_in_their_order(tmp_path):
    sheet = one(tmp_path, "jobs.csv", TIDY)
    (batch,) = sheet.read(("note", "job_id"))
    assert batch.rows.columns == ["row", "note", "job_id"]
    assert batch.share == 1.0


def test_a_sheet_can_be_read_twice_and_counts_once(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "id,km,note\nA,1,\n,,\nTotal,1,\n")
    assert left_out(sheet) == left_out(sheet) == {"blank row": 1, "total row": 1}


def test_rows_of_another_length_keep_their_place_and_text(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "a,b\n1,2\n3\n4,5\n6,7,8\n9,0\n")
    assert rows(sheet) == [(2, "1", "2"), (4, "4", "5"), (6, "9", "0")]
    assert [(row.row, row.values, row.header, row.text) for row in ragged(sheet)] == [
        (3, 1, 2, "3"),
        (5, 3, 2, "6,7,8"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "Total Logistics,V1,Total loss of power on the motorway\n",
        "Sum AG,V1,page 3 of the manual followed\n",
        "Printed Matter Ltd,V1,printed on demand\n",
        "Total,V1,2024-01-01\n",
        "Total,12,13\n",
        "do,V1,as above the axle\n",
    ],
)
def test_words_that_only_look_like_totals_footers_and_dittos_stay(tmp_path, text):
    sheet = one(tmp_path, "jobs.csv", f"customer,vehicle_id,note\nA,V0,x\n{text}")
    assert len(rows(sheet)) == 2
    assert sheet.told == sheet.found
    assert rows(sheet)[1][1:] == tuple(text.strip().split(","))


def test_a_header_of_numbers_and_rows_of_words_is_taken_as_it_is(tmp_path):
    sheet = one(tmp_path, "list.csv", "1,2\nred,blue\ngreen,grey\n")
    assert sheet.columns == ("1", "2")


def test_parquet_keeps_values_and_numbers(tmp_path):
    frame = pl.DataFrame({"id": ["A", None], "km": [1, 2], "on": [None, "x"], "x": [1.5, None]})
    frame.write_parquet(tmp_path / "jobs.parquet")
    (sheet,) = open_file(tmp_path / "jobs.parquet")
    assert rows(sheet) == [(2, "A", "1", None, "1.5"), (3, None, "2", "x", None)]
    assert sheet.told == ()
