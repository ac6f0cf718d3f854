"""`fleetlens lines`: a row for each row of the file, for people and for machines. All lines are invented."""

import json

import polars as pl
import pytest

ROWS = ["P0401 stored, egr cleaned", "", "maf\nreplaced", "adv egr"]


@pytest.fixture
def file(tmp_path, run):
    del run  # it goes to the empty folder first
    path = tmp_path / "lines.csv"
    pl.DataFrame({"id": ["1", "2", "3", "4"], "text": ROWS}).write_csv(path)
    return path


def rows(told):
    assert (told.code, told.err) == (0, "")
    return json.loads(told.out)["rows"]


def test_every_row_of_the_file_has_its_row(run, file, tmp_path):
    said = rows(run("lines", file, "--column", "text", "--json"))
    assert [row["codes"] for row in said] == [["P0401"], [], [], []]
    assert said[0]["done"] == [{"component": "egr_valve", "action": "clean", "words": "egr cleaned"}]
    assert {"causes", "not_done", "checks"} <= set(said[1])
    assert said[2]["done"][0]["component"] == "maf_sensor"
    parquet = tmp_path / "lines.parquet"
    pl.DataFrame({"text": [*ROWS[:1], None, *ROWS[2:]]}).write_parquet(parquet)
    assert rows(run("lines", parquet, "--column", "text", "--json")) == said


def test_a_file_of_one_column_keeps_its_blank_lines(run, tmp_path):
    path = tmp_path / "one.csv"
    path.write_text("text\negr cleaned\n\nmaf replaced\n", encoding="utf-8")
    assert [len(row["done"]) for row in rows(run("lines", path, "--column", "text", "--json"))] == [1, 0, 1]


@pytest.mark.parametrize(("encoding", "delimiter"), [("utf-8-sig", ","), ("cp1252", ";"), ("utf-8", "\t")])
def test_other_delimiters_and_encodings(run, tmp_path, encoding, delimiter):
    path = tmp_path / "other.csv"
    path.write_text(f"nr{delimiter}text\n1{delimiter}egr cleaned £240\n", encoding=encoding)
    assert rows(run("lines", path, "--column", "text", "--json"))[0]["done"]


def test_people_see_the_words(run, file):
    told = run("lines", file, "--column", "text")
    assert told.code == 0
    assert "EGR valve: clean" in told.out
    assert "“egr cleaned”" in told.out
    assert "4 lines: 1 codes" in told.out


def test_words_of_the_store_and_of_a_file_are_used(run, file, tmp_path):
    (tmp_path / "fleet-store").mkdir()
    own = '[components.tow_bar]\nsynonyms = ["{}"]\n'
    (tmp_path / "fleet-store" / "words.toml").write_text(own.format("maf"), encoding="utf-8")
    (tmp_path / "mine.toml").write_text(own.format("egr"), encoding="utf-8")
    in_store = rows(run("lines", file, "--column", "text", "--json"))
    given = rows(run("lines", file, "--column", "text", "--json", "--words", "mine.toml"))
    assert in_store[2]["done"][0]["component"] == "tow_bar"
    assert given[0]["done"][0]["component"] == "tow_bar"
    assert given[2]["done"][0]["component"] == "maf_sensor"


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("lines.csv", "id,texts\n1,egr\n", "--column texts"),
        ("lines.csv", "", "empty"),
        ("lines.csv", 'text\n"' + "e" * 1_000_100 + '"\n', "CSV"),
        ("lines.parquet", "no parquet", "Parquet"),
        (None, None, "no such file"),
    ],
)
def test_what_cannot_be_read_is_said(run, tmp_path, name, content, said):
    path = tmp_path / (name or "missing.csv")
    if name:
        path.write_text(content, encoding="utf-8")
    told = run("lines", path, "--column", "text", "--json")
    assert (told.code, told.out) == (2, "")
    assert said in told.err
    assert "Traceback" not in told.err


def test_people_see_their_own_names(run, file, tmp_path):
    (tmp_path / "mine.toml").write_text('[components.maf_sensor]\nlabel = "Air meter"\n', encoding="utf-8")
    assert "Air meter: replace" in run("lines", file, "--column", "text", "--words", "mine.toml").out


def test_words_are_started_with_examples_that_can_be_read(run, tmp_path):
    assert run("words").code == 2  # there is no store yet
    (tmp_path / "fleet-store").mkdir()
    assert run("words").code == 0
    path = tmp_path / "fleet-store" / "words.toml"
    written = path.read_text(encoding="utf-8")
    assert "components 0, actions 0" in run("words").out  # and what was written is left alone
    assert path.read_text(encoding="utf-8") == written
    examples = [line.removeprefix("# ") for line in written.splitlines() if line.startswith("# ")]
    chosen = [line for line in examples if line.startswith("[") or " = " in line]
    path.write_text("\n".join(chosen), encoding="utf-8")
    assert "components 3, actions 1, causes 2; codes 1" in run("words").out
