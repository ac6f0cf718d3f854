"""The selectors of a column map: what each column is, how it is read, what its words mean."""

import re
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from fleetlens.intake.maps import changing
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap, Origin, question
from fleetlens.intake.readers.sheet import Sheet
from fleetlens.output.words import harmless
from fleetlens.vocabulary.tables import tables
from fleetlens_dashboard import show

AS_SAID = "as each value says"
BLANK = "left blank"
_FOR_WRITERS = r" Write |: set (?:date_order|decimal|currency) "  # what follows is for those who write the map
BASES = (1900, 1904)  # the years from which spreadsheets count their days
LABELS = {
    "date_order": "Order of the dates",
    "decimal": "Decimal mark",
    "unit": "Unit of the distances",
    "currency": "Currency that is taken",
    "text": "Free text: codes and work are read from it",
}
WORDS: dict[str, dict[str, str]] = {
    "date_order": {
        "day_first": "day first, 31/12/2024",
        "month_first": "month first, 12/31/2024",
        "year_first": "year first, 2024-12-31",
    },
    "decimal": {",": "comma, 1.234,5", ".": "point, 1,234.5"},
    "unit": {"km": "kilometres", "mi": "miles"},
}


@dataclass(frozen=True, slots=True)
class Draft:
    """A map to start from, with what speaks for each column, what was concluded and what is asked."""

    column_map: ColumnMap
    evidence: Mapping[str, Sequence[str]]
    conclusions: Sequence[str] = ()
    questions: Sequence[str] = ()


def edited(sheet: Sheet, draft: Draft, prefix: str, today: date) -> ColumnMap:
    """The map as the selectors say; `prefix` begins their keys. Raises FleetlensError where it can't be read so."""
    questions = st.container()
    if draft.column_map.open_questions:
        questions.markdown("**To be answered**")
    st.markdown("**What each column is**")
    uses, places = _uses(sheet, draft, prefix)
    for table, ours in _without_column(draft.column_map):
        with questions:
            name = st.selectbox(
                f"Which column is {table}.{ours}?", sheet.columns, index=None, key=f"{prefix}/{table}.{ours}"
            )
        if name:
            uses[name].append(f"{table}.{ours}")
    column_map = changing.reassign(sheet, draft.column_map, uses, today)
    if column_map.kind == "wide":
        once = st.toggle(
            "What belongs to a job stands on its first row only",
            value=column_map.first_row_only,
            key=f"{prefix}/first_row_only",
        )
        column_map = replace(column_map, first_row_only=once)
    answers = _answers(sheet, draft, column_map, prefix, places | {UNDECIDED: questions})
    with st.expander("More settings: one value for the whole file, time zones, old spreadsheets"):
        values = _constants(column_map, prefix)
        if "jobs" in column_map.tables:
            stands_before = st.text_input(
                "Prefix of the job numbers",
                column_map.job_prefix,
                max_chars=20,
                key=f"{prefix}/job_prefix",
                help="Where another source has the same numbers, such as N- for the north yard.",
            ).strip()
            column_map = replace(column_map, job_prefix=stands_before)
        for key, told in _of_dates(column_map, prefix).items():
            answers[key] = answers.get(key, {}) | told
    column_map = changing.answer(column_map, answers)
    return column_map if values == changing.constants_of(column_map) else changing.with_constants(column_map, values)


def _constants(column_map: ColumnMap, prefix: str) -> dict[str, str]:
    """Our columns that have one value for the whole file, with the value."""
    known = changing.constants_of(column_map)
    taken = {key for keys in changing.uses_of(column_map).values() for key in keys}
    chosen = st.multiselect(
        "One value for the whole file",
        [key for key in changing.KEYS if key not in taken],
        default=list(known),
        key=f"{prefix}/constants",
        placeholder="none",
        filter_mode="contains",
        wrap=True,
    )
    told = {
        key: st.text_input(f"Value of {key}", known.get(key, ""), key=f"{prefix}/constant/{key}").strip()
        for key in chosen
    }
    return {key: value for key, value in told.items() if value}


def _of_dates(column_map: ColumnMap, prefix: str) -> dict[str, dict[str, Any]]:
    """What is set of each column of dates beside its order: the zone, the base of day numbers, the century."""
    found: dict[str, dict[str, Any]] = {}
    zones = ["", *sorted(zoneinfo.available_timezones())]
    for key in changing.dated_of(column_map):
        table, _, ours = key.partition(".")
        origin = column_map.tables[table][ours]
        with st.container(border=True):
            st.text(key)
            zone = st.selectbox(
                f"Times with an offset are turned into the time of: {key}",
                zones,
                index=zones.index(origin.zone) if origin.zone in zones else 0,
                format_func=lambda name: name or "left as they are written",
                key=f"{prefix}/{key}/zone",
            )
            base = st.selectbox(
                f"Day numbers of spreadsheets count from: {key}",
                BASES,
                index=BASES.index(origin.date_base or BASES[0]),
                key=f"{prefix}/{key}/date_base",
            )
            mend = st.toggle(
                f"Years before 1950 are a hundred years off: {key}",
                value=origin.mend_century,
                key=f"{prefix}/{key}/mend_century",
            )
        found[key] = {"zone": zone, "date_base": 0 if base == BASES[0] else base, "mend_century": mend}
    return found


