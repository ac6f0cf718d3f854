"""The cleaning plan on paper: a PDF with a page for each week, its tasks, reasons, parts to order and the cautions."""

import json
from importlib.resources import files
from typing import Any

import polars as pl
import typst

from fleetlens.advice.planning.plan import Plan
from fleetlens.output.words import UNKNOWN
from fleetlens.vocabulary.components import label

__all__ = ["plan_sheet"]

_HEADINGS = ("Vehicle", "Mark", "Work", "Hours", "Due about", "Why", "Done by")


def plan_sheet(plan: Plan) -> bytes:
    """A4 across, set by Typst with the fonts it carries: Latin, Greek and Cyrillic letters are sure."""
    template = files("fleetlens.output").joinpath("plan_sheet.typ").read_bytes()
    return bytes(typst.compile(template, sys_inputs={"plan": json.dumps(_words(plan))}))


def _words(plan: Plan) -> dict[str, Any]:
    tasks = plan.tasks
    weeks = {row["week_from"]: row for row in plan.weeks.rows.to_dicts()}
    return {
        "title": f"Cleaning plan, record {tasks.period}",
        "footer": f"fleetlens: cleaning plan from {tasks.snapshot}, record {tasks.period}. It advises; it never "
        "postpones a safety inspection or the repair of a defect.",
        "headings": _HEADINGS,
        "order": "To have ready",
        "before": "Before anyone starts work",
        "nothing": "No task is planned in these weeks.",
        "cautions": tasks.cautions,
        "weeks": [
            {
                "title": f"Week of {monday:%d %B %Y}",
                "told": _told(weeks[monday]),
                "tasks": [_task(row) for row in rows.to_dicts()],
                "order": [_order(row) for row in plan.parts.rows.filter(pl.col("week_from") == monday).to_dicts()],
            }
            for (monday,), rows in tasks.rows.group_by("week_from", maintain_order=True)
        ],
    }


def _told(week: dict[str, Any]) -> str:
    return (
        f"Open {week['first_open_day']} to {week['last_open_day']}, {week['open_days']} days. {week['vehicles']} of "
        f"{week['vehicles_room']} vehicles, {week['hours']:.1f} of {week['hours_room']:.1f} hours."
    )


def _task(row: dict[str, Any]) -> list[str]:
    return [
        row["vehicle_id"],
        row["registration"] or UNKNOWN,
        " ".join(part for part in (row["action"].capitalize(), label(row["component"]), row["position"]) if part),
        f"{row['hours']:.1f}",
        str(row["due_on"] or UNKNOWN),
        row["why"],
    ]


def _order(row: dict[str, Any]) -> str:
    what = f"{row['quantity']} x {label(row['component'])}, {row['model'] or 'model unknown'}"
    if row["action"] == "clean":
        return f"{what}: gaskets and seals for the cleaning, as the maker's instructions say"
    return f"{what}: part {row['part_number']}, fitted most often so far" if row["part_number"] else f"{what}: new part"
