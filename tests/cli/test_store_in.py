"""The commands that look after a store."""

import json
from pathlib import Path
from typing import Any


def loaded(run: Any, folder: Path, number: int) -> None:
    (folder / f"vehicles-{number}.csv").write_text(f"vehicle_id\nV{number}\n", encoding="utf-8")
    assert run("load", folder / f"vehicles-{number}.csv").code == 0


def test_undo_takes_back_the_last_load(run: Any, tmp_path: Path) -> None:
    loaded(run, tmp_path, 1)
    loaded(run, tmp_path, 2)
    assert run("vehicle", "V2").code == 0
    assert run("undo").out == "fleet-000002 is taken back. The store shows fleet-000001 from now on.\n"
    assert run("vehicle", "V2").code == 2
    again = run("undo", "--json")
    assert (again.code, again.out) == (2, "")
    assert "no snapshot older than fleet-000001" in again.err


def test_undo_as_json(run: Any, tmp_path: Path) -> None:
    loaded(run, tmp_path, 1)
    loaded(run, tmp_path, 2)
    assert json.loads(run("undo", "--json").out) == {"taken_back": "fleet-000002", "snapshot": "fleet-000001"}


def test_rules_are_shown_and_set(run: Any, tmp_path: Path) -> None:
    loaded(run, tmp_path, 1)
    assert "supplements=join" in run("rules").out
    rows = json.loads(run("rules", "--set", "supplements=count", "--json").out)["rows"]
    assert {row["rule"]: row["value"] for row in rows}["supplements"] == "count"
    for wrong, said in (("supplements", "'supplements' sets nothing"), ("supplements=maybe", "join or count")):
        told = run("rules", "--set", wrong)
        assert (told.code, told.out) == (2, "")
        assert said in told.err


def test_loads_lists_every_file(run: Any, tmp_path: Path) -> None:
    loaded(run, tmp_path, 1)
    loaded(run, tmp_path, 2)
    rows = json.loads(run("loads", "--json").out)["rows"]
    assert [(row["load_id"], row["table_name"], row["accepted"]) for row in rows] == [
        (2, "vehicles", 1),
        (1, "vehicles", 1),
    ]
