"""Files that can't be read at all: one clear message each, all faults together, the store as it was."""

from pathlib import Path

import polars as pl
import pytest
from intake.small import JOBS, VEHICLES, counts

from fleetlens.errors import FleetlensError
from fleetlens.intake.load import load
from fleetlens.intake.readers import delimited
from fleetlens.store import snapshots


def message(paths: list[Path], store: Path) -> str:
    """What the load says; it must leave no store behind."""
    with pytest.raises(FleetlensError) as caught:
        load(paths, store)
    assert not store.exists()
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        (
            "jobs.csv",
            "job_id,vehicle_id,opened\nJ1,V1,2024-01-01\n",
            "the column 'opened_at' is missing, and jobs can't be read without it\n"
            "  at: {file}, row 1\n"
            "  try: rename 'opened' to 'opened_at', or suggest a map for other names: fleetlens map FILE",
        ),
        (
            "jobs.csv",
            "job_id,opened_at\nJ1,2024-01-01\n",
            "the column 'vehicle_id' is missing, and jobs can't be read without it\n"
            "  at: {file}, row 1\n"
            "  try: add a column 'vehicle_id', or suggest a map for other names: fleetlens map FILE",
        ),
        (
            "jobs.csv",
            "job_id;vehicle_id;opened\nJ1;V1;2024-01-01\n",
            "the column 'opened_at' is missing, and jobs can't be read without it\n"
            "  at: {file}, row 1\n"
            "  try: rename 'opened' to 'opened_at', or suggest a map for other names: fleetlens map FILE",
        ),
        (
            "vehicles.csv",
            "vehicle_id,Model,model\nV1,A,B\n",
            "the column 'model' is there twice\n  at: {file}, row 1\n  try: keep one of them, or rename the other",
        ),
        (
            "vehicles.csv",
            "",
            "this file is empty\n  at: {file}\n  try: save it again, with a header row, or leave it out",
        ),
        (
            "vehicles.csv",
            "\n\n",
            "this file is empty\n  at: {file}\n  try: save it again, with a header row, or leave it out",
        ),
        (
            "prices.csv",
            "part,price\nx,1\n",
            "this file fits no table by its name or its columns ('part', 'price'), and no map is remembered for it\n"
            "  at: {file}\n"
            "  try: suggest a map: fleetlens map {file} --out map.toml; then load with --map map.toml",
        ),
        (
            "list.csv",
            "vehicle_id,model,component\nV1,Pinta,egr_valve\n",
            "this file fits several tables: vehicles, fitted\n"
            "  at: {file}\n"
            "  try: name it after its table, such as jobs.csv or jobs-2024.csv; the tables are "
            "vehicles, fitted, jobs, job_codes, job_actions, job_checks, odometer",
        ),
        (
            "jobs.xlsx",
            "PK",
            "this is no XLSX file that can be read: it is damaged\n"
            "  at: {file}\n"
            "  try: copy it again, or save it again as XLSX or CSV",
        ),
        (
            "jobs.docx",
            "PK",
            "a file of this kind can't be loaded: .docx\n"
            "  at: {file}\n"
            "  try: save it as CSV (UTF-8, commas) or as Parquet",
        ),
        (
            "jobs",
            "job_id",
            "a file of this kind can't be loaded: no ending\n"
            "  at: {file}\n"
            "  try: save it as CSV (UTF-8, commas) or as Parquet",
        ),
        (
            "vehicles.csv",
            'vehicle_id,model\nV1,"open\nV2,B\nV3,C\n',
            "a quotation mark is opened and never closed: all that follows would be one value\n"
            "  at: {file}\n"
            "  try: look for a quotation mark too many or too few",
        ),
        (
            "vehicles.csv",
            'vehicle_id,model,make\nV1,"open,x\nV2,B,y\nV3,C,z\n',
            "a quotation mark is opened and never closed: all that follows would be one value\n"
            "  at: {file}\n"
            "  try: look for a quotation mark too many or too few",
        ),
    ],
)
def test_the_whole_message(tmp_path, store, name, text, told):
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    assert message([file], store) == told.format(file=file)


def test_another_encoding(tmp_path, store, ask):
    file = tmp_path / "vehicles.csv"
    file.write_bytes("vehicle_id,depot\nV1,a\nV2,Köln\n".encode("latin-1"))
    report = load([file], store)
    assert counts(report) == (2, 2, 0, 0, 0)
    assert report.notes == ("vehicles.csv: Latin-1",)
    assert ask("select depot from vehicles where vehicle_id = 'V2'") == [("Köln",)]


