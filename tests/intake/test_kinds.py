"""Loads of files of every kind: the same rows, whatever they come in."""

import gzip
import json
import zipfile
from datetime import date, datetime

import polars as pl
import pytest
from intake.readers.books import ods, xls, xlsx
from intake.small import counts

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load

VEHICLES = [
    ("vehicle_id", "model", "in_service_on"),
    ("V1", "Corvo 3", date(2020, 1, 5)),
    ("V2", "Pinta", date(2021, 3, 1)),
]
JOBS = [
    ("job_id", "vehicle_id", "opened_at", "odometer", "reason"),
    ("J1", "V1", datetime(2021, 5, 1, 8, 30), 10000, "breakdown"),
    ("J2", "V2", datetime(2022, 5, 1), 20000, "scheduled"),
]
WANTED = [("J1", "V1", datetime(2021, 5, 1, 8, 30), 10000.0), ("J2", "V2", datetime(2022, 5, 1), 20000.0)]
QUERY = "select job_id, vehicle_id, opened_at, odometer_km from jobs join vehicles using (vehicle_key) order by job_id"


def as_csv(cells, between=","):
    return "".join(between.join(str(cell) for cell in row) + "\n" for row in cells)


def as_records(cells):
    return [dict(zip(cells[0], map(str, row), strict=True)) for row in cells[1:]]


def texts(folder, ending, write):
    for name, cells in (("vehicles", VEHICLES), ("jobs", JOBS)):
        (folder / f"{name}{ending}").write_bytes(write(cells))
    return folder


def book(write, ending):
    return lambda folder: write(folder / f"export{ending}", {"Vehicles": VEHICLES, "Jobs": JOBS})


def zipped(folder):
    with zipfile.ZipFile(folder / "export.zip", "w") as archive:
        archive.writestr("2022/vehicles.csv", as_csv(VEHICLES, ";"))
        archive.writestr("2022/jobs.json", json.dumps({"jobs": as_records(JOBS)}))
    return folder / "export.zip"


def in_one_object(folder):
    path = folder / "export.json"
    path.write_text(json.dumps({"vehicles": as_records(VEHICLES), "jobs": as_records(JOBS)}), encoding="utf-8")
    return path


def by_columns(folder):
    """No name tells the table; the columns do."""
    for name, cells in (("a", VEHICLES), ("b", JOBS)):
        (folder / f"{name}.tsv").write_text(as_csv(cells, "\t"), encoding="utf-16")
    return folder


@pytest.mark.parametrize(
    "make",
    [
        pytest.param(lambda folder: texts(folder, ".csv", lambda cells: as_csv(cells).encode()), id="csv"),
        pytest.param(
            lambda folder: texts(folder, ".csv", lambda cells: as_csv(cells, ";").encode("utf-16")), id="utf-16"
        ),
        pytest.param(lambda folder: texts(folder, ".csv.gz", lambda c: gzip.compress(as_csv(c).encode())), id="csv.gz"),
        pytest.param(lambda folder: texts(folder, ".json", lambda c: json.dumps(as_records(c)).encode()), id="json"),
        pytest.param(
            lambda folder: texts(folder, ".ndjson", lambda c: "\n".join(map(json.dumps, as_records(c))).encode()),
            id="ndjson",
        ),
        pytest.param(book(xlsx, ".xlsx"), id="xlsx"),
        pytest.param(book(xls, ".xls"), id="xls"),
        pytest.param(book(ods, ".ods"), id="ods"),
        pytest.param(zipped, id="zip"),
        pytest.param(in_one_object, id="one-object"),
        pytest.param(by_columns, id="by-columns"),
    ],
)
def test_the_same_rows_in_every_kind(tmp_path, store, ask, make):
    folder = tmp_path / "in"
    folder.mkdir()
    report = load([make(folder)], store)
    assert counts(report) == (4, 4, 0, 0, 0)
    assert ask(QUERY) == WANTED
    assert [file.table for file in report.files] == ["vehicles", "jobs"]
    again = load([make(folder)], store)
    assert (again.accepted, again.repeated, again.refused) == (0, 4, 0)


def test_what_was_found_is_told_after_the_load(tmp_path, store):
    text = (
        "Vehicles of depot North\nvehicle_id;model;depot\nV1;Corvo;Köln\nV2;Pinta;do.\nTotal;2;\nprinted on 3 March\n"
    )
    (tmp_path / "vehicles.csv").write_bytes(text.encode("cp1252"))
    report = load([tmp_path / "vehicles.csv"], store)
    assert counts(report) == (2, 2, 0, 0, 0)
    assert report.notes == (
        "vehicles.csv: Latin-1, ';' between columns, header in row 2, 1 title row left out, 1 total row left out, "
        "1 ditto cell filled, 1 footer left out",
    )


def test_sheets_that_hold_no_table_and_hidden_ones_are_named(tmp_path, store):
    path = xlsx(tmp_path / "export.xlsx", {"Vehicles": VEHICLES, "Notes": [("hello",)], "Jobs": JOBS})
    notes = load([path], store).notes
    assert "export.xlsx [Notes]: fits no table, by its name or its columns: left aside" in notes


def test_a_refused_row_names_its_sheet_and_its_own_number(tmp_path, store):
    sheets = {"Vehicles": VEHICLES, "Jobs": [("Title",), (), *JOBS, ("J3", "V9", "2022-01-01", 1, "defect")]}
    report = load([xlsx(tmp_path / "export.xlsx", sheets)], store)
    (refused,) = report.refusals.to_dicts()
    assert (refused["path"], refused["row"], refused["value"]) == (f"{tmp_path / 'export.xlsx'} [Jobs]", 6, "V9")


def test_two_sheets_of_one_table_balance_each_by_itself(tmp_path, store):
    sheets = {"vehicles": VEHICLES, "jobs 2021": JOBS[:2], "jobs 2022": [JOBS[0], *JOBS[1:]]}
    report = load([xlsx(tmp_path / "export.xlsx", sheets)], store)
    assert [(file.rows_in, file.accepted, file.repeated) for file in report.files] == [(2, 2, 0), (1, 1, 0), (2, 1, 1)]
    assert load([tmp_path / "export.xlsx"], store).repeated == 5


def test_64_an_archive_of_the_same_name_with_other_content(tmp_path, store):
    """The content decides, not the name."""
    path = tmp_path / "export.zip"
    for model, wanted in (("Corvo", (1, 0)), ("Corvo", (0, 1)), ("Pinta", (1, 0))):
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("vehicles.csv", f"vehicle_id,model\nV1,{model}\n")
        report = load([path], store)
        assert (report.accepted, report.repeated) == wanted


def test_a_workbook_without_a_table(tmp_path, store):
    with pytest.raises(FleetlensError, match="fits a table"):
        load([xlsx(tmp_path / "export.xlsx", {"Notes": [("hello",)], "More": [("hello",)]})], store)


def test_parquet_of_typed_columns(tmp_path, store, ask):
    for name, cells in (("vehicles", VEHICLES), ("jobs", JOBS)):
        pl.DataFrame(list(cells[1:]), schema=list(cells[0]), orient="row").write_parquet(tmp_path / f"{name}.parquet")
    load([tmp_path / "vehicles.parquet", tmp_path / "jobs.parquet"], store)
    assert ask(QUERY) == WANTED
