"""A load: files in, a new snapshot of the store out, or nothing at all."""

import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake import completeness, ledger, mending, odometer, remarks, sources
from fleetlens.intake.completeness import Origin
from fleetlens.intake.maps import memory
from fleetlens.intake.maps.choosing import Maps
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.maps.reading import line_reader
from fleetlens.intake.placing import place
from fleetlens.intake.report import COUNTS, REFUSED, LoadReport
from fleetlens.intake.sources import Source
from fleetlens.intake.staging import stage
from fleetlens.store import lock, marts, queries, snapshots
from fleetlens.vocabulary.tables import tables

__all__ = ["load"]

Progress = Callable[[str, float], None]


def load(
    paths: Sequence[Path],
    store: Path,
    *,
    maps: Sequence[ColumnMap] = (),
    dry_run: bool = False,
    as_of: date | None = None,
    odometer_proposals: str | None = None,
    origin: Origin | None = None,
    refused_to: Path | None = None,
    bare_names: bool = False,
    progress: Progress | None = None,
) -> LoadReport:
    """Load files, or folders of them, into the store in the folder `store`, which is made where it isn't there.

    Rows that break a rule are refused and kept with the reason; all others are taken, or counted as repeated.
    Killed or failed anywhere, the store is as it was before. A load that would change nothing makes no new
    snapshot. `maps` tell which columns of a workshop's own export are ours; they are remembered for later files
    with the same columns. `dry_run` does everything but that, and leaves nothing behind. `as_of`: the last day of
    the record from now on, in place of its latest date. `odometer_proposals`: "apply" uses the distances proposed
    for readings that contradict their neighbours, "propose" only lists them; the store keeps it. `origin`: where the
    files come from, and whether they are complete for a period, so that jobs gone from them go. `refused_to`: a folder
    that takes the refused rows as files to be corrected and loaded again. `bare_names`: the store keeps the names of
    files without their folders, as of uploads. `progress` is told what is being done and the share done, 0 to 1.
    Raises FleetlensError where a file can't be read at all, with the faults of all files, for another word for the
    proposals, or where another load is writing.
    """
    tell = progress or _silent
    wanted = {"as_of": as_of.isoformat() if as_of else None, odometer.PROPOSALS: _known(odometer_proposals)}
    files, notes = sources.find([Path(path) for path in paths])
    chosen = Maps(maps, memory.remembered(store), line_reader(store), datetime.now().astimezone().date())
    found = sources.open_all(files, chosen, lambda share: tell("examining the files", 0.1 * share))
    chosen.check_used()
    found = [replace(source, bare=bare_names) for source in found]
    settings = {name: value for name, value in wanted.items() if value is not None}
    work = _Work(found, notes, chosen, settings, origin, tell)
    if dry_run:
        with tempfile.TemporaryDirectory(prefix="fleetlens-") as folder:
            report, connection = work.apply(Path(folder) / "trial.draft", store, "")
            connection.close()
            return work.with_refused(report, refused_to)
    with _opened(store):
        name = snapshots.next_name(store)
        snapshots.tidy(store)
        draft = snapshots.draft_of(store, name)
        try:
            report, connection = work.apply(draft, store, name)
            with closing(connection):
                if report.published:
                    tell("writing the snapshot", 0.95)
                    snapshots.publish(store, name, connection)
                    report = replace(report, snapshot=name)
        finally:
            snapshots.discard(draft)
    report = work.with_refused(report, refused_to)
    tell("done", 1.0)
    return report


