"""Packed files: what is in them, and what of them is refused."""

import gzip
import json
import zipfile

import polars as pl
import pytest
from intake.readers.books import replace_in, xls, xlsx
from intake.readers.reading import one, refusal, rows

from fleetlens.intake.readers import archive, content, open_file, workbook

CSV = "job;km\nJ1;5\n"
BOOK = {"Jobs": [("job", "km"), ("J1", 5)]}
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def zipped(path, members):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, text in members.items():
            made.writestr(name, text)
    return path


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("jobs.csv", CSV),
        ("jobs.tsv", "job\tkm\nJ1\t5\n"),
        ("jobs.ndjson", '{"job": "J1", "km": 5}'),
        ("jobs.json", '[{"job": "J1", "km": 5}]'),
    ],
)
def test_gzip(tmp_path, name, text):
    sheet = one(tmp_path, f"{name}.gz", gzip.compress(text.encode()))
    assert [row[1:] for row in rows(sheet)] == [("J1", "5")]
    assert (sheet.name, sheet.label) == (f"{name}.gz", "jobs")


def test_gzip_of_parquet_and_of_a_workbook(tmp_path):
    pl.DataFrame({"job": ["J1"], "km": [5]}).write_parquet(tmp_path / "a")
    xlsx(tmp_path / "b", BOOK)
    for name, packed in (("jobs.parquet.gz", "a"), ("jobs.xlsx.gz", "b")):
        sheet = one(tmp_path, name, gzip.compress((tmp_path / packed).read_bytes()))
        assert [row[1:] for row in rows(sheet)] == [("J1", "5")]


def test_zip_of_all_kinds(tmp_path):
    pl.DataFrame({"job": ["J1"], "km": [5]}).write_parquet(tmp_path / "a")
    xlsx(tmp_path / "b", BOOK)
    members = {
        "export/jobs.csv": CSV,
        "export/": "",
        "fitted.json": json.dumps({"fitted": [{"job": "J1", "km": 5}], "more": [{"job": "J1", "km": 5}]}),
        "codes.parquet": (tmp_path / "a").read_bytes(),
        "book.xlsx": (tmp_path / "b").read_bytes(),
        "read me.pdf": b"%PDF",
        "__MACOSX/._jobs.csv": b"\0\1",
    }
    found = open_file(zipped(tmp_path / "all.zip", members))
    assert {sheet.part: sheet.label for sheet in found} == {
        "book.xlsx Jobs": "Jobs",
        "codes.parquet": "codes",
        "export/jobs.csv": "jobs",
        "fitted.json fitted": "fitted",
        "fitted.json more": "more",
    }
    assert all(row[1:] == ("J1", "5") for sheet in found for row in rows(sheet))
    assert "left aside in the archive: read me.pdf" in found[0].told
    assert found[2].name == "all.zip [export: jobs.csv]"


def test_an_archive_in_an_archive(tmp_path):
    inner = zipped(tmp_path / "inner.zip", {"jobs.csv": CSV}).read_bytes()
    for name in ("inner.zip", "jobs.csv"):
        assert refusal(zipped(tmp_path / "outer.zip", {name: inner})) == "this archive is inside another one"
    assert (
        refusal(zipped(tmp_path / "o.zip", {"a.csv.gz": gzip.compress(b"a")})) == "this archive is inside another one"
    )
    path = tmp_path / "inner.csv.gz"
    path.write_bytes(gzip.compress(inner))
    assert refusal(path) == "this archive is inside another one"


@pytest.mark.parametrize(
    "name",
    ["../jobs.csv", "/etc/jobs.csv", "a/../../jobs.csv", "C:/jobs.csv", "..\\jobs.csv", "\\\\host\\share\\jobs.csv"],
)
def test_a_place_outside_of_the_archive(tmp_path, name):
    assert "names a place outside of itself" in refusal(zipped(tmp_path / "x.zip", {name: CSV}))


def test_nothing_that_can_be_read(tmp_path):
    assert refusal(zipped(tmp_path / "x.zip", {"a.exe": "x"})) == "this archive holds no file that can be read"
    zipped(tmp_path / "y.zip", {})
    assert "damaged" in refusal(tmp_path / "y.zip") or "no file" in refusal(tmp_path / "y.zip")


def test_too_many_members(tmp_path, monkeypatch):
    monkeypatch.setattr(archive, "_MEMBERS", 3)
    assert "more than 3 files" in refusal(zipped(tmp_path / "x.zip", {f"{n}.csv": CSV for n in range(4)}))


@pytest.mark.parametrize("kind", ["zip", "gz"])
def test_a_bomb(tmp_path, monkeypatch, kind):
    """A hundred times smaller than real ones, with bounds that are as much smaller."""
    monkeypatch.setattr(archive, "_ALWAYS", 1 << 18)
    monkeypatch.setattr(content, "_ALWAYS", 1 << 18)
    text = b"job,km\n" + b"J1,5\n" * 400_000
    path = tmp_path / f"jobs.csv.{kind}"
    if kind == "zip":
        zipped(path, {"jobs.csv": text})
    else:
        path.write_bytes(gzip.compress(text, 9))
    assert "unpacks to" in refusal(path)


def test_a_bomb_that_lies_about_its_size(tmp_path, monkeypatch):
    monkeypatch.setattr(content, "_ALWAYS", 1 << 18)
    path = zipped(tmp_path / "x.zip", {"jobs.csv": b"J1,5\n" * 400_000})
    size = (2_000_000).to_bytes(4, "little")
    path.write_bytes(path.read_bytes().replace(size, (2_000).to_bytes(4, "little")))
    assert refusal(path)


