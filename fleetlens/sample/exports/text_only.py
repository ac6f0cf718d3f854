"""A list of job lines in which the work, codes, causes and checks stand only in the words of the workshop."""

import csv
import io
from collections.abc import Iterator

from fleetlens.sample.exports.histories import Tables, jobs
from fleetlens.sample.exports.shorthand import written

__all__ = ["files"]

HEADER = ("Card", "Van", "Day", "Clock", "Why in", "Line", "What we did")
VEHICLES = ("vehicle_id", "registration", "make", "model", "duty", "depot", "in_service_on", "in_service_km")
WHY = {
    "breakdown": "b/d",
    "defect": "drv defect",
    "scheduled": "svc",
    "inspection": "insp",
    "campaign": "campaign",
    "warranty": "warr",
}


def files(tables: Tables) -> dict[str, bytes]:
    """The list, and the list of the vans as the fleet has it."""
    vans = tables["vehicles"].select(*VEHICLES, "history_from", "left_service_on")
    return {"job lines.csv": _text(_rows(tables)), "vehicles.csv": vans.write_csv().encode()}


def _text(rows: Iterator[list[str]]) -> bytes:
    held = io.StringIO(newline="")
    made = csv.writer(held, lineterminator="\n")
    made.writerow(HEADER)
    made.writerows(rows)
    return held.getvalue().encode()


def _rows(tables: Tables) -> Iterator[list[str]]:
    for number, (job, codes, lines) in enumerate(jobs(tables)):
        clock = f"{job['odometer']:,} {job['odometer_unit']}" if job["odometer"] is not None else ""
        head = [job["job_id"], job["vehicle_id"], f"{job['opened_at']:%d %b %Y}", clock, WHY[job["reason"]]]
        for place, line in enumerate(written(number, codes, lines), 1):
            yield [*head, str(place), line]
