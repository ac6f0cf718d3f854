"""How clean each load was, and which rules rows broke: counted by hand on three small loads."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest

from fleetlens.findings.fleet import loads, quality, refused
from fleetlens.findings.refusals import EXAMPLES, broken_rules, by_rule
from fleetlens.intake.load import load
from fleetlens.output import charts
from fleetlens.store.reader import Snapshot, open_store

LOADS = (
    {"vehicles.csv": "vehicle_id,in_service_on\nV1,2020-01-05\nV2,2020-13-05\nV3,soon\n"},
    {"jobs.csv": "job_id,vehicle_id,opened_at,odometer\nJ1,V1,2021-05-01,10\nJ2,V9,2021-05-01,twelve\n"},
    {"vehicles.csv": "vehicle_id\nV4\n"},
)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three loads: 2 of 3 rows refused, then 1 of 2 for two reasons, then none of 1."""
    place = tmp_path_factory.mktemp("quality")
    for number, files in enumerate(LOADS):
        folder = place / str(number)
        folder.mkdir()
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        load([folder], place / "store")
    return place / "store"


@pytest.fixture
def snapshot(store: Path) -> Iterator[Snapshot]:
    with open_store(store) as opened:
        yield opened


def test_each_load_has_its_share_of_rows_refused(snapshot: Snapshot) -> None:
    rows = quality(snapshot).rows
    assert rows.select("load_id", "rows_in", "refused").rows() == [(1, 3, 2), (2, 2, 1), (3, 1, 0)]
    assert rows["share_refused"].to_list() == [pytest.approx(2 / 3), 0.5, 0.0]


def test_the_trend_adds_up_to_the_files(snapshot: Snapshot) -> None:
    of_files = loads(snapshot).rows.group_by("load_id").agg("rows_in", "refused").sort("load_id")
    trend = quality(snapshot).rows
    for name in ("rows_in", "refused"):
        assert [sum(counts) for counts in of_files[name].to_list()] == trend[name].to_list()


def test_rules_are_counted_with_examples(snapshot: Snapshot) -> None:
    rows = broken_rules(snapshot).rows
    told = rows.select("rule", "table_name", "column", "rows").rows()
    assert told[0] == ("date", "vehicles", "in_service_on", 2)
    assert sorted(told[1:]) == [("number", "jobs", "odometer", 1), ("unknown_vehicle", "jobs", "vehicle_id", 1)]
    first = rows["examples"][0]
    assert first.startswith("vehicles.csv row 3: '2020-13-05' ")
    assert "; vehicles.csv row 4: 'soon' " in first
    assert sum(rows["rows"]) == refused(snapshot).rows.height


def test_no_more_examples_than_can_be_read(snapshot: Snapshot) -> None:
    one = refused(snapshot).rows.filter(row=3, rule="date")
    many = by_rule(pl.concat([one] * 5)).row(0, named=True)
    assert many["rows"] == 5
    assert many["examples"].count("row 3") == EXAMPLES
    assert by_rule(one.clear()).is_empty()


def test_the_trend_is_drawn_by_load_and_told_with_its_counts(snapshot: Snapshot) -> None:
    finding = quality(snapshot)
    line, points = charts.quality(finding).to_dict()["layer"]
    for layer in (line, points):
        assert layer["encoding"]["y"]["field"] == "share_refused"
        assert layer["encoding"]["x"]["field"] == "load_id"
    told = charts.describe(finding)
    assert told == (
        "Share of rows refused by load, 3 loads: last 0 of 1 rows in load 3; highest 2 of 3 rows in load 1."
    )
    single = charts.describe(replace(finding, rows=finding.rows.head(1)))
    assert single == "Share of rows refused by load, 1 load: 2 of 3 rows in load 1."
