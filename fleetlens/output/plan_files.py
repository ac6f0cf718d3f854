"""The cleaning plan to files: the ending of the name chooses the format."""

from collections.abc import Callable, Mapping
from typing import Any

from fleetlens.advice.planning.plan import Plan
from fleetlens.errors import FleetlensError
from fleetlens.output.delimited import csv
from fleetlens.output.parquet import parquet
from fleetlens.output.plan_calendar import plan_calendar
from fleetlens.output.plan_sheet import plan_sheet
from fleetlens.output.plan_workbook import plan_workbook
from fleetlens.output.records import as_text, evidence, plain

__all__ = ["PLAN_FORMATS", "plan_content", "plan_record"]


def plan_record(plan: Plan) -> dict[str, Any]:
    """The plan as plain values that JSON can hold."""
    return {
        "question": plan.tasks.question,
        "saved": {"expected": plan.saved, "low": plan.saved_low, "high": plan.saved_high},
        "gap": plan.gap,
        "rows": plain(plan.tasks.rows.to_dicts()),
        "weeks": plain(plan.weeks.rows.to_dicts()),
        "parts": plain(plan.parts.rows.to_dicts()),
        "without_a_week": plain(plan.left.rows.to_dicts()),
        "not_dated": plain(plan.apart.rows.to_dicts()),
        **evidence(plan.tasks),
    }


PLAN_FORMATS: Mapping[str, Callable[[Plan], bytes]] = {
    ".xlsx": plan_workbook,
    ".csv": lambda plan: csv(plan.tasks),
    ".parquet": lambda plan: parquet(plan.tasks),
    ".json": lambda plan: (as_text(plan_record(plan)) + "\n").encode(),
    ".ics": plan_calendar,
    ".pdf": plan_sheet,
}


def plan_content(plan: Plan, ending: str) -> bytes:
    """The bytes of a file with that ending. Raises FleetlensError for an ending that isn't in PLAN_FORMATS."""
    try:
        make = PLAN_FORMATS[ending.lower()]
    except KeyError:
        raise FleetlensError(
            f"a plan can't be written as {ending!r}", do=f"a name that ends in {', '.join(PLAN_FORMATS)}"
        ) from None
    return make(plan)
