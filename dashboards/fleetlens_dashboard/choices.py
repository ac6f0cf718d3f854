"""What the user chooses, kept in the address: a view can be sent to a colleague.

Each widget's key is its name in the address. A value that the address asks for and the store doesn't know is said, not
dropped in silence.
"""

from collections.abc import Mapping, Sequence
from typing import Literal

import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens.findings import filters as known
from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.evidence import period
from fleetlens.findings.filters import Filters
from fleetlens.findings.fleet import failing_components
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.vehicles import vehicle_ids
from fleetlens.vocabulary.actions import REPAIRING
from fleetlens.vocabulary.components import carbon_prone
from fleetlens_dashboard import show
from fleetlens_dashboard.record import answer

VEHICLE_FILTERS = ("model", "duty", "depot")


def filter_widgets() -> list[str]:
    """The filters of vehicles, which hold on every page; returns what the address asked of them in vain."""
    values = answer(known.choices)
    in_vain = [sentence for name in VEHICLE_FILTERS for sentence in _unknown(name, values[name])]
    for name in VEHICLE_FILTERS:
        st.multiselect(
            COLUMNS[name].label, values[name], key=name, placeholder="all", bind="query-params", filter_mode="contains"
        )
    return in_vain


def filters(component: str | None = None) -> Filters:
    """The filters as they are set, and the component if one is given."""
    chosen = {name: tuple(st.session_state.get(name, ())) for name in VEHICLE_FILTERS}
    return Filters(**chosen, component=(component,) if component else ())


def component_or_all() -> str | None:
    """A component, or None for all of them."""
    values = answer(known.choices)["component"]
    _mind("component", values)
    return st.selectbox(
        "Component", values, index=None, key="component", placeholder="all", bind="query-params", filter_mode="contains"
    )


def component() -> str:
    """A component; at first the carbon-prone one that fails most, else the one that fails most.

    Ends the page with a sentence where the record names no component.
    """
    values = answer(known.choices)["component"]
    if not values:
        show.nothing("No job in this store names a component yet.")
        st.stop()
    failing = answer(failing_components).rows["component"].to_list()
    first = next((name for name in failing if carbon_prone(name)), next(iter(failing), values[0]))
    _mind("component", values)
    chosen = st.selectbox(
        "Component",
        values,
        index=values.index(first),
        key="component",
        bind="query-params",
        filter_mode="contains",
    )
    return chosen or first


def split_by(key: str, keys: Sequence[str], default: Sequence[str], label: str = "Split by") -> list[str]:
    """By which of `keys` the figures are split, kept in the address under `key`."""
    labels = {COLUMNS[name].label: name for name in keys}
    _mind(key, list(labels))
    chosen = st.multiselect(
        label,
        list(labels),
        default=[COLUMNS[name].label for name in default],
        key=key,
        placeholder="nothing: all together",
        bind="query-params",
    )
    return [labels[label] for label in chosen]


def one_of(label: str, key: str, values: Sequence[str], first: int = 0) -> str:
    """One of `values`, which aren't empty; at first the one at the place `first`."""
    _mind(key, values)
    chosen = st.selectbox(
        label, values, index=min(first, len(values) - 1), key=key, bind="query-params", filter_mode="contains"
    )
    return chosen or values[0]


def one_or_none(label: str, key: str, values: Sequence[str], placeholder: str) -> str | None:
    """One of `values`, or None before one is chosen."""
    _mind(key, values)
    return st.selectbox(
        label, values, index=None, key=key, placeholder=placeholder, bind="query-params", filter_mode="contains"
    )


def some_of(label: str, key: str, values: Sequence[str], placeholder: str) -> list[str]:
    """Some of `values`, or none."""
    _mind(key, values)
    return st.multiselect(label, values, key=key, placeholder=placeholder, bind="query-params", filter_mode="contains")