def test_a_file_that_is_cut_off_in_the_middle_of_a_character(tmp_path, store):
    file = tmp_path / "vehicles.csv"
    file.write_bytes("vehicle_id,depot\nV1,Kö".encode()[:-1])
    assert message([file], store) == (
        f"this file ends in the middle of a character\n  at: {file}, line 2\n"
        "  try: copy or save it again: it was cut off"
    )


def test_the_mark_at_the_beginning_of_a_file_is_no_part_of_a_name(tmp_path, store):
    file = tmp_path / "vehicles.csv"
    file.write_bytes("\ufeffvehicle_id,depot\r\nV1,Köln\r\n".encode())
    assert counts(load([file], store)) == (1, 1, 0, 0, 0)


@pytest.mark.parametrize("content", [b"\0\1\2vehicle_id\0\0\0\0\0\0\n", b"\x7fELF\0\0\0"])
def test_a_file_that_is_no_text(tmp_path, store, content):
    file = tmp_path / "vehicles.csv"
    file.write_bytes(content)
    assert message([file], store) == (
        f"this is not a text file\n  at: {file}\n  try: save it as CSV (UTF-8, commas) or as Parquet"
    )


@pytest.mark.parametrize("content", [b"vehicle_id,model\nV1,\0\n", "vehicle_id,model\nV1,\n".encode("utf-16")])
def test_zero_bytes_of_a_text_do_no_harm(tmp_path, store, content):
    file = tmp_path / "vehicles.csv"
    file.write_bytes(content)
    report = load([file], store)
    assert counts(report) == (1, 1, 0, 0, 0)
    assert report.notes in (("vehicles.csv: 1 zero byte dropped",), ("vehicles.csv: UTF-16",))


def test_a_file_that_is_no_parquet(tmp_path, store):
    file = tmp_path / "vehicles.parquet"
    file.write_bytes(b"vehicle_id\nV1\n")
    told = message([file], store)
    assert told.startswith("this is no Parquet file that can be read: ")
    assert told.endswith(f"\n  at: {file}\n  try: save it again as Parquet")


def test_a_parquet_column_that_is_no_value(tmp_path, store):
    file = tmp_path / "vehicles.parquet"
    pl.DataFrame({"vehicle_id": ["V1"], "model": [["A", "B"]]}).write_parquet(file)
    assert message([file], store) == (
        "the column 'model' can't be read as text, number or date\n"
        f"  at: {file}\n"
        "  try: write it as text, number, true or false, or date"
    )


def test_a_row_longer_than_a_block_points_at_the_quotation_marks(tmp_path, store, monkeypatch):
    monkeypatch.setattr(delimited, "_BLOCK", 1 << 20)
    file = tmp_path / "vehicles.csv"
    file.write_text('vehicle_id,model\nV1,"open\n' + "V2,B\n" * 600_000, encoding="utf-8")
    assert message([file], store) == (
        "a row of this file is longer than 1 MB: most likely a quotation mark is never closed\n"
        f"  at: {file}\n"
        "  try: look for a quotation mark too many or too few"
    )


def test_no_path_no_file_no_table(tmp_path, store):
    assert message([], store) == "no file was named\n  try: name the files or folders to load"
    nowhere = tmp_path / "nowhere"
    assert message([nowhere], store) == f"there is no such file or folder\n  at: {nowhere}\n  try: check the path"
    empty = tmp_path / "empty"
    empty.mkdir()
    (empty / "README.md").write_text("none", encoding="utf-8")
    assert message([empty], store) == (
        "this folder holds no table\n"
        f"  at: {empty}\n"
        "  try: name a folder with CSV, JSON, Parquet or workbook files of these tables: "
        "vehicles, fitted, jobs, job_codes, job_actions, job_checks, odometer"
    )


def test_the_faults_of_all_files_come_together(write, store):
    folder = write({"vehicles.csv": VEHICLES, "jobs.csv": "job_id,vehicle_id\n", "odometer.csv": ""})
    assert message([folder], store) == (
        "2 files can't be read; nothing was loaded\n"
        "1. the column 'opened_at' is missing, and jobs can't be read without it\n"
        f"  at: {folder / 'jobs.csv'}, row 1\n"
        "  try: add a column 'opened_at', or suggest a map for other names: fleetlens map FILE\n"
        "2. this file is empty\n"
        f"  at: {folder / 'odometer.csv'}\n"
        "  try: save it again, with a header row, or leave it out"
    )


