"""The cleaning plan as an iCalendar file (RFC 5545): one entry for each vehicle's visit."""

import hashlib
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import polars as pl
from icalendar import Calendar, Event

from fleetlens.advice.planning.plan import Plan
from fleetlens.vocabulary.components import label

__all__ = ["plan_calendar"]


def plan_calendar(plan: Plan, stamp: datetime | None = None) -> bytes:
    """The visits as entries that last the open days of their week and take nobody's time as busy.

    `stamp`: when the file was made (UTC), now without it. A visit keeps its identifier when it moves to another week of
    the same year, so that a calendar that reads the file again moves the entry.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//fleetlens//cleaning plan//EN")
    calendar.add("version", "2.0")
    for event in _visits(plan, stamp or datetime.now(UTC)):
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _visits(plan: Plan, stamp: datetime) -> Iterator[Event]:
    days = {row["week_from"]: (row["first_open_day"], row["last_open_day"]) for row in plan.weeks.rows.to_dicts()}
    tasks = plan.tasks.rows
    for rows in tasks.partition_by("week_from", "vehicle_id", maintain_order=True):
        event = Event()
        vehicle: str = rows["vehicle_id"][0]
        monday: date = rows["week_from"][0]
        first, last = days[monday]
        event.add("uid", _identifier(vehicle, monday, rows))
        event.add("dtstamp", stamp)
        event.add("dtstart", first)
        event.add("dtend", last + timedelta(days=1))  # the day after the last one
        event.add("summary", f"{vehicle}: {', '.join(_work(row) for row in rows.to_dicts())}")
        event.add("description", _description(rows, plan.tasks.cautions))
        if rows["depot"][0]:
            event.add("location", rows["depot"][0])
        event.add("transp", "TRANSPARENT")
        yield event


def _work(row: dict[str, Any]) -> str:
    where = f" {row['position']}" if row["position"] else ""
    return f"{row['action']} {label(row['component'])}{where}"


def _description(rows: pl.DataFrame, cautions: tuple[str, ...]) -> str:
    reasons = [f"{_work(row)} ({row['hours']:.1f} h). {row['why']}" for row in rows.to_dicts()]
    return "\n".join([*reasons, "", "Before anyone starts work:", *(f"- {caution}" for caution in cautions)])


def _identifier(vehicle: str, monday: date, rows: pl.DataFrame) -> str:
    parts = "|".join([vehicle, str(monday.year), *(_work(row) for row in rows.to_dicts())])
    return f"{hashlib.sha256(parts.encode()).hexdigest()[:32]}@fleetlens"
