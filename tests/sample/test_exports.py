"""The invented exports: the same bytes each time, in the mess that their READMEs promise."""

import csv
import io
import json
import re
from collections import Counter
from datetime import datetime
from pathlib import Path
from zipfile import ZipFile
from zoneinfo import ZoneInfo

import openpyxl
import polars as pl
import pytest

from fleetlens import places
from fleetlens.sample.exports import german, monthly, office, shorthand, system_dump, two_depots, write_exports
from fleetlens.sample.exports.histories import histories, jobs
from fleetlens.sample.exports.make import EXPORTS
from fleetlens.vocabulary.codes import normalise

BY_HAND = {"README.md"}  # and the maps


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exports")
    write_exports(folder)
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    found = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in found
        if path.name not in BY_HAND and path.suffix != ".toml"
    }


def test_two_runs_give_the_same_bytes(made: Path, tmp_path: Path) -> None:
    write_exports(tmp_path)
    assert contents(tmp_path) == contents(made)


def test_the_committed_exports_are_what_the_generator_writes(made: Path) -> None:
    committed = places.folder("sample_fleet") / "exports"
    assert contents(committed) == contents(made)
    assert all((committed / name / "README.md").exists() for name in EXPORTS)
    assert sum(map(len, contents(committed).values())) < 3_000_000


def test_the_histories_are_the_first_of_the_sample() -> None:
    for name, frame in histories().items():
        there = (places.folder("sample_fleet") / f"{name}.csv").read_text(encoding="utf-8")
        here = frame.write_csv(float_precision=2, datetime_format="%Y-%m-%dT%H:%M:%S")
        assert there.startswith(here), name


@pytest.mark.parametrize(
    ("words", "column"),
    [
        *((words, "reason") for words in (german.REASONS, office.REASONS, system_dump.REASONS)),
        *((words, "action") for words in (german.ACTIONS, office.ACTIONS, system_dump.ACTIONS)),
        (german.COMPONENTS, "component"),
        (german.CAUSES, "cause"),
        (german.NOTES, "note"),
    ],
)
def test_each_word_stands_for_one_thing(words: dict[str, str], column: str) -> None:
    table = "jobs" if column == "reason" else "job_actions"
    used = set(histories()[table][column].drop_nulls())
    assert used <= set(words)
    assert len(set(words.values())) == len(words)


def wide(made: Path) -> list[list[str]]:
    text = (made / "wide_semicolon" / "Auftragsliste.csv").read_bytes().decode("cp1252")
    assert text.startswith("sep=;\r\n")
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=";"))


def test_the_wide_list_is_as_messy_as_promised(made: Path) -> None:
    rows = wide(made)
    raw = (made / "wide_semicolon" / "Auftragsliste.csv").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        raw.decode("utf-8")
    assert b"\x80" in raw  # the euro sign of cp1252
    assert b"\xfc" in raw  # u umlaut
    header = rows[3]
    leads = Counter(row[0] for row in rows if row)
    sums = sum(count for lead, count in leads.items() if lead.startswith("Summe "))
    assert leads["Auftrag-Nr."] == leads["Auftragsliste Fuhrpark Osmere – Stand 30.06.2026"] > 40
    assert sums == histories()["jobs"]["opened_at"].dt.truncate("1mo").n_unique()
    assert rows[-1][0].startswith("Gedruckt am")
    firsts = [row for row in rows if row and re.match(r"J\d", row[0])]
    others = [row for row in rows if len(row) == len(header) and not row[0]]
    assert len(firsts) == histories()["jobs"].height
    assert len(firsts) + len(others) == histories()["job_actions"].height
    assert all(not any(row[:12]) for row in others)
    assert {row[6] for row in firsts} == {"km", "mi", ""}
    assert any(re.fullmatch(r"\d{2,3}\.\d{3}", row[5]) for row in firsts)
    assert any(re.fullmatch(r"\d+,\d{2} €", row[22]) for row in others)
    cells = [row[11] for row in firsts]
    for sign in (", ", " / ", "; ", "\n"):
        assert any(sign in cell for cell in cells), sign
    for spelling in (r"p\d", r"P \d", r"P-\d", r"PO\d", r"DTC:P", r"^P\d{4}$"):
        assert any(re.search(spelling, cell) for cell in cells), spelling


def test_the_sums_are_right(made: Path) -> None:
    total, seen = 0.0, 0
    for row in wide(made)[4:]:
        if row[0].startswith("Summe"):
            assert row[21] == f"{total:,.2f}".translate(str.maketrans(",.", ".,"))
            total, seen = 0.0, seen + 1
        elif len(row) > 21 and row[21] not in ("", "Lohn €"):
            total = round(total + float(row[21].replace(".", "").replace(",", ".")), 2)
    assert seen > 60


def test_the_workbook_is_as_messy_as_promised(made: Path) -> None:
    place = made / "workbook" / "Fleet book.xlsx"
    book = openpyxl.load_workbook(place)
    assert book.sheetnames == ["Vans", "Visits", "Checks", "Clock readings", "Fitted", "Lists"]
    assert book["Lists"].sheet_state == "hidden"
    visits = book["Visits"]
    merged = {str(area) for area in visits.merged_cells.ranges}
    assert any(area.startswith("A1:") for area in merged)
    several = histories()["job_actions"].group_by("job_id").len().filter(pl.col("len") > 1).height
    assert len([area for area in merged if re.fullmatch(r"A\d+:A\d+", area)]) == several
    assert (visits["A4"].value, visits["A5"].value, visits["C5"].value) == ("Visit", "No", "Date in")
    last = visits.max_row
    assert visits.cell(last, 1).value == "Total"
    formulas = [cell.value for cell in visits[last] if isinstance(cell.value, str) and cell.value.startswith("=")]
    assert len(formulas) == 3
    assert isinstance(book["Clock readings"]["B2"].value, datetime)
    models = {cell.value for cell in book["Vans"]["E"][3:]}
    assert any(name.endswith(" VAN") for name in models)
    assert len(models) > histories()["vehicles"]["model"].n_unique()
    assert book["Visits"].max_row == histories()["job_actions"].height + 6
    with ZipFile(place) as archive:
        assert {entry.date_time[0] for entry in archive.infolist()} == {1980}  # no clock of the machine


