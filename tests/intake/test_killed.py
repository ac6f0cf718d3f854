"""A load killed anywhere leaves the store as it was, or with the load whole."""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import polars as pl

from fleetlens.intake.load import load
from fleetlens.store import snapshots
from fleetlens.store.reader import open_store

# Imports come first, so that the moment of the kill is one of the load.
CHILD = """
import sys
from pathlib import Path
from fleetlens.intake.load import load
print("ready", flush=True)
load([Path(sys.argv[1])], Path(sys.argv[2]), progress=lambda what, share: print(what, flush=True))
"""
VEHICLES, JOBS = 100, 3000
KILLS = 20


def files(folder: Path, round_: int) -> Path:
    """A hundred vehicles, and thirty jobs of each with an action; the odometer tells the round."""
    folder.mkdir()
    numbers = range(JOBS)
    pl.DataFrame(
        {"vehicle_id": [f"V{n}" for n in range(VEHICLES)], "in_service_on": "2020-01-01", "in_service_km": 0}
    ).write_csv(folder / "vehicles.csv")
    pl.DataFrame(
        {
            "job_id": [f"J{n}" for n in numbers],
            "vehicle_id": [f"V{n % VEHICLES}" for n in numbers],
            "opened_at": [f"20{21 + n // 1200}-{n // 100 % 12 + 1:02d}-15" for n in numbers],
            "odometer": [1000 * (n // VEHICLES + 1) + round_ for n in numbers],
            "reason": "defect",
        }
    ).write_csv(folder / "jobs.csv")
    pl.DataFrame(
        {
            "job_id": [f"J{n}" for n in numbers],
            "line": 1,
            "component": "egr_valve",
            "action": "clean",
            "labour_h": round_,
        }
    ).write_csv(folder / "job_actions.csv")
    return folder


def state(store: Path) -> set[tuple[float, float, int]]:
    """(round that the jobs tell, round that the actions tell, rows): one of them where the store is whole."""
    with open_store(store) as snapshot:
        jobs = (
            snapshot.frame("intake/readings", first_key=1, last_key=10**6)
            .filter(source="job")
            .select(pl.col("km") % 1000)
        )
        assert jobs.height == JOBS
        with duckdb.connect(str(snapshot.path), read_only=True) as reader:
            actions = reader.sql("select labour_h, count(*) from job_actions group by 1").fetchall()
    return {(km, labour_h, count) for km in set(jobs["km"]) for labour_h, count in actions}


def kill(folder: Path, store: Path, step: int, seconds: float) -> None:
    """Load in another process, killed so many `seconds` after it told its step number `step` (0: before the first)."""
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder), str(store)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as child:
        assert child.stdout is not None
        for _ in range(step + 1):
            assert child.stdout.readline()
        time.sleep(seconds)
        child.send_signal(signal.SIGKILL)


def test_twenty_kills(tmp_path: Path) -> None:
    store = tmp_path / "store"
    steps: list[str] = []
    load([files(tmp_path / "round-0", 0)], store, progress=lambda what, _: steps.append(what))
    moments = random.Random(20261125)
    whole = finished = 0
    for number in range(1, KILLS + 1):
        step = number % len(steps)  # every step but the last, "done"
        kill(files(tmp_path / f"round-{number}", number), store, step, moments.uniform(0, 0.12))
        seen = state(store)
        assert seen in ({(float(whole), float(whole), JOBS)}, {(float(number), float(number), JOBS)})
        if seen == {(float(number), float(number), JOBS)}:
            whole, finished = number, finished + 1
    assert finished < KILLS / 2, "most kills came too late to prove anything"
    report = load([files(tmp_path / "last", 500)], store)
    assert (report.accepted, report.replaced, report.repeated) == (2 * JOBS, 2 * JOBS, VEHICLES)
    assert state(store) == {(500.0, 500.0, JOBS)}
    left = {entry.name for entry in store.iterdir()} - {"CURRENT", "writer.lock"}
    assert all(name.endswith(".duckdb") for name in left)
    assert len(left) <= snapshots.KEEP