def code(codes: Sequence[str]) -> str | None:
    """One of the codes on the page, or None."""
    _mind("code", codes)
    return st.selectbox(
        "Show the jobs of this code",
        codes,
        index=None,
        key="code",
        placeholder="choose a code, or a row of the table",
        bind="query-params",
        filter_mode="contains",
    )


def vehicle() -> str | None:
    """A vehicle, or None before one is chosen."""
    ids = answer(vehicle_ids)
    _mind("vehicle", ids)
    return st.selectbox(
        "Vehicle",
        ids,
        index=None,
        key="vehicle",
        placeholder="type its number",
        bind="query-params",
        filter_mode="contains",
    )


def distances() -> tuple[float, ...]:
    """The distances at which survival is told, in km; empty for round ones.

    Raises FleetlensError for what is no distance.
    """
    told = st.text_input("Share surviving at (km)", key="at", placeholder="round distances", bind="query-params") or ""
    try:
        km = tuple(float(part) for part in told.replace(" ", "").split(",") if part)
    except ValueError:
        km = (-1.0,)
    if not all(0 < each < float("inf") for each in km):
        raise FleetlensError(f"these aren't distances: {told!r}", do="such as 50000, 100000")
    return km


def window() -> tuple[int, int]:
    """The window inside which a repair can come back: days and km."""
    days = st.number_input("Within days", min_value=1, max_value=3650, value=90, key="days", bind="query-params")
    km = st.number_input(
        "and within km", min_value=1, max_value=1_000_000, value=5000, step=500, key="km", bind="query-params"
    )
    return int(days or 90), int(km or 5000)


def join_days() -> int | None:
    """Within how many days jobs of a vehicle are one visit; None where each is its own."""
    days = st.number_input(
        "Join jobs within days", min_value=0, max_value=365, value=None, key="join_days", placeholder="each by itself",
        bind="query-params",
    )  # fmt: skip
    return None if days is None else int(days)


def ahead_of(codes: Sequence[str]) -> str:
    """A component or one of `codes`, before which signs are looked for; at first as in `component`.

    Ends the page with a sentence where there is none.
    """
    failing = answer(failing_components).rows["component"].to_list()
    if not failing and not codes:
        show.nothing("No failure is confirmed and no code is logged in this store yet.")
        st.stop()
    first = next((at for at, name in enumerate(failing) if carbon_prone(name)), 0)
    return one_of("Before failures of, or episodes of", "before", [*failing, *codes], first)


def look_back() -> dict[str, float | None]:
    """How far before a failure signs are looked for: in km where they are given, else in days."""
    days = st.number_input("Days before", min_value=1, max_value=3650, value=60, key="ahead_days", bind="query-params")
    km = st.number_input(
        "or km before", min_value=1, max_value=1_000_000, value=None, step=500, key="ahead_km", placeholder="by days",
        bind="query-params",
    )  # fmt: skip
    return {"days": None, "km": float(km)} if km else {"days": int(days or 60), "km": None}


def one_key(label: str, key: str, keys: Sequence[str], default: str) -> str:
    """One of `keys`, by its label, kept in the address under `key`."""
    labels = {COLUMNS["vehicle_id" if name == "vehicle" else name].label: name for name in keys}
    _mind(key, list(labels))
    chosen = st.selectbox(label, list(labels), index=list(labels.values()).index(default), key=key, bind="query-params")
    return labels[chosen] if chosen else default


def term() -> tuple[int, float | None]:
    """The warranty term of parts: months, and km or None."""
    months = st.number_input(
        "Term in months",
        min_value=1,
        max_value=240,
        value=24,
        key="months",
        bind="query-params",
        help="The record carries no terms. 24 months is common practice, no source; terms of single components can be "
        "set in fleetlens.toml.",
    )
    km = st.number_input(
        "or km", min_value=1, value=None, step=10_000, key="term_km", placeholder="no limit", bind="query-params"
    )
    return int(months or 24), float(km) if km else None


