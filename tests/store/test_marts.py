"""Marts made for a run of vehicles at a time hold the rows of those made at once, with and without rows from text."""

import shutil
from pathlib import Path

import duckdb
import pytest

from fleetlens.intake.load import load
from fleetlens.places import folder
from fleetlens.store import marts, snapshots

CUT = ("part_rows", "lives", "repairs", "returns")


def test_runs_of_vehicles_give_the_rows_of_the_fleet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load([folder("sample_fleet")], tmp_path / "store")
    whole, cut = tmp_path / "whole.duckdb", tmp_path / "cut.duckdb"
    shutil.copyfile(snapshots.path_of(tmp_path / "store", "fleet-000001"), whole)
    with duckdb.connect(str(whole)) as connection:
        # A third of the codes and actions as if read from text, so that the second set of marts is made too.
        connection.execute("update job_codes set from_text = job_key % 3 = 0")
        connection.execute("update job_actions set from_text = job_key % 3 = 0")
        marts.build(connection)
    shutil.copyfile(whole, cut)
    monkeypatch.setattr(snapshots, "MEMORY", "1MB")
    with duckdb.connect(str(cut)) as connection:
        assert len(marts._slices(connection, 200)) > len(marts._slices(connection, 1_000)) > 1
        for schema in ("main", marts.RECORDED):
            for name in CUT:
                connection.execute(f"delete from {schema}.{name}")
        marts.build(connection)
        connection.execute(f"attach '{whole}' as whole (read_only)")
        for schema in ("main", marts.RECORDED):
            for name in CUT:
                mine, other = f"from {schema}.{name}", f"from whole.{schema}.{name}"
                assert connection.sql(f"select count(*) {mine}").fetchall()[0][0] > 0
                assert connection.sql(f"({mine}) except all ({other})").fetchall() == []
                assert connection.sql(f"({other}) except all ({mine})").fetchall() == []
        assert "slice" not in {row[0] for row in connection.sql("select schema_name from duckdb_schemas()").fetchall()}
