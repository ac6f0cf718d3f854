"""Checking files, and a load that knows its source, from the command line."""

import json
from pathlib import Path
from typing import Any

import pytest

WRONG = (
    "job_id,vehicle_id,opened_at,reason\nJ1,V1,2024-05-01,defekt\nJ2,V1,2024-05-32,defect\nJ3,V1,2024-05-03,defekt\n"
)


@pytest.fixture
def files(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "vehicles.csv").write_text("vehicle_id\nV1\n", encoding="utf-8")
    (tmp_path / "in" / "jobs.csv").write_text(WRONG, encoding="utf-8")
    return tmp_path / "in"


def test_check_counts_each_rule_with_examples_and_writes_nothing(run: Any, files: Path, tmp_path: Path) -> None:
    told = run("check", files)
    assert told.code == 0
    assert "Rules that rows broke" in told.out
    assert "row 3: '2024-05-32' is not a date" in " ".join(told.out.split())
    assert "Nothing was written" in told.out
    assert not (tmp_path / "fleet-store").exists()
    rules = json.loads(run("check", files, "--json").out)["rules"]
    assert [(rule["rule"], rule["column"], rule["rows"]) for rule in rules] == [
        ("not_allowed", "reason", 2),
        ("date", "opened_at", 1),
    ]
    assert [example["row"] for example in rules[0]["examples"]] == [2, 4]


def test_refused_rows_go_where_they_are_wanted(run: Any, files: Path, tmp_path: Path) -> None:
    assert run("check", files, "--refused-to", tmp_path / "out").code == 0
    assert (tmp_path / "out" / "jobs-refused.csv").read_text(encoding="utf-8").count("\n") == 4


def test_a_complete_period_needs_a_source_and_two_dates(run: Any, files: Path) -> None:
    for words, said in (
        (("--complete", "2024-05-01..2024-05-31"), "name it with --source"),
        (("--source", "north", "--complete", "May"), "two dates, such as"),
        (("--source", "north", "--complete", "2024-05-01..May"), "this date can't be read: 'May'"),
    ):
        told = run("load", files, *words)
        assert (told.code, told.out) == (2, "")
        assert said in told.err
