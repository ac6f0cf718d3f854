"""The cleaning plan as an XLSX workbook: a sheet a week, one for the reasons, one for the parts to order."""

import io

import polars as pl
import xlsxwriter

from fleetlens.advice.planning.plan import Plan
from fleetlens.output.flat import flat
from fleetlens.output.workbook import OPTIONS, about_sheet, rows_sheet

__all__ = ["plan_workbook"]

_OF_A_WEEK = (
    "vehicle_id",
    "registration",
    "component",
    "position",
    "action",
    "hours",
    "chance_before_service",
    "due_on",
    "saving",
    "saving_low",
    "saving_high",
    "wish",
    "depot",
)
_REASONS = ("week_from", "vehicle_id", "component", "position", "action", "why")


def plan_workbook(plan: Plan) -> bytes:
    """Sheets: how full the weeks are, each week with work, reasons, parts, without a week, not dated, about."""
    held = io.BytesIO()
    tasks = plan.tasks.rows
    columns: dict[str, None] = {}

    def sheet(name: str, rows: pl.DataFrame) -> None:
        table = flat(rows)
        columns.update(dict.fromkeys(table.columns))
        rows_sheet(book, name, table)

    with xlsxwriter.Workbook(held, OPTIONS) as book:
        sheet("Weeks", plan.weeks.rows)
        for monday in tasks["week_from"].unique().sort():
            sheet(f"Week of {monday}", tasks.filter(pl.col("week_from") == monday).select(_OF_A_WEEK))
        sheet("Reasons", tasks.select(_REASONS))
        sheet("Parts to order", plan.parts.rows)
        sheet("Without a week", plan.left.rows)
        sheet("Not dated", plan.apart.rows)
        about_sheet(book, plan.tasks, list(columns))
    return held.getvalue()