def days_around() -> int:
    """How many days before and after a campaign are looked at."""
    days = st.number_input(
        "Days before and after", min_value=1, max_value=3650, value=365, key="around", bind="query-params"
    )
    return int(days or 365)


def treatment() -> Treatment:
    """Which vehicles a campaign treated, and from which day."""
    ways = ("jobs with the reason campaign", "an action on the component", "all vehicles of a depot")
    _mind("treated_by", ways)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        way = st.selectbox("Treated are vehicles with", ways, key="treated_by", bind="query-params")
        part = action = depot = None
        if way == ways[1]:
            part = st.session_state.get("component")
            _mind("treated_action", REPAIRING)
            action = st.selectbox("Action", REPAIRING, key="treated_action", bind="query-params")
        elif way == ways[2]:
            depots = answer(known.choices)["depot"]
            _mind("treated_depot", depots)
            depot = st.selectbox("Depot treated", depots, key="treated_depot", bind="query-params")
        record = answer(period)
        from_on = st.date_input(
            "From one day on",
            value=None if depot is None else record.start,
            min_value=record.start,
            max_value=record.end,
            key="from_on" if depot is None else "depot_from_on",
            format="YYYY-MM-DD",
            bind="query-params",
            help="Blank: each vehicle from its first such job.",
        )
    return Treatment(part, action, depot, from_on=from_on)


def amount(label: str, key: str, blank: str = "as set, else learned") -> float | None:
    """An amount of money; None where it is left blank, which means what `blank` says."""
    return st.number_input(label, min_value=0.0, value=None, step=10.0, key=key, placeholder=blank, bind="query-params")


def prices() -> dict[str, float | None]:
    """Prices given with the question; None where one is left blank: as set in the preferences, else learned."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        return {
            "clean": amount("Price of a planned cleaning", "clean_price"),
            "replace": amount("Price of a planned replacement", "replace_price"),
            "failure": amount("Price of a failure", "failure_price"),
            "downtime_rate": amount("Price of an hour of downtime", "downtime_rate", blank="as set, else not priced"),
        }


def unknown_start() -> Literal["original", "leave-out"]:
    """What is done with lives that began before their vehicle's record."""
    leave = st.toggle(
        "Leave out lives of unknown start",
        key="leave_out",
        help="Lives that began before their vehicle's record. Otherwise they are taken for the original part, under "
        "observation from where the record begins.",
        bind="query-params",
    )
    return "leave-out" if leave else "original"


def order(columns: Mapping[str, str], key: str) -> str | None:
    """The column by which a long table is ordered, of headings and their columns; None as it was found.

    A table's own sorting can't be reached by keyboard and knows only the rows on the screen.
    """
    _mind(key, list(columns))
    heading = st.selectbox(
        "Order of the rows",
        list(columns),
        index=None,
        key=key,
        placeholder="as found",
        bind="query-params",
        width=320,
    )
    return columns[heading] if heading else None


def behind(label: str, key: str = "rows") -> bool:
    """Whether the rows behind the figures are shown."""
    return st.toggle(label, key=key, bind="query-params")


def _mind(key: str, values: Sequence[str]) -> None:
    """Say where the address asks for a value that isn't known here."""
    for sentence in _unknown(key, values):
        show.in_vain(sentence)


def _unknown(key: str, values: Sequence[str]) -> list[str]:
    """What the address asks for in vain. Streamlit drops it at once; it is remembered until something is chosen."""
    asked = [value for value in st.query_params.get_all(key) if value and value not in values]
    remembered: dict[str, list[str]] = st.session_state.setdefault("asked_in_vain", {})
    if asked:
        remembered[key] = asked
    elif st.session_state.get(key):
        remembered.pop(key, None)
    if key not in remembered:
        return []
    name = COLUMNS[key].label.lower() if key in COLUMNS else key
    told = ", ".join(repr(value) for value in remembered[key])
    return [f"The address asks for {name} {told}, which this store doesn't know: shown without it"]
