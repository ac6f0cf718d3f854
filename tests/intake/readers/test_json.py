"""JSON of many shapes; nothing is lost on the way, and what can't be read is told with its line."""

import json

import pytest
from intake.readers.reading import one, refusal, rows

from fleetlens.intake.readers import json_rows, json_text, open_file

RECORDS = [
    {"job": "J1", "km": 10.50, "open": True},
    {"job": "J2", "note": None, "vehicle": {"id": "V1", "a": {"b": 2}}},
]
WANTED = [(1, "J1", "10.5", "true", "", "", ""), (2, "J2", "", "", "", "V1", "2")]


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(json.dumps(RECORDS), id="array"),
        pytest.param(json.dumps(RECORDS, indent=2), id="array-over-lines"),
        pytest.param("\n".join(json.dumps(record) for record in RECORDS), id="lines"),
        pytest.param("".join(json.dumps(record) for record in RECORDS), id="one-after-another"),
        pytest.param("\ufeff" + json.dumps(RECORDS), id="mark"),
        pytest.param(json.dumps({"jobs": RECORDS, "count": 2}), id="object"),
        pytest.param(json.dumps({"result": {"data": {"jobs": RECORDS}}}), id="deep"),
    ],
)
@pytest.mark.parametrize("name", ["x.json", "x.ndjson"])
def test_shapes(tmp_path, name, text):
    sheet = one(tmp_path, name, text)
    assert sheet.columns == ("job", "km", "open", "note", "vehicle.id", "vehicle.a.b")
    assert rows(sheet) == WANTED
    assert (sheet.header_row, sheet.label) == (0, "jobs" if "jobs" in text else "x")


def test_numbers_stand_as_they_are_written(tmp_path):
    text = '[{"a": 1.50, "b": 10000000000000000001, "c": 1e3, "d": -0, "e": "007"}]'
    assert rows(one(tmp_path, "x.json", text)) == [(1, "1.50", "10000000000000000001", "1e3", "-0", "007")]


def test_lists_of_values_are_one_text(tmp_path):
    text = '[{"job": 1, "codes": ["P0401", "P0404"], "none": []}]'
    assert rows(one(tmp_path, "x.json", text)) == [(1, "1", "P0401; P0404", "")]


def test_lists_of_objects_are_sheets_of_their_own(tmp_path):
    job = {"job": "J1", "lines": [{"text": "a", "parts": [{"no": 1}, {"no": 2}]}, {"text": "b"}], "note": "n"}
    path = tmp_path / "x.ndjson"
    path.write_text(f'{json.dumps(job)}\n{{"job": "J2"}}\n', encoding="utf-8")
    main, lines, parts = open_file(path)
    assert rows(main) == [(1, "J1", "n"), (2, "J2", "")]
    assert (lines.part, lines.columns) == ("lines", ("job", "note", "lines.text"))
    assert rows(lines) == [(1, "J1", "n", "a"), (2, "J1", "n", "b")]
    assert parts.part == "lines.parts"
    assert [row[-2:] for row in rows(parts)] == [("a", "1"), ("a", "2")]
    assert "lists read as sheets of their own: lines, lines.parts" in main.told


def test_several_arrays_in_one_object(tmp_path):
    path = tmp_path / "export.json"
    path.write_text('{"made": "x", "jobs": [{"a": 1}], "vehicles": [{"b": 2}, {"b": 3}]}', encoding="utf-8")
    jobs, vehicles = open_file(path)
    assert (jobs.name, rows(jobs)) == ("export.json [jobs]", [(1, "1")])
    assert (vehicles.label, rows(vehicles)) == ("vehicles", [(1, "2"), (2, "3")])
    assert "no rows, left aside: made" in jobs.told


def test_a_name_that_comes_twice_in_an_object_loses_nothing(tmp_path):
    sheet = one(tmp_path, "x.json", '[{"a": 1, "a": 2}]')
    assert (sheet.columns, rows(sheet)) == (("a", "a (2)"), [(1, "1", "2")])


def test_names_that_mean_the_same_column_lose_nothing(tmp_path):
    sheet = one(tmp_path, "x.json", '[{"a.b": 1, "a": {"b": 2}}]')
    assert sorted(rows(sheet)[0][1:]) == ["1", "2"]


def test_half_characters_do_no_harm(tmp_path):
    assert rows(one(tmp_path, "x.json", '[{"a\\ud800": "x\\udfff", "b": "ü\\u00e9"}]')) == [(1, "x?", "üé")]


def test_records_over_the_edges_of_blocks(tmp_path, monkeypatch):
    monkeypatch.setattr(json_rows, "_ROWS", 7)
    records = [{"n": n, "text": "ü" * (n % 50), "deep": {"x": [n]}} for n in range(30_000)]
    sheet = one(tmp_path, "x.json", json.dumps({"jobs": records}, ensure_ascii=False))
    found = rows(sheet)
    assert [row[0] for row in found] == list(range(1, 30_001))
    assert all(row[1:] == (str(n), "ü" * (n % 50), str(n)) for n, row in enumerate(found))


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_57_encodings(tmp_path, encoding):
    text = json.dumps([{"depot": "Köln", "note": "5 – 6"}] * 3, ensure_ascii=False)
    assert rows(one(tmp_path, "x.json", text.encode(encoding)))[0] == (1, "Köln", "5 – 6")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        pytest.param('[{"a": 1}, {"a": ', "it is cut off", id="63-cut"),
        pytest.param('[{"a": 1}, {"a": 2}', "',' is missing|']' is missing", id="63-cut-between"),
        pytest.param('{"a": 1}\n{"a": tru}\n', "Expecting value", id="word"),
        pytest.param('[{"a": 1}] x', "something follows after its end", id="tail"),
        pytest.param("[1, 2]", "a record is no object", id="numbers"),
        pytest.param('"text"', "no JSON with objects", id="text"),
        pytest.param("[" * 100_000, "nested too deeply", id="deep-arrays"),
        pytest.param('{"a":' * 100_000, "nested too deeply", id="deep-objects"),
        pytest.param("<html>", "no JSON with objects", id="page"),
        pytest.param("[]", "this file is empty", id="no-record"),
        pytest.param("  \n", "this file is empty", id="blank"),
    ],
)
def test_what_is_no_json(tmp_path, text, told):
    path = tmp_path / "x.json"
    path.write_text(text, encoding="utf-8")
    assert any(part in refusal(path) for part in told.split("|"))


def test_a_fault_names_its_line(tmp_path):
    path = tmp_path / "x.ndjson"
    path.write_text('{"a": 1}\n' * 300_000 + '{"a" 1}\n' + '{"a": 1}\n' * 9, encoding="utf-8")
    with pytest.raises(Exception, match="line 300001"):
        open_file(path)


def test_a_record_without_end_isnt_held(tmp_path, monkeypatch):
    monkeypatch.setattr(json_text, "_RECORD", 1 << 16)
    path = tmp_path / "x.json"
    path.write_text('[{"a": "' + "x" * (3 << 20), encoding="utf-8")
    assert "a record is longer than" in refusal(path)


def test_too_many_names_are_values(tmp_path):
    path = tmp_path / "x.json"
    path.write_text(json.dumps([{f"J{n}": n for n in range(6_000)}]), encoding="utf-8")
    assert "more than 5,000 different names" in refusal(path)