def _answers(
    sheet: Sheet,
    draft: Draft,
    column_map: ColumnMap,
    prefix: str,
    places: Mapping[str, DeltaGenerator],
) -> dict[str, dict[str, Any]]:
    """The keys as the selectors say: what is open is asked above, the rest stands beside its column."""
    found: dict[str, dict[str, Any]] = {}
    for table, mine in column_map.tables.items():
        for ours, origin in mine.items():
            if not origin.column or origin.column == UNDECIDED:
                continue
            for key in changing.keys_of(table, ours, origin):
                asked, name = key in origin.open_keys, f"{table}.{ours}"
                with places[UNDECIDED if asked else origin.column]:
                    if asked:
                        st.text(harmless(_sentence(draft, table, ours, key, origin)))
                    told = _key(sheet, name, origin, key, f"{prefix}/{name}/{key}/{origin.column}")
                found.setdefault(name, {})[key] = told
    return found


def _uses(sheet: Sheet, draft: Draft, prefix: str) -> tuple[dict[str, list[str]], dict[str, DeltaGenerator]]:
    """A selector for each column: what the columns are, and where the keys of each find room."""
    uses, places, suggested = {}, {}, changing.uses_of(draft.column_map)
    for number, name in enumerate(sheet.columns, 1):
        with st.container(border=True):
            left, right = st.columns(2)
            with left:
                st.text(f"{number}. {harmless(name) or 'without a name'}")
                show.sentences(draft.evidence.get(name, ()))
            with right:
                uses[name] = st.multiselect(
                    f"Column {number} is",
                    changing.KEYS,
                    default=suggested.get(name, []),
                    key=f"{prefix}/{number}",
                    placeholder="left aside",
                    filter_mode="contains",
                    wrap=True,
                )
                places[name] = st.container()
    return uses, places


def _without_column(column_map: ColumnMap) -> list[tuple[str, str]]:
    """What can't be missing and was found nowhere."""
    return [
        (table, ours)
        for table, mine in column_map.tables.items()
        for ours, origin in mine.items()
        if origin.column == UNDECIDED
    ]


def _sentence(draft: Draft, table: str, ours: str, key: str, origin: Origin) -> str:
    """The question as the suggestion put it, with what it saw; else in general."""
    if key == "values":
        return f"{table}.{ours}: column {origin.column!r}: what do these words mean?"
    starts = (f"{table}.{ours}.{key}: ", f"{table}.{ours}: ")
    said = next((one for one in draft.questions if one.startswith(starts)), question(table, ours, key, origin.column))
    return re.split(_FOR_WRITERS, said)[0]


def _key(sheet: Sheet, ours: str, origin: Origin, key: str, widget: str) -> Any:
    """One key of the map for `ours` (table.column), as it is set in a selector; "?" while nothing is chosen."""
    label, value = f"{LABELS.get(key, key)}: {ours}", getattr(origin, key)
    if key == "text":
        return st.toggle(label, value=value, key=widget)
    if key == "currency":
        told = st.text_input(label, "" if value == UNDECIDED else value, max_chars=3, placeholder="EUR", key=widget)
        return told.upper() or UNDECIDED
    if key == "values":
        return _values(ours, origin, widget)
    words = dict(WORDS[key])
    if key == "unit":
        words |= {f"from column {name}": f"as column {name} says" for name in sheet.columns if name != origin.column}
    if value != UNDECIDED:
        words = {"": AS_SAID} | words
    index = list(words).index(value) if value in words else None
    chosen = st.selectbox(label, list(words), index=index, format_func=words.__getitem__, key=widget)
    return value if chosen is None else chosen


def _values(ours: str, origin: Origin, widget: str) -> dict[str, str]:
    """What each of their words means."""
    table, _, name = ours.partition(".")
    allowed = next(column.allowed for column in tables()[table].columns if column.name == name)
    found = {}
    for number, (theirs, meaning) in enumerate(origin.values.items(), 1):
        options = [*allowed, ""]
        with st.container(horizontal=True, vertical_alignment="center"):
            st.text(f"{harmless(theirs)!r} means", width=220)
            chosen = st.selectbox(
                f"Word {number} of {ours}",
                options,
                index=options.index(meaning) if meaning in options else None,
                format_func=lambda option: option or BLANK,
                key=f"{widget}/{number}",
                label_visibility="collapsed",
                width=260,
            )
        found[theirs] = meaning if chosen is None else chosen
    return found