def test_a_fault_leaves_a_store_as_it_was(write, fleet):
    before = {entry.name: entry.read_bytes() for entry in fleet.iterdir()}
    with pytest.raises(FleetlensError):
        load([write({"jobs.csv": JOBS, "vehicles.csv": ""}, "second")], fleet)
    assert {entry.name: entry.read_bytes() for entry in fleet.iterdir()} == before


def test_a_file_that_changes_while_it_is_read(write, store):
    folder = write({"vehicles.csv": VEHICLES, "jobs.csv": JOBS})

    def meddle(what: str, share: float) -> None:
        if what == "loading jobs.csv" and share < 1:
            (folder / "jobs.csv").write_text(JOBS + "\n", encoding="utf-8")

    with pytest.raises(FleetlensError) as caught:
        load([folder], store, progress=meddle)
    assert str(caught.value) == (
        f"this file changed while it was being read\n  at: {folder / 'jobs.csv'}\n"
        "  try: load it again when it is complete"
    )
    assert not store.exists()


def test_a_store_that_is_a_file(write, store):
    store.write_text("mine", encoding="utf-8")
    with pytest.raises(FleetlensError) as caught:
        load([write({"vehicles.csv": VEHICLES})], store)
    assert str(caught.value) == (
        f"a store is a folder, and this is a file\n  at: {store}\n  try: name a folder, or one that isn't there yet"
    )
    assert store.read_text(encoding="utf-8") == "mine"


def test_a_file_that_may_not_be_read(write, store, monkeypatch):
    folder = write({"vehicles.csv": VEHICLES})

    def refuse(path: Path, *_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "open", refuse)
    assert message([folder], store) == (
        f"this file can't be opened: Permission denied\n  at: {folder / 'vehicles.csv'}\n"
        "  try: check that you may read it, and that no other program holds it"
    )


@pytest.mark.parametrize("step", ["_sync", "_prove", "start"])
def test_a_disk_that_is_full(write, fleet, monkeypatch, step):
    before = {entry.name: entry.read_bytes() for entry in fleet.iterdir()}

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(snapshots, step, refuse)
    with pytest.raises(FleetlensError) as caught:
        load([write({"jobs.csv": JOBS.replace("10000", "11000")}, "second")], fleet)
    assert str(caught.value) == (
        f"the store can't be written: [Errno 28] No space left on device\n  at: {fleet}\n"
        "  try: check the room on the disk and the rights of the folder, and load again: the store is as it was"
    )
    assert {entry.name: entry.read_bytes() for entry in fleet.iterdir()} == before


def test_only_a_header_is_no_fault(write, store):
    report = load([write({"vehicles.csv": "vehicle_id", "jobs.csv": JOBS})], store)
    assert report.files[0].rows_in == 0
    assert report.notes == ("vehicles.csv: only a header, no rows",)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_end_of_line(tmp_path, store, end):
    (tmp_path / "vehicles.csv").write_bytes(VEHICLES.replace("    ", "").strip().replace("\n", end).encode())
    assert counts(load([tmp_path / "vehicles.csv"], store)) == (2, 2, 0, 0, 0)


def test_columns_without_a_name_are_left_aside(write, store):
    """Spreadsheets write them where something once stood to the right of the table."""
    report = load([write({"vehicles.csv": "vehicle_id,,\nV1,,\nV2,x,\n"})], store)
    assert counts(report) == (2, 2, 0, 0, 0)
    assert set(report.notes) == {"vehicles.csv: column without a name isn't in table vehicles: left aside"}


def test_a_mark_inside_a_value_is_no_open_quotation(write, store, ask):
    report = load([write({"vehicles.csv": 'vehicle_id,model\nV1,5" hose\nV2,"two ""words"""\n'})], store)
    assert counts(report) == (2, 2, 0, 0, 0)
    assert ask("select model from vehicles order by vehicle_id") == [('5" hose',), ('two "words"',)]


def test_nothing_but_refused_rows_publishes_nothing(write, store):
    report = load([write({"jobs.csv": JOBS})], store)
    assert counts(report) == (3, 0, 0, 3, 0)
    assert (report.snapshot, report.published) == (None, False)
    assert report.refusals.height == 3
    assert not store.exists()
