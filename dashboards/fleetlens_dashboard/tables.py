"""A finding's rows as a table to look at, sort and choose from.

A figure stays a number, so that it sorts; beside it stand its limits in words. What is the same in each row is said
once, above.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from math import isnan
from typing import Any

import polars as pl
import streamlit as st

from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import named
from fleetlens.output.columns import COUNTED, NAMES, PARTS_OF, WHY_UNKNOWN, said_once
from fleetlens.output.delimited import guarded
from fleetlens.output.flat import flat, heading, text_of
from fleetlens.output.words import UNKNOWN, limits, limits_of, say
from fleetlens_dashboard import choices, links, show

PAGE = 200  # rows on a screen; the download has all
PIN_ABOVE = 9  # columns: the first one of a wider table stays in sight
FEW = 10  # rows that stand on the screen without scrolling
FOLDERS = r"^.*[/\\]"  # before the name of a file: the name is what tells, and a narrow column would cut it off
LIMITS = "95 % limits"
# Pixels, of columns with long text.
WIDTHS = {
    "description": 260,
    "complaint": 240,
    "done": 240,
    "path": 200,
    "sha256": 120,
    "why": 460,
    "examples": 460,
    "reason": 320,
}
SAID = {"vehicle_history": "History", "component_life": "Life"}  # heading over the links to a page

Row = dict[str, Any]


def table(
    finding: Finding,
    key: str,
    *,
    choose: bool | str = False,
    open_in: Mapping[str, str] | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    leave_out: Sequence[str] = (),
    empty: str = "Nothing to show: no row answers this question with these filters.",
) -> Row | None:
    """Show the rows; the row that is chosen, where one may `choose` one, else None.

    A word for `choose` names the column whose value is put into the address when a row is chosen. `open_in` names the
    page that a column's value opens, with `filters` where the page has them.
    """
    rows = finding.rows.drop(leave_out)
    if rows.is_empty():
        show.nothing(empty)
        return None
    once = said_once(rows)
    if once:
        st.text(" · ".join(f"{label}: {value}" for label, value in once.items()))
    part = _page(_ordered(rows, key), key)
    shown = guarded(_readable(part, once))  # the toolbar over a table saves it as CSV
    wide = shown.width > PIN_ABOVE
    config = {
        name: column_look(name, shown[name].dtype, pinned=wide and name == shown.columns[0]) for name in shown.columns
    }
    wording = {name: said for name in shown.columns if (said := _wording(name, shown[name]))}
    for column, page in (open_in or {}).items():
        if column in part.columns:
            addresses = _addresses(part[column], page, filters)
            shown.insert_column(shown.get_column_index(column) + 1 if column in shown.columns else 0, addresses)
            config[addresses.name] = st.column_config.LinkColumn(SAID[page], display_text="open")
    state = st.dataframe(
        shown.to_pandas().style.format(wording),
        hide_index=True,
        column_config=config,
        key=key,
        on_select=_on_select(key, part, choose),
        selection_mode="single-row",
        placeholder=UNKNOWN,
        alt=finding.question,
    )
    _unknown(part)
    chosen = state.selection.rows if choose else []
    return part.row(chosen[0], named=True) if chosen and chosen[0] < part.height else None


def behind(what: str, ask: Callable[[], Finding], row: Row | None, keys: Sequence[str]) -> None:
    """On request the rows behind the figures, or behind the row that is chosen, with their vehicles' histories."""
    show.section(f"The {what} behind the figures")
    everything = choices.behind(f"Show all {what}")
    if row is None and not everything:
        st.text(f"Choose a row of the table of figures to see its {what}.")
        return
    rows = ask()
    if row is not None and not everything:
        known = [key for key in ("component", *keys) if key in row]
        rows = matching(rows, row, known)
        st.text(f"Those of {named(row, known)}.")
    table(rows, what, open_in={"vehicle_id": "vehicle_history"})
    show.downloads(rows, what)


def only(finding: Finding, names: Sequence[str]) -> Finding:
    """The finding with these columns only."""
    return replace(finding, rows=finding.rows.select(names))


def first(finding: Finding, names: Sequence[str]) -> Finding:
    """The finding with these columns in front."""
    return replace(finding, rows=finding.rows.select(*names, pl.exclude(names)))


def last(finding: Finding, names: Sequence[str]) -> Finding:
    """The finding with these columns, of long text, at the end."""
    return replace(finding, rows=finding.rows.select(pl.exclude(names), *names))


def matching(finding: Finding, row: Row, keys: Sequence[str]) -> Finding:
    """The finding with the rows that belong to the group `row` names by `keys`."""
    same = [pl.col(name).eq_missing(pl.lit(row[name], finding.rows.schema[name])) for name in keys]
    return replace(finding, rows=finding.rows.filter(same))


