"""Two reports of the last two months, made a month apart: the later one corrects the earlier one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import polars as pl

from fleetlens.sample.exports import office
from fleetlens.sample.exports.histories import Tables

__all__ = ["FIRST", "SECOND", "THIRD", "Corrections", "corrections", "files", "true"]

FIRST, SECOND, THIRD = date(2026, 4, 1), date(2026, 5, 1), date(2026, 6, 1)
"""The first days of the months: the earlier report has April and May, the later one May and June."""

HEADER = {
    "job_id": "Card no",
    "vehicle_id": "Van",
    "opened_at": "In",
    "closed_at": "Out",
    "odometer": "Clock",
    "odometer_unit": "Unit",
    "reason": "Kind",
    "complaint": "Driver says",
    "workshop": "Shop",
    "codes": "Codes",
    "line": "Line",
    "component": "Part",
    "action": "Done",
    "cause": "Found",
    "part_number": "Part no",
    "quantity": "Qty",
    "labour_h": "Hours",
    "labour_cost": "Labour",
    "parts_cost": "Parts",
}
_LINE = ("line", "component", "action", "cause", "part_number", "quantity", "labour_h", "labour_cost", "parts_cost")

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Corrections:
    """The jobs that the reports treat in a way of their own, by number.

    `mistyped`: its odometer, complaint and labour costs are wrong in the earlier report and right in the later one.
    `misplaced`: booked on the wrong van under this number, in the earlier report only. `credited`: has a part that was
    fitted and credited two days later on a card of its own. `doubled`: there again under a second number.
    `supplemented`: its last line stands on a card of its own, opened the next day.
    """

    mistyped: str
    misplaced: str
    credited: str
    doubled: str
    supplemented: str


def files(tables: Tables) -> dict[str, bytes]:
    """Both reports, the list of the vans, whose record begins with the first, and what their models carry."""
    mine, found = true(tables), corrections(tables)
    rows = _rows(mine, found)
    known = {f"{name}.csv": mine[name].write_csv().encode() for name in ("vehicles", "fitted")}
    earlier = [_mistyped(row) if row["job_id"] == found.mistyped else row for row in rows if _opened(row) < THIRD]
    earlier += _misplaced(rows, found)
    later = [row for row in rows if _opened(row) >= SECOND]
    return {"2026-05 report.csv": _text(earlier), "2026-06 report.csv": _text(later)} | known


def true(tables: Tables) -> Tables:
    """What the reports say once all their corrections are understood: the jobs opened from the first month on."""
    jobs = tables["jobs"].filter(pl.col("opened_at").dt.date() >= FIRST)
    vans = tables["vehicles"].filter(pl.col("left_service_on").is_null() | (pl.col("left_service_on") >= FIRST))
    vans = vans.with_columns(history_from=pl.max_horizontal("in_service_on", pl.lit(FIRST)))
    kept = {name: tables[name].join(jobs, on="job_id", how="semi") for name in ("job_codes", "job_actions")}
    return {"vehicles": vans, "fitted": tables["fitted"], "jobs": jobs} | kept


def corrections(tables: Tables) -> Corrections:
    """The jobs for each, the same in each run: the first of May that will do."""
    mine = true(tables)
    jobs = mine["jobs"].filter((pl.col("opened_at").dt.date() >= SECOND) & (pl.col("opened_at").dt.date() < THIRD))
    jobs = jobs.sort("opened_at", "job_id").filter(pl.col("odometer").is_not_null())
    fault = jobs.filter(pl.col("reason").is_in(["breakdown", "defect", "warranty"]))["job_id"].to_list()
    plain = jobs.filter(pl.col("reason").is_in(["scheduled", "inspection"]))["job_id"].to_list()
    last = {row["job_id"]: row["action"] for row in mine["job_actions"].iter_rows(named=True)}
    driven = next(job for job in fault if last[job] in ("road_test", "clear_codes", "relearn"))
    doubled, mistyped = [job for job in fault if job != driven][:2]
    return Corrections(mistyped, plain[0], plain[1], doubled, driven)


def _rows(tables: Tables, found: Corrections) -> list[Row]:
    """A row for each line, the cards of their own among them, in the order of the days."""
    codes = tables["job_codes"].group_by("job_id", maintain_order=True).agg(pl.col("code").str.join(", "))
    told = dict(codes.rows())
    lines: dict[str, list[Row]] = {}
    for line in tables["job_actions"].iter_rows(named=True):
        lines.setdefault(line["job_id"], []).append({name: line[name] for name in _LINE})
    rows: list[Row] = []
    for job in tables["jobs"].iter_rows(named=True):
        key = job["job_id"]
        head = {name: job.get(name) for name in HEADER if name not in _LINE} | {"codes": told.get(key)}
        mine = [head | line for line in lines[key]]
        if key == found.supplemented:
            mine = [*mine[:-1], _next_day(mine[-1], 1, f"{key}S")]
        if key == found.credited:
            mine += _credited(mine[-1])
        if key == found.doubled:
            mine += [row | {"job_id": f"{key}B"} for row in mine]
        rows += mine
    return sorted(rows, key=lambda row: (row["opened_at"], row["job_id"], row["line"]))


def _next_day(row: Row, days: int, number: str) -> Row:
    """The row on a card of its own, opened later; the van has not run in between."""
    opened = row["opened_at"] + timedelta(days=days)
    return row | {"job_id": number, "opened_at": opened, "closed_at": opened + timedelta(hours=1), "codes": None}


def _credited(last: Row) -> list[Row]:
    """A part fitted in the job, and its credit on a card of its own."""
    bare = dict.fromkeys(_LINE)
    fitted = {"line": last["line"] + 1, "component": "egr_valve", "action": "replace", "part_number": "CR-4410-X"}
    fitted |= {"quantity": 1, "labour_h": 1.0, "labour_cost": 68.0, "parts_cost": 240.0}
    back = {"line": 1, "action": "credit", "quantity": -1, "labour_h": -1.0, "labour_cost": -68.0, "parts_cost": -240.0}
    return [last | bare | fitted, _next_day(last, 2, f"{last['job_id']}C") | bare | fitted | back]


def _mistyped(row: Row) -> Row:
    wrong = {"odometer": row["odometer"] + 9_000, "complaint": "see card"}
    return row | wrong | ({"labour_cost": 2 * row["labour_cost"]} if row["labour_cost"] else {})


def _misplaced(rows: Sequence[Row], found: Corrections) -> list[Row]:
    """A job that never was, on the van of another: a part replaced after a breakdown."""
    model = next(row for row in rows if row["job_id"] == found.misplaced)
    work = {"line": 1, "component": "egr_valve", "action": "replace", "quantity": 1, "parts_cost": 240.0}
    told = {"job_id": f"{found.misplaced}X", "reason": "breakdown", "codes": "P0401", "complaint": "no power"}
    return [model | dict.fromkeys(_LINE) | work | told]


def _opened(row: Mapping[str, Any]) -> date:
    opened: datetime = row["opened_at"]
    return opened.date()


def _text(rows: Sequence[Row]) -> bytes:
    spelt = [
        row
        | {
            "reason": office.REASONS[row["reason"]],
            "component": office.component(row["component"]),
            "action": "Credit" if row["action"] == "credit" else office.ACTIONS[row["action"]],
        }
        for row in rows
    ]
    frame = pl.DataFrame(spelt, infer_schema_length=None).select(list(HEADER)).rename(HEADER)
    return frame.write_csv(float_precision=2, datetime_format="%Y-%m-%d %H:%M").encode()
