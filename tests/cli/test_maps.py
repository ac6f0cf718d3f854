"""The commands that bring a workshop's own export: a map suggested, written, used, and the workbook to fill in."""

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from fleetlens.store.reader import open_store

EXPORT = """\
Job No;Fleet no;Date in;Miles;Codes;Work done
1;OV1;14.03.2024;52.100;P0401;egr valve replaced and relearnt
2;OV1;20.04.2024;53.900;;dpf cleaned and forced regen
"""


@pytest.fixture
def export(tmp_path: Path) -> Path:
    path = tmp_path / "march.csv"
    path.write_text(EXPORT, encoding="utf-8")
    return path


def test_a_map_is_suggested_written_and_used(run: Callable[..., Any], export: Path, tmp_path: Path) -> None:
    made = tmp_path / "march.toml"
    ran = run("map", export, "--out", made)
    assert ran.code == 0
    for part in ("Taken for", "jobs.opened_at", "the name 'Miles'", "As table jobs the first rows would be", "52100"):
        assert part in ran.out
    assert f"The map is written to {made}." in ran.out
    loaded = run("load", export, "--map", made, "--store", "st", "--json")
    assert loaded.code == 0
    assert json.loads(loaded.out)["refused"] == 0
    april = tmp_path / "april.csv"
    april.write_text(EXPORT.replace("\n1;", "\n11;").replace("\n2;", "\n12;"), encoding="utf-8")
    again = run("load", april, "--store", "st", "--json")
    assert (again.code, json.loads(again.out)["refused"]) == (0, 0)


def test_a_map_may_be_for_one_file(run: Callable[..., Any], tmp_path: Path) -> None:
    made = """
        name = "{0}"
        kind = "wide"
        vehicles = {{ vehicle_id = "Reg" }}
        jobs = {{ job_id = "Job", vehicle_id = "Reg", opened_at = {{ column = "Day", date_order = "{0}_first" }} }}
    """
    for name in ("day", "month"):
        (tmp_path / f"{name}.csv").write_text(f"Job,Reg,Day\n{name},V1,03/04/2021\n", encoding="utf-8")
        (tmp_path / f"{name}.toml").write_text(made.format(name), encoding="utf-8")
    ran = run(
        *("load", "day.csv", "month.csv", "--store", "st"),
        *("--map", f"{tmp_path}/month.csv=month.toml", "--map", "day.csv=day.toml"),
    )
    assert ran.code == 0, ran.err
    with open_store(tmp_path / "st") as opened:
        jobs = opened.frame("findings/vehicle_jobs", vehicle_id="V1")
    assert dict(jobs.select("job_id", "opened_on").iter_rows()) == {
        "day": date(2021, 4, 3),
        "month": date(2021, 3, 4),
    }
    assert run("load", "day.csv", "--map", "day.csv=nowhere.toml", "--store", "st").code == 2


def test_machines_get_the_same(run: Callable[..., Any], export: Path) -> None:
    told = json.loads(run("map", export, "--json").out)["sheets"][0]
    assert told["kind"] == "wide"
    assert {column["column"]: column["ours"] for column in told["columns"]}["Miles"] == ["jobs.odometer"]
    assert told["questions"] == []
    assert told["preview"]["jobs"][0]["odometer_unit"] == "mi"
    assert told["map"].startswith("# What you call this source.")


def test_a_question_is_asked_before_anything_loads(run: Callable[..., Any], export: Path, tmp_path: Path) -> None:
    export.write_text(EXPORT.replace("14.03", "04.03").replace("20.04", "05.04"), encoding="utf-8")
    ran = run("map", export, "--out", tmp_path / "m.toml")
    assert "To be answered" in ran.out
    assert "date_order" in ran.out
    refused = run("load", export, "--map", tmp_path / "m.toml", "--store", "st")
    assert refused.code == 2
    assert "jobs.opened_at" in refused.err
    assert not (tmp_path / "st").exists()


def test_a_sheet_that_is_not_there(run: Callable[..., Any], export: Path) -> None:
    ran = run("map", export, "--sheet", "Visits")
    assert (ran.code, "there is no sheet 'Visits'" in ran.err) == (2, True)
    assert run("map", "nowhere.csv").code == 2


def test_a_template_is_written_once(run: Callable[..., Any], tmp_path: Path) -> None:
    book = tmp_path / "vans.xlsx"
    assert run("template", book).code == 0
    assert run("load", book, "--store", "st").code == 0
    again = run("template", book)
    assert (again.code, "there is such a file already" in again.err) == (2, True)
    assert run("template", tmp_path / "vans.csv").code == 2