def _ordered(rows: pl.DataFrame, key: str) -> pl.DataFrame:
    """A long table's rows in the order asked for: figures from the highest, names and days from the first."""
    if rows.height <= FEW:
        return rows
    told = {heading(name): name for name, kind in rows.schema.items() if not kind.is_nested() and not _is_limit(name)}
    name = choices.order(told, f"{key}_order")
    return rows if name is None else rows.sort(name, descending=rows[name].dtype.is_numeric(), nulls_last=True)


def _is_limit(name: str) -> bool:
    return name in ("low", "high") or name.endswith(("_low", "_high"))


def _page(rows: pl.DataFrame, key: str) -> pl.DataFrame:
    """The rows of the page that is turned to."""
    pages = list(rows.iter_slices(PAGE))
    if len(pages) == 1:
        return rows
    turned = st.pagination(len(pages), key=f"{key}_page")
    st.text(f"{rows.height:,} rows, {PAGE} to a page; the download has all.")
    return pages[turned - 1]


def _readable(rows: pl.DataFrame, once: Mapping[str, str]) -> pl.DataFrame:
    """The columns to look at: limits in one column after their figure, "3 of 41" for a part and its whole."""
    spread = flat(rows)
    if "path" in spread.columns:
        spread = spread.with_columns(pl.col("path").str.replace(FOLDERS, ""))
    names = [name for name in spread.columns if heading(name) not in once]
    folded = {name: limits_of(name) for name in names if set(limits_of(name)) <= set(spread.columns)}
    ends = {end for pair in folded.values() for end in pair}
    columns: list[pl.Series] = []
    for name in names:
        if name in ends:
            continue
        column = spread[name]
        columns.append(column.fill_null(WHY_UNKNOWN.get(name, UNKNOWN)) if column.dtype == pl.String else column)
        if name in folded:
            low, high = folded[name]
            columns.append(_limits(spread, name, low, high))
        for few, whole, label in PARTS_OF:
            if name == few and whole in spread.columns:
                columns[-1] = _parts(spread, few, whole, label)
    return pl.DataFrame(columns)


def _limits(rows: pl.DataFrame, name: str, low: str, high: str) -> pl.Series:
    unit = text_of(name).unit
    figures = rows.select(name, low, high).iter_rows()
    told = [limits(figure, lower, upper, unit) or None for figure, lower, upper in figures]
    return pl.Series(f"{name}: {LIMITS}", told, dtype=pl.String)


def _parts(rows: pl.DataFrame, few: str, whole: str, label: str) -> pl.Series:
    return pl.Series(label, [f"{say(a)} of {say(b)}" for a, b in rows.select(few, whole).iter_rows()], dtype=pl.String)


def _addresses(values: pl.Series, page: str, filters: Filters) -> pl.Series:
    """Where each value opens: a vehicle's history knows no filters."""
    key, kept = ("vehicle", Filters()) if values.name == "vehicle_id" else (values.name, filters)
    addresses = [links.address(page, links.parameters(kept, **{key: str(value)})) for value in values]
    return pl.Series(f"open {values.name}", addresses, dtype=pl.String)


def _on_select(key: str, rows: pl.DataFrame, choose: bool | str) -> Any:
    """What happens when a row is chosen."""
    if isinstance(choose, str):
        return partial(_take, key, rows[choose], choose)
    return "rerun" if choose else "ignore"


def _take(key: str, values: pl.Series, into: str) -> None:
    """Put the value of the row that was chosen in the table `key` into the address."""
    rows = st.session_state[key].selection.rows
    if rows:
        st.session_state[into] = values[rows[0]]


def _wording(name: str, column: pl.Series) -> Callable[[Any], str] | None:
    """How a value of the column is said; None where the data frame's own way will do."""
    if not column.dtype.is_numeric():
        return None
    unit = text_of(name).unit

    def said(value: float) -> str:
        if isnan(value):
            return UNKNOWN
        if name in NAMES:
            return f"{value:.0f}"
        return say(int(value) if column.dtype.is_integer() else value, unit)

    return said


def column_look(name: str, kind: pl.DataType, *, pinned: bool) -> Any:
    """The heading of a column and its meaning; a pinned one stays in sight."""
    figure = name.removesuffix(f": {LIMITS}")
    words = text_of(figure)
    if figure != name:
        return st.column_config.TextColumn(LIMITS, help=f"{words.label}: {words.meaning}", alignment="right")
    label = words.label if words.unit in COUNTED else heading(name)
    if kind == pl.Date:
        return st.column_config.DateColumn(label, help=words.meaning, format="YYYY-MM-DD")
    if isinstance(kind, pl.Datetime):
        return st.column_config.DatetimeColumn(label, help=words.meaning, format="YYYY-MM-DD HH:mm")
    return st.column_config.Column(label, help=words.meaning or None, width=WIDTHS.get(name), pinned=pinned)


def _unknown(rows: pl.DataFrame) -> None:
    """Why a figure is a dash."""
    why = {
        f"{UNKNOWN} {text_of(name).label}: {reason}"
        for name, reason in WHY_UNKNOWN.items()
        if name in rows.columns and rows[name].dtype.is_numeric() and rows[name].null_count()
    }
    if why:
        st.text("\n".join(sorted(why)))
