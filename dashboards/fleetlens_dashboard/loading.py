"""Check, load and undo: the buttons, the progress, and what came of it."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import polars as pl
import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens.findings.finding import Finding, Period
from fleetlens.findings.refusals import by_rule
from fleetlens.intake.completeness import Origin
from fleetlens.intake.load import load
from fleetlens.intake.maps.written import write
from fleetlens.intake.report import COUNTS, LoadReport
from fleetlens.store import history, snapshots
from fleetlens.store.reader import current
from fleetlens_dashboard import show, tables
from fleetlens_dashboard.column_maps import Plan
from fleetlens_dashboard.record import place
from fleetlens_dashboard.uploads import REFUSED, Bench

SURE = "undo_sure"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a check or a load of this plan said, while the store shows this snapshot."""

    loaded: bool
    report: LoadReport
    asked: tuple[Any, ...]
    live: str | None


def offer(plan: Plan, bench: Bench) -> None:
    """The buttons that check and load the plan, and what came of them."""
    show.section("Check and load")
    try:
        origin = _origin()
    except FleetlensError as error:
        show.problem(error, "This period can't be.")
        return
    show.sentences(plan.hindrances)
    hindered = bool(plan.hindrances) or not plan.files
    with st.container(horizontal=True):
        check = st.button("Check", disabled=hindered, icon=":material/fact_check:")
        taken = st.button("Load", disabled=hindered, type="primary", icon=":material/database:")
    if check or taken:
        _run(plan, origin, bench, loaded=taken)
    outcome: Outcome | None = bench.said.get("outcome")
    if outcome is not None and outcome.asked == _asked(plan, origin) and outcome.live == current(place()):
        _tell(outcome, bench)


def offer_undo(bench: Bench) -> None:
    """The way back to the snapshot before the live one, asked for twice."""
    live = current(place())
    if undone := bench.said.pop("undone", None):
        st.success(f"Undone: {undone[0]} is taken back, the pages show {undone[1]} again.", icon=":material/undo:")
    if live is None:
        return
    show.section("Go back")
    if snapshots.before(place(), live) is None:
        st.text(f"No snapshot older than {live} is kept: there is nothing to go back to.")
        return
    if not st.session_state.get(SURE):
        st.button("Undo the last load", on_click=partial(_sure, True), icon=":material/undo:")
        return
    st.warning(
        f"This takes {live} back: the store shows what it showed before, to everyone. "
        "What is taken back goes for good with the next load.",
        icon=":material/undo:",
    )
    with st.container(horizontal=True):
        confirmed = st.button(f"Yes, take {live} back", type="primary")
        st.button("No, keep it", on_click=partial(_sure, False))
    if confirmed:
        _sure(False)
        try:
            bench.said["undone"] = history.undo(place())
        except FleetlensError as error:
            show.problem(error, "This can't be undone.")
            return
        st.rerun()


def _sure(sure: bool) -> None:
    st.session_state[SURE] = sure


def _asked(plan: Plan, origin: Origin | None) -> tuple[Any, ...]:
    """What tells one plan from another."""
    return (tuple(plan.files), tuple(map(write, plan.maps)), origin)


def _origin() -> Origin | None:
    """Where the files come from, and whether they are complete for a period; None where nothing is said."""
    with st.expander("Where the files come from, and whether they are complete for a period"):
        source = st.text_input(
            "Source of the files", placeholder="such as the name of a workshop", key="origin_source"
        ).strip()
        complete = st.toggle(
            "They hold every job of this source that was opened in a period",
            key="origin_complete",
            disabled=not source,
            help="Jobs of this source opened in the period that the files no longer hold are removed.",
        )
        if not source:
            return None
        if not complete:
            return Origin(source)
        with st.container(horizontal=True):
            start = st.date_input("First day", None, key="origin_start")
            end = st.date_input("Last day", None, key="origin_end")
        if start is None or end is None:
            st.text("Name both days: until then the files count as not complete.")
            return Origin(source)
        return Origin(source, start, end)


def _run(plan: Plan, origin: Origin | None, bench: Bench, *, loaded: bool) -> None:
    """Check or load, with progress."""
    refused = bench.folder / REFUSED
    shutil.rmtree(refused, ignore_errors=True)
    try:
        with _progress(loaded) as tell:
            report = load(
                plan.files,
                place(),
                maps=plan.maps,
                dry_run=not loaded,
                origin=origin,
                refused_to=refused,
                bare_names=True,
                progress=tell,
            )
    except FleetlensError as error:
        bench.said.pop("outcome", None)
        show.problem(bench.plain(error), "This can't be loaded as it is.")
        return
    bench.said["outcome"] = Outcome(loaded, report, _asked(plan, origin), current(place()))
    if loaded:
        st.rerun()  # the frame around the page shows the new snapshot


@contextmanager
def _progress(loaded: bool) -> Iterator[Any]:
    """What tells how far it is. Once the new snapshot is out nothing is told any more: that could stop the run."""
    with st.container():
        if loaded:
            st.text("Stay on this page: leaving it stops the load, and the store stays as it was.")
        told, bar = st.empty(), st.progress(0.0)

    def tell(what: str, share: float) -> None:
        if share < 1:
            told.text(what)
            bar.progress(share)

    yield tell
    told.empty()
    bar.empty()


def _tell(outcome: Outcome, bench: Bench) -> None:
    """What was found or done."""
    report = outcome.report
    if outcome.loaded and report.published:
        st.success(f"Loaded: the store shows {report.snapshot} from now on, and so do all pages.")
    elif outcome.loaded:
        st.info("Nothing new: the store is as it was.")
    else:
        st.info("Checked, and nothing was written: this is what a load would do.")
    files = [asdict(file) | {"path": file.path.name} for file in report.files]
    counts = [name for name in COUNTS if name != "rows_in"]
    rows = pl.DataFrame(files).select("path", pl.col("table").alias("table_name"), "rows_in", *counts)
    told = ", ".join(f"{getattr(report, name):,} {name.replace('_', ' ')}" for name in COUNTS)
    st.text(f"In all: {told}.")
    tables.table(_finding("rows of each file", rows, report), "report_files")
    show.sentences(map(bench.plain, report.notes))
    if report.refusals.is_empty():
        return
    show.section("Rows refused")
    tables.table(_finding("rules that rows broke", by_rule(report.refusals), report), "report_rules")
    refusals = report.refusals.with_columns(pl.col("path").map_elements(bench.plain, return_dtype=pl.String))
    show.downloads(_finding("refused rows", refusals, report), "report_refused")
    written = sorted((bench.folder / REFUSED).glob("*.csv"))
    if written:
        st.text("The refused rows whole, to be corrected and loaded again:")
    for path in written:
        st.download_button(
            f"Download {path.name}",
            partial(Path.read_bytes, path),
            file_name=path.name,
            mime="text/csv",
            key=f"report_{path.stem}",
            on_click="ignore",
            icon=":material/download:",
        )


def _finding(question: str, rows: pl.DataFrame, report: LoadReport) -> Finding:
    """Rows of a report, to be shown as any others."""
    method = "Rows in = accepted + repeated + refused, for every file."
    return Finding(question, rows, method, Period(None, None), report.snapshot or "no snapshot yet")
