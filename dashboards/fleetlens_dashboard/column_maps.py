"""What was found in each sheet that comes in, and the map it is read through: given, remembered or suggested."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

import polars as pl
import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens.findings.vehicles import vehicle_ids
from fleetlens.intake.arrivals import Arrival, look_over
from fleetlens.intake.maps import memory, written
from fleetlens.intake.maps.column_map import ColumnMap
from fleetlens.intake.maps.preview import preview
from fleetlens.intake.maps.reading import line_reader
from fleetlens.intake.maps.shape import shape
from fleetlens.intake.maps.suggest import suggest
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.output.delimited import guarded
from fleetlens.output.words import harmless
from fleetlens.store.reader import current
from fleetlens_dashboard import show
from fleetlens_dashboard.record import answer, place
from fleetlens_dashboard.selectors import Draft, edited
from fleetlens_dashboard.uploads import MAP, Bench


@dataclass(slots=True)
class Plan:
    """What a load takes: the files and maps; `hindrances` say why it can't be done yet."""

    files: list[Path]
    maps: list[ColumnMap]
    hindrances: list[str]


def plan(paths: Sequence[Path], bench: Bench) -> Plan:
    """Show each sheet of the files, and settle with the user how it is read."""
    made = Plan([path for path in paths if path.suffix.lower() != MAP], [], [])
    given = _given([path for path in paths if path.suffix.lower() == MAP], made, bench)
    live = current(place())
    remembered = bench.once(("remembered", live), lambda: memory.remembered(place()))
    settled: dict[str, ColumnMap] = {}
    unused = list(given)
    for path in made.files:
        key = ("sheets", path, live, tuple(map(written.write, given)))
        try:
            sheets = bench.once(key, lambda path=path: look_over(path, given, remembered))  # type: ignore[misc] # bound now
        except FleetlensError as error:
            show.problem(bench.plain(error), "This file can't be loaded.")
            made.hindrances.append(f"{path.name} can't be loaded: take it out")
            continue
        for arrival in sheets:
            _sheet(arrival, len(sheets) > 1, settled, made, bench)
            unused = [one for one in unused if one != arrival.column_map]
    made.hindrances += [f"{bench.plain(one.where)} fits none of these files: take it out" for one in unused]
    # Of two maps that fit a sheet a load takes the first: let that be the one for it alone, or that knows more of it.
    made.maps = sorted(settled.values(), key=lambda one: (not one.file, not one.sheet, -len(one.columns)))
    return made


def _given(paths: Sequence[Path], made: Plan, bench: Bench) -> list[ColumnMap]:
    """The maps among the files."""
    found = []
    for path in paths:
        try:
            found.append(written.read(path))
        except FleetlensError as error:
            show.problem(bench.plain(error), "This column map can't be used.")
            made.hindrances.append(f"{path.name} can't be used: take it out")
    return found


def _sheet(arrival: Arrival, several: bool, settled: dict[str, ColumnMap], made: Plan, bench: Bench) -> None:
    """One sheet: what it is, and the map it needs, which goes to `settled` by the shape of its header."""
    sheet, kind = arrival.sheet, shape(arrival.sheet.columns)
    with st.container(border=True):
        st.text(harmless(sheet.name))
        st.text(harmless(f"Found: {', '.join((*arrival.told, f'{arrival.rows:,} rows'))}."))
        if arrival.table:
            st.text(f"It is the table {arrival.table}, by the names of its columns: no map is needed.")
            return
        prefix = f"{bench.folder.name}/{sheet.path.parent.name}/{sheet.part}"
        file = arrival.column_map.file if arrival.column_map else ""
        if file:
            kind = f"{kind}/{file}"
        if kind in settled:
            st.text("It has the columns of a sheet above, and is read through the same map.")
            if not st.toggle("Give it a map of its own", key=f"{prefix}/own"):
                settled[kind] = replace(settled[kind], sheet="")
                return
            file = sheet.path.name
            kind = f"{kind}/{file}"
        if several and not st.toggle("Load this sheet", value=True, key=f"{prefix}/wanted"):
            return
        meant = arrival.column_map and written.write(arrival.column_map)
        draft = None
        try:
            draft = bench.once(("draft", sheet.path, sheet.part, meant), lambda: _draft(arrival))
            column_map = _settle(arrival, draft, prefix)
            _look(sheet, column_map, bench, prefix)
        except FleetlensError as error:
            if draft is None and several:  # nothing in it was recognised
                st.text(harmless(f"It is left aside: {error.what}."))
                return
            show.problem(bench.plain(error), "This sheet can't be read so.")
            made.hindrances.append(f"{harmless(sheet.name)} can't be read so")
            return
        if count := len(column_map.open_questions):
            made.hindrances.append(f"{harmless(sheet.name)}: {count} to be answered")
        settled[kind] = replace(
            column_map, file=file, sheet=sheet.part
        )  # for this sheet, unless another one has its columns


def _draft(arrival: Arrival) -> Draft:
    """The map to start from: the one that is meant for the sheet, else a suggestion."""
    if arrival.column_map is not None:
        return Draft(arrival.column_map, {})
    known = frozenset(answer(vehicle_ids)) if current(place()) else frozenset()
    found = suggest(arrival.sheet, _today(), known)
    evidence = {choice.column: choice.evidence for choice in found.choices}
    return Draft(found.column_map, evidence, found.conclusions, found.questions)


def _settle(arrival: Arrival, draft: Draft, prefix: str) -> ColumnMap:
    """The map as the user leaves it. Raises FleetlensError where it can't be read so."""
    if arrival.column_map is None:
        st.text(harmless(f"It needs a column map: {arrival.why}. This is what is suggested."))
    else:
        whose = (
            "a map that came with the files" if arrival.given else "the map that the store remembers for its columns"
        )
        st.text(harmless(f"It is read through {whose}: {arrival.column_map.name}."))
        asked = bool(draft.column_map.open_questions)
        if not asked and not st.toggle("Change the map", key=f"{prefix}/change"):
            return draft.column_map
    show.sentences(draft.conclusions)
    return edited(arrival.sheet, draft, prefix, _today())


def _look(sheet: Sheet, column_map: ColumnMap, bench: Bench, prefix: str) -> None:
    """The first rows as they would be loaded, and the map as a file."""
    text = written.write(column_map)
    first = bench.once(
        ("preview", sheet.path, sheet.part, text), lambda: preview(sheet, column_map, line_reader(place()), _today())
    )
    st.markdown("**The first rows as they would be loaded**")
    for table, rows in first.items():
        filled = [name for name in rows.columns if rows[name].null_count() < rows.height]
        if not filled:
            st.text(f"Table {table}: no rows among those looked at.")
            continue
        st.text(f"Table {table}")
        st.dataframe(_harmless(rows.select(filled)).to_pandas(), hide_index=True, alt=f"First rows of {table}")
    st.download_button(
        "Download the map (TOML)",
        text,
        file_name=f"{sheet.path.stem}{MAP}",
        mime="application/toml",
        key=f"{prefix}/toml",
        on_click="ignore",
        icon=":material/download:",
    )


def _harmless(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows for the screen, whose toolbar saves them as CSV: formulas are broken, numbers stand as they are."""
    texts = [name for name, kind in rows.schema.items() if kind == pl.String]
    number = {name: pl.col(name).str.contains(r"^[-+]?\d[\d.,]*$") for name in texts}
    kept = rows.select(pl.when(number[name]).then(pl.col(name)).alias(name) for name in texts)
    return guarded(rows).with_columns(kept[name].fill_null(guarded(rows)[name]) for name in texts)


def _today() -> date:
    return datetime.now().astimezone().date()