def test_a_lot_that_is_no_bomb(tmp_path):
    """Job histories pack well: 30 times and more."""
    text = "job,vehicle,opened\n" + "".join(f"J{n},V{n % 50},2024-01-{n % 28 + 1:02}\n" for n in range(50_000))
    assert len(rows(one(tmp_path, "jobs.csv.gz", gzip.compress(text.encode())))) == 50_000


@pytest.mark.parametrize("keep", [0.2, 0.5, 0.9, 0.99])
def test_63_a_packed_file_that_is_cut_off(tmp_path, keep):
    text = "job,km\n" + "".join(f"J{n},{n * n % 977}\n" for n in range(20_000))
    for name, packed in (
        ("x.csv.gz", gzip.compress(text.encode())),
        ("x.zip", zipped(tmp_path / "whole.zip", {"jobs.csv": text}).read_bytes()),
        ("x.xlsx", xlsx(tmp_path / "whole.xlsx", BOOK).read_bytes()),
        (
            "x.xls",
            xls(tmp_path / "whole.xls", {"S": [("job", "km"), *((f"J{n}", n) for n in range(500))]}).read_bytes(),
        ),
    ):
        path = tmp_path / name
        path.write_bytes(packed[: int(len(packed) * keep)])
        assert refusal(path)


def test_a_locked_archive(tmp_path):
    path = zipped(tmp_path / "x.zip", {"jobs.csv": CSV})
    content_ = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        content_[content_.index(mark) + offset] |= 1
    path.write_bytes(content_)
    assert refusal(path) == "this file is protected by a password"


def test_locked_workbooks(tmp_path):
    path = tmp_path / "x.xlsx"
    path.write_bytes(OLE + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le") + b"\0" * 600)
    assert refusal(path) == "this file is protected by a password"
    old = xls(tmp_path / "x.xls", BOOK)  # its code page record becomes the one that says it is locked
    old.write_bytes(old.read_bytes().replace(b"\x42\x00\x02\x00", b"\x2f\x00\x02\x00", 1))
    assert refusal(old) == "this file is protected by a password"


ENTITIES = b"""<!DOCTYPE worksheet [<!ENTITY a SYSTEM "file:///etc/hostname">]>"""
BILLION = b"""<!DOCTYPE sst [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>"""


@pytest.mark.parametrize("markup", [ENTITIES, BILLION, b'<!DOCTYPE x SYSTEM "http://example.invalid/x.dtd">'])
@pytest.mark.parametrize(
    "member", ["xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/workbook.xml", "docProps/core.xml"]
)
def test_a_workbook_with_entities(tmp_path, member, markup):
    path = xlsx(tmp_path / "b.xlsx", BOOK)
    with zipfile.ZipFile(path) as archive_:
        first = archive_.read(member).lstrip().split(b">")[0] + b">"
    put = first + markup if first.startswith(b"<?") else markup + first
    replace_in(path, member, first, put)
    assert "it declares entities or a document type" in refusal(path)


def test_a_workbook_that_spans_too_much(tmp_path):
    path = xlsx(tmp_path / "b.xlsx", {"S": [("job", "km"), ("J1", 5)]})
    replace_in(path, "xl/worksheets/sheet1.xml", b'r="B2"', b'r="XFD1048576"')
    assert "spans more than" in refusal(path)


def test_a_workbook_that_brings_its_reader_down(tmp_path, monkeypatch):
    """The bounds of its process are what saves us then."""
    monkeypatch.setattr(workbook, "_PATIENCE", 0.01)
    assert "took longer than" in refusal(xlsx(tmp_path / "b.xlsx", BOOK))


def test_a_workbook_whose_reader_dies(tmp_path, monkeypatch):
    broken = tmp_path / "broken.py"
    broken.write_text("import os; os.abort()", encoding="utf-8")
    monkeypatch.setattr(workbook, "_PROGRAM", broken)
    assert "damaged, or too large to hold" in refusal(xlsx(tmp_path / "b.xlsx", BOOK))


def test_a_cell_that_is_too_long(tmp_path):
    long = "x" * ((1 << 20) + 1)
    for name, text in (("a.csv", f"job,note\nJ1,{long}\n"), ("b.json", json.dumps([{"job": "J1", "note": long}]))):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        assert refusal(path).startswith("a value is longer than 1 MB")
    pl.DataFrame({"job": ["J1"], "note": [long]}).write_parquet(tmp_path / "c.parquet")
    assert refusal(tmp_path / "c.parquet").startswith("a value is longer than 1 MB")


@pytest.mark.parametrize("quote", ['"', ""])
def test_a_row_that_is_too_long_isnt_held(tmp_path, monkeypatch, quote):
    monkeypatch.setattr("fleetlens.intake.readers.delimited._BLOCK", 1 << 20)
    path = tmp_path / "a.csv"
    path.write_text(f"job,note\nJ1,{quote}" + "x" * (5 << 20) + f"{quote}\n", encoding="utf-8")
    assert "longer than 1 MB" in refusal(path)


def test_web_pages_under_the_ending_of_a_workbook(tmp_path):
    path = tmp_path / "export.xls"
    path.write_text("<html><table><tr><td>job</td></tr></table></html>", encoding="utf-8")
    assert refusal(path) == "this is a web page or XML under the ending of XLS"
