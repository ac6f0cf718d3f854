"""Reading a store from many threads, and while it moves on."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import duckdb
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.store import queries, snapshots
from fleetlens.store.reader import current, open_store


@pytest.fixture(autouse=True)
def questions(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two questions of our own in place of the files of sql/."""
    texts = {
        "mark": "select value from settings where name = 'mark'",
        "echo": "select $number as number, sum(i) as total from range($number) t(i)",
        "draws": "select current_setting('enable_progress_bar') as draws",
    }
    original = queries.text
    monkeypatch.setattr(queries, "text", lambda name: texts.get(name) or original(name))


def test_eight_threads_get_their_own_answers(tmp_path: Path, publish: Callable[..., str]) -> None:
    publish("one")
    with open_store(tmp_path) as snapshot:

        def ask(thread: int) -> int:
            wrong = 0
            for question in range(200):
                number = thread * 1000 + question + 1
                wrong += snapshot.frame("echo", number=number).rows() != [(number, number * (number - 1) // 2)]
            return wrong

        with ThreadPoolExecutor(8) as pool:
            assert sum(pool.map(ask, range(8))) == 0


def test_a_reader_keeps_its_snapshot_and_sees_the_next_one_when_it_opens_again(
    tmp_path: Path, publish: Callable[..., str]
) -> None:
    publish("old")
    with open_store(tmp_path) as before:
        publish("new")
        assert (before.name, before.path.name) == ("fleet-000001", "fleet-000001.duckdb")
        assert before.frame("mark").rows() == [("old",)]
        assert current(tmp_path) == "fleet-000002"
        with open_store(tmp_path) as after:
            assert (after.name, after.frame("mark").rows()) == ("fleet-000002", [("new",)])


def test_a_reader_cannot_write(tmp_path: Path, publish: Callable[..., str], monkeypatch: pytest.MonkeyPatch) -> None:
    publish("one")
    monkeypatch.setattr(queries, "text", lambda _: "create table mine as select 1 as one")
    with open_store(tmp_path) as snapshot, pytest.raises(duckdb.InvalidInputException, match="read-only"):
        snapshot.frame("anything")


def test_a_snapshot_deleted_between_its_name_and_its_opening_is_looked_up_again(
    tmp_path: Path, publish: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    publish("one")
    publish("two")
    snapshots.path_of(tmp_path, "fleet-000001").unlink()
    answers = iter(["fleet-000001", "fleet-000002"])
    monkeypatch.setattr(snapshots, "current", lambda _: next(answers))
    with open_store(tmp_path) as snapshot:
        assert snapshot.frame("mark").rows() == [("two",)]


def test_no_store_and_an_empty_one(tmp_path: Path) -> None:
    for store, what in (
        (tmp_path / "none", "there is no store here yet"),
        (tmp_path, "nothing has been loaded into this store yet"),
    ):
        with pytest.raises(FleetlensError) as caught:
            open_store(store)
        assert (
            str(caught.value)
            == f"{what}\n  at: {store}\n  try: load your tables first: fleetlens load FOLDER --store {store}"
        )


def test_a_snapshot_that_is_no_database(tmp_path: Path) -> None:
    (tmp_path / "CURRENT").write_text("fleet-000001\n", encoding="utf-8")
    with pytest.raises(FleetlensError, match="the live snapshot fleet-000001 is missing"):
        open_store(tmp_path)
    (tmp_path / "fleet-000001.duckdb").write_bytes(b"nothing of the kind" * 1000)
    with pytest.raises(FleetlensError) as caught:
        open_store(tmp_path)
    assert caught.value.what.startswith("the live snapshot can't be opened: ")
    assert caught.value.where == str(tmp_path / "fleet-000001.duckdb")


def test_the_engine_draws_no_progress_into_our_output(tmp_path: Path, publish: Callable[..., str]) -> None:
    publish("one")
    with open_store(tmp_path) as snapshot:
        assert snapshot.frame("draws").rows() == [(False,)]
    writer = snapshots.start(tmp_path / "next.draft", tmp_path)
    assert queries.inside(writer, "draws").rows() == [(False,)]
    writer.close()