def test_the_dump_tells_the_same_histories(made: Path) -> None:
    folder = made / "system_dump"
    tickets = [json.loads(line) for line in (folder / "tickets.ndjson").read_text().splitlines()]
    assert len(tickets) == histories()["jobs"].height
    assert {ticket["bay"]["in"][-6:] for ticket in tickets} == {"+00:00", "+01:00"}
    zone = ZoneInfo("Europe/London")
    told = {ticket["ticket"]: ticket["bay"] for ticket in tickets}
    for job in histories()["jobs"].iter_rows(named=True):
        for name, key in (("opened_at", "in"), ("closed_at", "out")):
            at = told[job["job_id"]][key]
            instant = datetime.fromisoformat(at).astimezone(zone).replace(tzinfo=None) if at else None
            assert instant == job[name]
    faults = [fault for ticket in tickets for fault in ticket["faults"]]
    found = [normalise(fault["fc"]) for fault in faults]
    assert len(faults) == histories()["job_codes"].height
    assert all(found)
    assert {code.failure_type for code in found if code} == {None, "00", "11", "15", "64", "72"}
    operations = [operation for ticket in tickets for operation in ticket["ops"]]
    assert all(isinstance(operation["seq"], str) for operation in operations)
    assert {operation["billable"] for operation in operations} == {True, False}


def test_the_words_name_every_code_and_every_part() -> None:
    for number, (_, codes, lines) in enumerate(jobs(histories())):
        told = "\n".join(shorthand.written(number, codes, lines))
        assert all(code in told for code in codes)
        for line in lines:
            if line["component"] != "vehicle":
                assert any(name in told for name in shorthand.PARTS[line["component"]]), (told, line)


def test_the_words_are_varied_and_full_of_traps(made: Path) -> None:
    frame = pl.read_csv(made / "text_only" / "job lines.csv", infer_schema=False).fill_null("")
    rows = frame.rows(named=True)
    texts = [row["What we did"] for row in rows]
    assert set(rows[0]) == {"Card", "Van", "Day", "Clock", "Why in", "Line", "What we did"}
    for trap in ("inv P2002", "declined", "did not replace", "no P0401 now", "quoted", "adv ", "o/n 40417"):
        assert any(trap in text for text in texts), trap
    assert len(set(texts)) > 500
    assert {row["Clock"][-3:] for row in rows} == {" km", " mi", ""}


def test_the_later_report_corrects_the_earlier_one(made: Path) -> None:
    earlier, later = (
        pl.read_csv(made / "monthly" / f"2026-{month} report.csv", infer_schema=False).filter(
            pl.col("In").str.starts_with("2026-05")
        )
        for month in ("05", "06")
    )
    found = monthly.corrections(histories())
    both = earlier.join(later, on=earlier.columns, how="inner", nulls_equal=True)
    changed = earlier.join(both, on=earlier.columns, how="anti", nulls_equal=True)
    assert set(changed["Card no"]) == {found.mistyped, f"{found.misplaced}X"}
    assert later.filter(pl.col("Card no") == f"{found.misplaced}X").is_empty()
    assert later.height == both.height + later.filter(pl.col("Card no") == found.mistyped).height
    cards = set(later["Card no"])
    assert {f"{found.credited}C", f"{found.doubled}B", f"{found.supplemented}S"} <= cards
    assert later.filter(pl.col("Done") == "Credit")["Qty"].to_list() == ["-1"]
    assert len({found.mistyped, found.misplaced, found.credited, found.doubled, found.supplemented}) == 5
    true = monthly.true(histories())["jobs"]["job_id"]
    assert set(true) <= set(pl.read_csv(made / "monthly" / "2026-05 report.csv")["Card no"]) | set(
        pl.read_csv(made / "monthly" / "2026-06 report.csv")["Card no"]
    )


def test_the_depots_write_dates_and_marks_in_their_own_way(made: Path) -> None:
    lists = [
        pl.read_csv(made / "two_depots" / f"{name}.csv", separator="\t", infer_schema=False)
        for name in ("north", "south")
    ]
    first = [frame["Came"].str.slice(0, 2).cast(pl.Int64).max() for frame in lists]
    second = [frame["Came"].str.slice(3, 2).cast(pl.Int64).max() for frame in lists]
    assert (first, second) == ([31, 12], [12, 31])
    rows = pl.concat(lists)
    assert rows.height == histories()["job_actions"].height
    marks = rows["Plate"]
    assert marks.str.contains("^ov").any()
    assert marks.str.contains("-").any()
    assert marks.str.starts_with(" ").any()
    mistaken = rows.filter(pl.col("Plate").str.contains("OV1O"))["Ticket"].unique()
    assert set(mistaken) == set(two_depots.swapped(histories()))
    assert 5 <= len(mistaken) <= 40