@dataclass(frozen=True, slots=True)
class _Work:
    """What one load has to do."""

    sources: list[Source]
    notes: list[str]
    maps: Maps
    settings: dict[str, str]
    origin: Origin | None
    tell: Progress

    def apply(self, draft: Path, store: Path, name: str) -> tuple[LoadReport, duckdb.DuckDBPyConnection]:
        """Everything up to the commit, in a draft of the snapshot `name`; the report, and the connection to it.

        The report says in `published` whether the draft has anything new; if not, nothing was committed.
        """
        connection = snapshots.start(draft, store)
        try:
            connection.execute("begin")
            report = self._take(connection, snapshots.current(store))
            changed = report.accepted > 0
            changed = memory.remember(connection, self.maps.used) or changed
            if self.origin is not None:
                moved, told = completeness.apply(connection, self.sources, self.origin)
                changed, report = changed or moved, replace(report, notes=(*report.notes, *told))
            for setting, value in self.settings.items():
                changed = ledger.set_value(connection, setting, value) or changed
            if changed:
                self.tell("judging the odometer readings", 0.75)
                odometer.store_readings(connection)
                self.tell("building the tables of lives and repairs", 0.8)
                marts.build(connection)
                ledger.check(connection)
                report = replace(report, notes=(*report.notes, *remarks.on_content(connection)))
                ledger.record(connection, name, datetime.now(UTC).replace(tzinfo=None), report)
            connection.execute("commit" if changed else "rollback")
        except BaseException:
            connection.close()
            raise
        return replace(report, published=changed and bool(name)), connection

    def with_refused(self, report: LoadReport, folder: Path | None) -> LoadReport:
        """The report, its refused rows written into the folder where one is named."""
        if folder is None or report.refusals.is_empty():
            return report
        files = mending.write_refused(self.sources, report.refusals, folder)
        listed = ", ".join(str(file) for file in files)
        return replace(report, notes=(*report.notes, f"refused rows written to {listed}: correct and load them"))

    def _take(self, connection: duckdb.DuckDBPyConnection, live: str | None) -> LoadReport:
        """Read, check and place all files, parents first."""
        connection.execute(queries.text("intake/staging"))
        names = _names([source.place for source in self.sources])
        today = datetime.now().astimezone().date()
        weight = _Weight(self.tell, [source.path.stat().st_size for source in self.sources])
        staged, broken, counts = [], [], []
        named: list[str] = []
        for table in tables().values():
            mine = [(number, source) for number, source in enumerate(self.sources) if source.table.name == table.name]
            for number, source in mine:
                try:
                    staged.append(stage(connection, source, number, today, weight.of(number, names[number])))
                finally:
                    source.check_unchanged()
            if mine:
                parents = pl.concat(read.parents for read in staged[-len(mine) :])
                placed = place(connection, table, parents, names, self.origin.source if self.origin else None)
                counts.append(placed.counts)
                named += placed.notes
                broken += [*(read.broken for read in staged[-len(mine) :]), placed.broken]
        refused = ledger.refusals(self.sources, pl.concat(broken))
        files = ledger.account(self.sources, staged, pl.concat(counts), refused)
        return LoadReport(
            **{name: sum(getattr(file, name) for file in files) for name in COUNTS},
            files=files,
            refusals=refused.select(*REFUSED),
            snapshot=live,
            published=False,
            notes=tuple(
                dict.fromkeys(
                    (*self.notes, *(n for s in self.sources for n in s.notes), *named, *remarks.on_files(files))
                )
            ),
        )


@dataclass(frozen=True, slots=True)
class _Weight:
    """Progress of reading by the size of the files."""

    tell: Progress
    sizes: list[int]

    def of(self, number: int, name: str) -> Callable[[float], None]:
        """What the reader of the file `number` calls with the share of the file that it has read."""
        every = max(sum(self.sizes), 1)
        before, mine = sum(self.sizes[:number]), self.sizes[number]
        return lambda share: self.tell(f"loading {name}", 0.1 + 0.65 * ((before + share * mine) / every))


@contextmanager
def _opened(store: Path) -> Iterator[None]:
    """Hold the writer lock; a folder that was made for this load goes again where nothing was published."""
    new = not store.exists()
    try:
        store.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        if not isinstance(error, FileExistsError | NotADirectoryError):
            raise _unwritable(store, error) from error
        raise FleetlensError(
            "a store is a folder, and this is a file", where=str(store), do="name a folder, or one that isn't there yet"
        ) from None
    try:
        with lock.writing(store):
            yield
    except (OSError, duckdb.IOException) as error:
        raise _unwritable(store, error) from error
    finally:
        if new and snapshots.current(store) is None:
            snapshots.forget(store)


def _unwritable(store: Path, error: Exception) -> FleetlensError:
    return FleetlensError(
        f"the store can't be written: {str(error).splitlines()[0]}",
        where=str(store),
        do="check the room on the disk and the rights of the folder, and load again: the store is as it was",
    )


def _known(proposals: str | None) -> str | None:
    """The setting of the odometer, if it is one."""
    if proposals not in (None, odometer.PROPOSE, odometer.APPLY):
        raise FleetlensError(
            f"odometer proposals can't be {proposals!r}",
            do=f"{odometer.PROPOSE} (only list them) or {odometer.APPLY} (use them)",
        )
    return proposals


def _names(paths: Sequence[Path]) -> list[str]:
    """The files as people tell them apart: their names, or their whole paths where names are the same."""
    names = [path.name for path in set(paths)]  # one file may give rows of several tables
    return [str(path) if names.count(path.name) > 1 else path.name for path in paths]


def _silent(what: str, share: float) -> None:
    """No one wants to know."""
