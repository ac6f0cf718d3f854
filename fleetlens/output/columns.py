"""The columns that people are shown: figures joined with their limits, counts told as "3 of 41"."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import polars as pl

from fleetlens.output.flat import flat, heading, text_of
from fleetlens.output.words import UNKNOWN, harmless, interval, limits_of, say

# Columns that say which row it is; the others are figures about it.
KEYS = (
    *("component", "code", "job_id", "vehicle_id", "model", "duty", "depot", "workshop"),
    *("period", "with_code", "sign_is", "sign"),
    *("action", "began_as", "part_grade", "position", "model_year", "option", "cause", "check", "unit", "fate"),
)
NAMES = frozenset({"model_year", "load_id", "row", "position"})  # whole numbers that name something: no thousands mark
COUNTED = frozenset(
    {"share", "repairs", "lives", "vehicles", "events", "episodes", "failures", "rows", "jobs", "checks", "values"}
    | {"visits", "p"}
    | {"visits", "p"}
)
PARTS_OF = (
    ("failures", "lives", "Failed"),
    ("comebacks", "repairs", "Came back"),
    ("preceded", "happenings", "Preceded by it"),
    ("followed", "begun", "Followed by it"),
    ("preceded", "happenings", "Preceded by it"),
    ("followed", "begun", "Followed by it"),
    ("cleaned_failures", "cleaned_lives", "Failed after a cleaning"),
)

ESTIMATED = "≈"
WHY_UNKNOWN = {
    "description": "not in our list of codes",
    "with_description": "not in our list of codes",
    "rate_per_100k_km": "no distance under observation",
    "change": "nothing to compare with",
    "change_12m": "nothing to compare with, or a record of less than 24 months",
    "change_q": "nothing to compare with",
    "change_12m_q": "nothing to compare with, or a record of less than 24 months",
    "plain_lift": "one of the two is a supply fault itself, or only seen with one",
    "median_km": "half had not failed while they were observed",
    "shape": "too few failures for a Weibull fit",
    "characteristic_life_km": "too few failures for a Weibull fit",
    "b10_km": "too few failures for a Weibull fit",
    "median_labour_h": "no job of this cause records labour",
    "median_cost": "no job of this cause records a cost",
    "slope": "too few vehicles were measured before a failure",
    "at_failure": "too few vehicles were measured before a failure",
    "interval_km": "no interval is advised; see the verdict",
    "comeback_share": "no such repair was followed for so long",
    "warranty_credit": "no warranty of a new part is set, or this fits none",
    "flip_price": "the option has no price, or can't be compared",
    "expected_cost": "it can't be priced; see the notes",
    "cleanings": "no limit, or no schedule is advised",
    "policy": "no schedule is advised; see the verdict",
    "cost_per_1000km": "no schedule is advised; see the verdict",
    "cost_per_1000km_now": "the cost of today's practice isn't known",
    **{f"share_{days}d": "no repair was followed for so long" for days in (30, 60, 90)},
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column in words. `unknown` is the reason for its dashes, "" where there are none."""

    heading: str
    cells: tuple[str, ...]
    right: bool = False
    key: bool = False
    unknown: str = ""


def said_once(rows: pl.DataFrame) -> dict[str, str]:
    """What is the same in each row and better said above them, heading to value."""
    names = ["component", "vehicle_id", *(["km"] if "rate_per_100k_km" in rows.columns else [])]
    return {
        heading(name): say(rows[name][0], text_of(name).unit)
        for name in names
        if name in rows.columns and rows[name].n_unique() == 1
    }


def columns(rows: pl.DataFrame) -> list[Column]:
    """The columns for people, in the order of `rows`; limits stand with figures, parts with wholes."""
    table = flat(rows)
    above = said_once(rows)
    shown = {name for name in table.columns if heading(name) not in above}
    for name in table.columns:
        shown -= set(limits_of(name)) if set(limits_of(name)) <= shown else set()
    if {"complaint", "done"} <= shown:
        return list(_visits(table))
    return [_with_reason(name, one) for name in table.columns if name in shown for one in _column(table, name, shown)]


def _column(table: pl.DataFrame, name: str, shown: set[str]) -> Iterator[Column]:
    unit = text_of(name).unit
    values = table[name].to_list()
    low, high = limits_of(name)
    for part, whole, label in PARTS_OF:
        if {part, whole} <= shown and name in (part, whole):
            if name == whole:
                pairs = zip(table[part].to_list(), values, strict=True)
                yield Column(label, tuple(f"{say(few)} of {say(all_)}" for few, all_ in pairs), right=True)
            return
    if low in table.columns and high in table.columns:
        limits = zip(values, table[low].to_list(), table[high].to_list(), strict=True)
        yield Column(_short(name), tuple(interval(*three, unit) for three in limits), right=True)
    elif name in NAMES:
        yield Column(
            _short(name),
            tuple(UNKNOWN if value is None else str(value) for value in values),
            key=name in KEYS,
        )
    else:
        numeric = table[name].dtype.is_numeric()
        yield Column(_short(name), tuple(say(value, unit) for value in values), right=numeric, key=name in KEYS)


def _with_reason(name: str, column: Column) -> Column:
    dashes = any(cell.startswith(UNKNOWN) for cell in column.cells)
    why = "no life was observed so far" if name.startswith(("survival_", "incidence_")) else WHY_UNKNOWN.get(name, "")
    return replace(column, unknown=why if dashes else "")


def _short(name: str) -> str:
    """The heading for a screen: what is counted needs no unit, nor a share, which is shown in per cent."""
    return text_of(name).label if text_of(name).unit in COUNTED else heading(name)


def _visits(table: pl.DataFrame) -> Iterator[Column]:
    """A vehicle's visits: what belongs together stands in one cell, for twelve columns are too many."""
    rows = table.to_dicts()
    marks = {"recorded": "", "estimated": f"{ESTIMATED} ", "set aside": "not used: "}

    def odometer(row: dict[str, object]) -> str:
        return marks.get(str(row.get("odometer_is")), "") + say(row.get("odometer_km"), "km")

    def work(row: dict[str, object]) -> str:
        complaint, done, workshop = (harmless(str(row.get(name) or "")) for name in ("complaint", "done", "workshop"))
        hours, cost = row.get("downtime_h"), row.get("cost")
        effort = (
            workshop,
            f"{say(hours)} h down" if hours is not None else "",
            f"cost {say(cost)}" if cost is not None else "",
        )
        lines = (complaint and f"“{complaint}”", done and f"→ {done}", ", ".join(part for part in effort if part))
        return "\n".join(line for line in lines if line) or UNKNOWN

    yield Column("Opened, job", tuple(f"{say(row['opened_on'])} {say(row['job_id'])}" for row in rows), key=True)
    yield Column("Odometer (km)", tuple(odometer(row) for row in rows), right=True)
    yield Column("Reason", tuple(say(row.get("reason")) for row in rows))
    yield Column("Codes", tuple(say(row.get("codes")) for row in rows))
    yield Column("Complaint, work done, workshop, downtime, cost", tuple(work(row) for row in rows))
