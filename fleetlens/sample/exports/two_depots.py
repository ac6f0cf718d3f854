"""Two depots' lists that know the vans by their registration marks: one writes d/m/y, the other m/d/y."""

import csv
import io
from collections.abc import Iterator

from fleetlens.sample.exports import office
from fleetlens.sample.exports.histories import Tables, jobs, one_of

__all__ = ["LOOKALIKES", "MONTH_FIRST", "files", "swapped"]

MONTH_FIRST = ("Harlbridge Lane", "Sandreth Motor Works")
"""Workshops whose jobs are in the list that writes the month first."""
LOOKALIKES = 40
"""One job in so many has a mark with the letter O for each nought: which is right can't be known from it."""

HEADER = ("Ticket", "Plate", "Came", "Went", "Clock", "km/mi", "Kind", "Shop", "Codes")
LINE = ("Line", "Part", "Done", "Found", "Hours", "Labour", "Parts")
VEHICLES = ("vehicle_id", "registration", "vin", "make", "model", "duty", "depot", "in_service_on", "in_service_km")


def files(tables: Tables) -> dict[str, bytes]:
    """Both lists, and the list of the vans with number and mark."""
    vans = tables["vehicles"].select(*VEHICLES, "history_from", "left_service_on")
    return {
        "north.csv": _text(_rows(tables, "%d/%m/%Y %H:%M", month_first=False)),
        "south.csv": _text(_rows(tables, "%m/%d/%Y %H:%M", month_first=True)),
        "vehicles.csv": vans.write_csv().encode(),
    }


def swapped(tables: Tables) -> list[str]:
    """The jobs whose mark is mistaken, by number."""
    return [job["job_id"] for at, (job, _, _) in enumerate(jobs(tables)) if _mistaken(at)]


def _text(rows: Iterator[list[str]]) -> bytes:
    held = io.StringIO(newline="")
    made = csv.writer(held, delimiter="\t", lineterminator="\r\n")
    made.writerow([*HEADER, *LINE])
    made.writerows(rows)
    return held.getvalue().encode("utf-8-sig")


def _rows(tables: Tables, form: str, *, month_first: bool) -> Iterator[list[str]]:
    marks = {row["vehicle_id"]: row["registration"] for row in tables["vehicles"].iter_rows(named=True)}
    for at, (job, codes, lines) in enumerate(jobs(tables)):
        if (job["workshop"] in MONTH_FIRST) != month_first:
            continue
        closed = f"{job['closed_at']:{form}}" if job["closed_at"] else ""
        clock = [_cell(job["odometer"]), job["odometer_unit"] or ""]
        told = [office.REASONS[job["reason"]], job["workshop"], "|".join(codes)]
        head = [job["job_id"], _mark(marks[job["vehicle_id"]], at), f"{job['opened_at']:{form}}", closed, *clock, *told]
        for line in lines:
            work = [office.component(line["component"]), office.ACTIONS[line["action"]], line["cause"] or ""]
            sums = [_cell(line[name]) for name in ("labour_h", "labour_cost", "parts_cost")]
            yield [*head, str(line["line"]), *work, *sums]


def _mark(mark: str, at: int) -> str:
    """A mark as one or the other hand has typed it."""
    if _mistaken(at):
        return mark.replace("0", "O")
    bare = mark.replace(" ", "")
    spelt = (mark, mark, bare, bare.lower(), mark.replace(" ", "-"), f" {mark[:2]} {mark[2:]} ")
    return one_of(spelt, "mark", at)


def _mistaken(at: int) -> bool:
    return one_of(tuple(range(LOOKALIKES)), "mistaken", at) == 0


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}" if isinstance(value, float) else str(value)
