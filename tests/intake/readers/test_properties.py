"""Any table in any dress reads back equal; any damaged file is read or refused, never worse."""

import csv
import io
import json
import random
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from intake.readers.books import ods, xls, xlsx
from intake.readers.reading import one, ragged, rows

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import open_file

SMALL = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
NAMES = ("job", "vehicle", "opened", "odometer", "text")
WORDS = ["egr cleaned", "Düse", "5 €", 'say "yes"', "a, b; c | d", "two\nlines", "tab\there", " x ", "P0401", "'", "–"]
CELLS = st.one_of(st.sampled_from(WORDS), st.text("abcXYZ äöüé,;|\"'\t0123456789.-", max_size=12))
MARKS = {'"', "''", '-"-', '- " -', '--"--'}
TABLES = st.lists(
    st.tuples(
        st.integers(0, 10**6).map("J{}".format),
        st.just("V1"),
        st.dates().map(str),
        st.integers(0, 10**6).map(str),
        CELLS,
    ),
    min_size=3,
    max_size=12,
)


@SMALL
@given(
    table=TABLES,
    between=st.sampled_from([",", ";", "\t", "|"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be"]),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    last=st.booleans(),
    titles=st.sampled_from([(), ("Job history",), ("Job history", "Depot North")]),
)
def test_any_dress(tmp_path, *, table, between, quoting, encoding, end, last, titles):
    buffer = io.StringIO()
    if end == "\r":  # Python's writer then leaves other ends of line in a cell without quotes
        quoting = csv.QUOTE_ALL
    writer = csv.writer(buffer, delimiter=between, quoting=quoting, lineterminator=end)
    writer.writerows([NAMES, *table])
    text = "".join(title + end for title in titles) + (buffer.getvalue() if last else buffer.getvalue()[: -len(end)])
    sheet = one(tmp_path, "jobs.csv", text.encode(encoding))
    assert sheet.columns == NAMES
    found = rows(sheet)
    # A cell that is nothing but a mark for "as above" is filled, and that is tested elsewhere.
    assert [row[1:] for row, ours in zip(found, table, strict=True) if ours[-1].strip() not in MARKS] == [
        row for row in table if row[-1].strip() not in MARKS
    ]
    assert ragged(sheet) == []
    first = len(titles) + 2
    assert [row[0] for row in found] == list(range(first, first + len(table)))


@SMALL
@given(table=TABLES, lines=st.booleans(), indent=st.sampled_from([None, 1]), ascii_only=st.booleans())
def test_any_json(tmp_path, table, lines, indent, ascii_only):
    records = [dict(zip(NAMES, row, strict=True)) for row in table]
    text = (
        "\n".join(json.dumps(record, ensure_ascii=ascii_only) for record in records)
        if lines
        else json.dumps(records, indent=indent, ensure_ascii=ascii_only)
    )
    assert [row[1:] for row in rows(one(tmp_path, "jobs.json", text))] == table


# One small file of each kind, damaged below.
BOOK = {
    "Jobs": [
        ("Title",),
        NAMES,
        *(("J1", "V1", "2024-01-01", n, "Düse \u2013 x") for n in range(6)),
        ("Total", None, None, 9),
    ],
    "Vehicles": [("id", "model"), ("V1", "Corvo")],
}
TEXT = (
    "Job history\n\njob;vehicle;km;text\n"
    + "".join(f'J{n};V1;{n};"a ""b""\n{n}, Düse"\n' for n in range(12))
    + "Total;;66;\n"
)


@pytest.fixture(scope="module")
def originals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("originals")
    xlsx(folder / "jobs.xlsx", BOOK, merges=["A3:A5"])
    xls(folder / "jobs.xls", BOOK)
    ods(folder / "jobs.ods", BOOK)
    (folder / "jobs.csv").write_text(TEXT, encoding="cp1252")
    (folder / "wide.csv").write_text(TEXT, encoding="utf-16")
    (folder / "jobs.json").write_text(json.dumps({"jobs": [{"a": n, "b": {"c": ["ü"]}} for n in range(20)]}), "utf-8")
    (folder / "jobs.ndjson").write_text('{"a": 1, "l": [{"b": 2}]}\n' * 20, encoding="utf-8")
    with zipfile.ZipFile(folder / "all.zip", "w", zipfile.ZIP_DEFLATED) as made:
        for name in ("jobs.csv", "jobs.json", "jobs.xlsx"):
            made.write(folder / name, name)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def damaged(content: bytes, chance: random.Random) -> bytes:
    """The content with bytes flipped, a piece cut out, its end missing, its lines shuffled, or junk put in."""
    found = bytearray(content)
    for _ in range(chance.choice([1, 1, 2, 8])):
        at = chance.randrange(len(found)) if found else 0
        match chance.choice(["flip", "flip", "cut", "end", "shuffle", "junk"]):
            case "flip" if found:
                found[at] ^= 1 << chance.randrange(8)
            case "cut":
                del found[at : at + chance.choice([1, 4, 100])]
            case "end":
                del found[at:]
            case "shuffle":
                lines = bytes(found).splitlines(keepends=True)
                chance.shuffle(lines)
                found = bytearray(b"".join(lines))
            case "junk":
                found[at:at] = chance.randbytes(chance.choice([1, 3, 50]))
    return bytes(found)


@pytest.mark.parametrize(
    ("name", "times"),
    [
        ("jobs.csv", 150),
        ("wide.csv", 80),
        ("jobs.json", 150),
        ("jobs.ndjson", 100),
        ("all.zip", 20),
        ("jobs.xlsx", 25),
        ("jobs.xls", 25),
        ("jobs.ods", 25),
    ],
)
def test_a_damaged_file_is_read_or_refused(tmp_path: Path, originals: dict[str, bytes], name: str, times: int) -> None:
    assert read_all_of(tmp_path / name, originals[name])
    chance = random.Random(name)
    for _ in range(times):
        read_all_of(tmp_path / name, damaged(originals[name], chance))


@pytest.mark.parametrize("name", ["jobs.xlsx", "jobs.ods"])
def test_a_workbook_with_damaged_markup(tmp_path: Path, originals: dict[str, bytes], name: str) -> None:
    """Packed anew, so that the damage isn't found by the checksum of the archive."""
    chance = random.Random(name)
    (tmp_path / "whole").write_bytes(originals[name])
    with zipfile.ZipFile(tmp_path / "whole") as archive:
        members = {member: archive.read(member) for member in archive.namelist()}
    for _ in range(20):
        victim = chance.choice(
            [
                member
                for member in members
                if member.endswith(("sheet1.xml", "workbook.xml", "content.xml", "sharedStrings.xml"))
            ]
        )
        path = tmp_path / name
        with zipfile.ZipFile(path, "w") as archive:
            for member, content in members.items():
                archive.writestr(member, damaged(content, chance) if member == victim else content)
        read_all_of(path)


def read_all_of(path: Path, content: bytes | None = None) -> bool:
    """Whether the file was read; it may be refused, in words."""
    if content is not None:
        path.write_bytes(content)
    try:
        sheets = open_file(path)
        assert sheets
        for sheet in sheets:
            for batch in sheet.read(None):
                assert set(batch.rows.columns) == {"row", *sheet.columns}
            assert all(sheet.told)
            assert len(set(sheet.columns)) == len(sheet.columns)
    except FleetlensError as fault:
        return not fault.do
    return True
