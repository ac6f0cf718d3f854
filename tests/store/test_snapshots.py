"""The folder of a store: what goes live, what is kept, what is cleared away."""

import os
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.store import snapshots


def names(store: Path) -> list[str]:
    return sorted(entry.name for entry in store.iterdir())


def mark(store: Path, name: str) -> str:
    with duckdb.connect(str(snapshots.path_of(store, name)), read_only=True) as reader:
        return str(reader.sql("select value from settings where name = 'mark'").fetchall()[0][0])


def test_a_store_is_its_snapshots_and_the_name_of_the_live_one(tmp_path: Path, publish: Callable[..., str]) -> None:
    assert snapshots.current(tmp_path) is None
    assert publish("one") == "fleet-000001"
    assert publish("two") == "fleet-000002"
    assert names(tmp_path) == ["CURRENT", "fleet-000001.duckdb", "fleet-000002.duckdb"]
    assert snapshots.current(tmp_path) == "fleet-000002"
    assert [mark(tmp_path, name) for name in ("fleet-000001", "fleet-000002")] == ["one", "two"]


def test_the_last_five_are_kept(tmp_path: Path, publish: Callable[..., str]) -> None:
    for number in range(7):
        publish(str(number))
    assert names(tmp_path) == ["CURRENT", *(f"fleet-00000{number}.duckdb" for number in range(3, 8))]


def test_a_snapshot_that_a_reader_has_open_can_go_and_stays_readable(
    tmp_path: Path, publish: Callable[..., str]
) -> None:
    publish("old")
    reader = duckdb.connect(str(snapshots.path_of(tmp_path, "fleet-000001")), read_only=True)
    for number in range(6):
        publish(str(number))
    assert not snapshots.path_of(tmp_path, "fleet-000001").exists()
    assert reader.sql("select value from settings where name = 'mark'").fetchall() == [("old",)]
    reader.close()


def test_a_snapshot_that_cannot_be_deleted_stops_nothing(
    tmp_path: Path, publish: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, **_: bool) -> None:
        raise PermissionError(path)

    monkeypatch.setattr(Path, "unlink", refuse)
    for number in range(7):
        publish(str(number))
    assert snapshots.current(tmp_path) == "fleet-000007"


def test_left_overs_of_killed_loads_go_and_their_numbers_stay_used(tmp_path: Path, publish: Callable[..., str]) -> None:
    publish("live")
    for name in (
        "fleet-000002.draft",
        "fleet-000002.draft.wal",
        "fleet-000003.compact.draft",
        "fleet-000004.duckdb",
        "notes.txt",
    ):
        (tmp_path / name).write_bytes(b"half")
    (tmp_path / "fleet-000002.draft.tmp").mkdir()
    (tmp_path / "fleet-000002.draft.tmp" / "spilt").write_bytes(b"half")
    assert snapshots.next_name(tmp_path) == "fleet-000005"
    snapshots.tidy(tmp_path)
    assert names(tmp_path) == ["CURRENT", "fleet-000001.duckdb", "notes.txt"]


def test_a_file_that_shrank_is_written_anew(tmp_path: Path, publish: Callable[..., str]) -> None:
    publish("small")
    name = snapshots.next_name(tmp_path)
    connection = snapshots.start(snapshots.draft_of(tmp_path, name), tmp_path)
    connection.execute(
        "insert into jobs (job_key, job_id, vehicle_key, opened_at, reason, complaint)"
        " select i, 'J' || i, 1, timestamp '2024-01-01', 'defect', md5(i::varchar) || md5('x' || i)"
        " from range(300000) t(i)"
    )
    snapshots.publish(tmp_path, name, connection)
    full = snapshots.path_of(tmp_path, name).stat().st_size
    name = snapshots.next_name(tmp_path)
    connection = snapshots.start(snapshots.draft_of(tmp_path, name), tmp_path)
    connection.execute("delete from jobs where job_key > 3")
    snapshots.publish(tmp_path, name, connection)
    assert snapshots.path_of(tmp_path, name).stat().st_size < full / 2
    with duckdb.connect(str(snapshots.path_of(tmp_path, name)), read_only=True) as reader:
        assert reader.sql("select count(*), min(reason) from jobs").fetchall() == [(4, "defect")]
        assert reader.sql("select value from settings where name = 'mark'").fetchall() == [("small",)]
    assert [entry for entry in names(tmp_path) if "draft" in entry] == []


def test_a_draft_with_a_log_beside_it_never_goes_live(
    tmp_path: Path, publish: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    publish("whole")
    name = snapshots.next_name(tmp_path)
    connection = snapshots.start(snapshots.draft_of(tmp_path, name), tmp_path)
    monkeypatch.setattr(snapshots, "_mostly_free", lambda _: (tmp_path / f"{name}.draft.wal").write_bytes(b"x") == 0)
    with pytest.raises(RuntimeError, match=r"fleet-000002.draft still has a write-ahead log"):
        snapshots.publish(tmp_path, name, connection)
    assert snapshots.current(tmp_path) == "fleet-000001"


def test_the_pointer_is_swapped_after_the_file_is_safe(
    tmp_path: Path, publish: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Order of the steps: file synced, folder synced, pointer replaced, folder synced."""
    steps: list[str] = []
    real_replace, real_sync = os.replace, os.fsync
    monkeypatch.setattr(os, "replace", lambda a, b: (steps.append(f"replace {Path(b).name}"), real_replace(a, b))[1])
    monkeypatch.setattr(
        os, "fsync", lambda fd: (steps.append(Path(os.readlink(f"/proc/self/fd/{fd}")).name), real_sync(fd))[1]
    )
    publish("one")
    assert steps == ["fleet-000001.draft", "CURRENT.new", tmp_path.name, "replace CURRENT", tmp_path.name]


@pytest.mark.parametrize("text", ["", "../elsewhere", "fleet-1", "fleet-000001.duckdb"])
def test_a_pointer_that_names_no_snapshot(tmp_path: Path, text: str) -> None:
    (tmp_path / "CURRENT").write_text(text, encoding="utf-8")
    with pytest.raises(FleetlensError) as caught:
        snapshots.current(tmp_path)
    assert str(caught.value) == (
        f"the file that names the live snapshot can't be read: {text!r}\n"
        f"  at: {tmp_path / 'CURRENT'}\n"
        "  try: write the name of a snapshot that is there into it, such as fleet-000001"
    )


def test_a_live_snapshot_that_is_gone(tmp_path: Path, publish: Callable[..., str]) -> None:
    publish("one")
    snapshots.path_of(tmp_path, "fleet-000001").unlink()
    with pytest.raises(FleetlensError) as caught:
        snapshots.start(snapshots.draft_of(tmp_path, "fleet-000002"), tmp_path)
    assert str(caught.value) == (
        "the live snapshot fleet-000001 is missing\n"
        f"  at: {tmp_path / 'fleet-000001.duckdb'}\n"
        f"  try: put its file back, or write the name of another snapshot of this folder into {tmp_path / 'CURRENT'}"
    )
