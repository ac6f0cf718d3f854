"""One wide list of job lines in cp1252 with semicolons, as an old office program prints it; German words."""

import csv
import io
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import Any

from fleetlens.sample.exports import german
from fleetlens.sample.exports.histories import Job, Tables, jobs, one_of, to_cents

__all__ = ["files"]

PAGE = 60  # lines of a page, after which the title and the header are printed again
TITLE = "Auftragsliste Fuhrpark Osmere – Stand 30.06.2026"
JOB = (
    *("Auftrag-Nr.", "Fzg-Nr.", "Kennzeichen", "Annahme", "Fertigstellung", "Zählerstand", "Einheit", "Anlass"),
    *("Werkstatt", "Monteur", "Standzeit Std.", "Fehlercodes"),
)
LINE = (
    *("Pos.", "Bauteil", "Tätigkeit", "Befund", "Einbaulage", "Teile-Nr.", "Qualität", "Menge", "Arbeitszeit"),
    *("Lohn €", "Material €", "Bemerkung"),
)
VEHICLE = (
    *("Fzg-Nr.", "Kennzeichen", "Fahrgestellnummer", "Hersteller", "Modell", "Baujahr", "Motor", "Kraftstoff"),
    *("Einsatz", "Standort", "Erstzulassung", "km bei Zugang", "Akte ab", "Abgang am"),
)
READING = ("Fzg-Nr.", "Getankt am", "Zählerstand", "Einheit", "Quelle")

Cells = list[str]


def files(tables: Tables) -> dict[str, bytes]:
    """The list of jobs, the list of vehicles and the fuel card's readings."""
    return {
        "Auftragsliste.csv": b"sep=;\r\n" + _encoded([[TITLE], [], *_pages(tables)]),
        "Fahrzeuge.csv": _encoded([list(VEHICLE), *_vehicles(tables)]),
        "Tankkarte.csv": _encoded([list(READING), *_readings(tables)]),
    }


def _encoded(rows: list[Cells]) -> bytes:
    held = io.StringIO(newline="")
    csv.writer(held, delimiter=";", lineterminator="\r\n").writerows(rows)
    return held.getvalue().encode("cp1252")


def _pages(tables: Tables) -> Iterator[Cells]:
    """The lines with the total of each month below it, and the head of each page above it."""
    header = [*JOB, *LINE]
    for number, row in enumerate(_rows_and_totals(tables)):
        if number % PAGE == 0:
            if number:
                yield [TITLE]
            yield header
        yield row
    yield ["Gedruckt am 01.07.2026 um 07:30 Uhr"]


def _rows_and_totals(tables: Tables) -> Iterator[Cells]:
    months: dict[tuple[int, int], list[Job]] = {}
    for job in jobs(tables):
        opened = job[0]["opened_at"]
        months.setdefault((opened.year, opened.month), []).append(job)
    marks = {row["vehicle_id"]: row["registration"] for row in tables["vehicles"].iter_rows(named=True)}
    at = 0
    for (year, month), mine in months.items():
        for values, codes, lines in mine:
            at += 1
            head = _job(values, codes, marks[values["vehicle_id"]], at)
            for line in lines:
                yield [*head, *_line(line)]
                head = [""] * len(JOB)
        yield _total(f"Summe {german.MONTHS[month - 1]} {year}", [line for job in mine for line in job[2]])


def _job(job: Mapping[str, Any], codes: list[str], mark: str, at: int) -> Cells:
    return [
        job["job_id"],
        job["vehicle_id"],
        mark,
        _moment(job["opened_at"]),
        _moment(job["closed_at"]),
        _whole(job["odometer"]),
        job["odometer_unit"] or "",
        german.REASONS[job["reason"]],
        job["workshop"],
        job["technician"],
        _amount(job["downtime_h"]),
        _codes(codes, at),
    ]


def _line(line: Mapping[str, Any]) -> Cells:
    return [
        str(line["line"]),
        german.COMPONENTS[line["component"]],
        german.ACTIONS[line["action"]],
        german.CAUSES[line["cause"]] if line["cause"] else "",
        (line["position"] or "").replace("cylinder ", "Zylinder "),
        line["part_number"] or "",
        german.GRADES[line["part_grade"]] if line["part_grade"] else "",
        _whole(line["quantity"]),
        _amount(line["labour_h"]),
        _amount(line["labour_cost"]),
        _amount(line["parts_cost"], " €"),
        german.NOTES[line["note"]] if line["note"] else "",
    ]


def _total(name: str, lines: list[dict[str, Any]]) -> Cells:
    hours, labour, parts = (
        _amount(to_cents([line[column] for line in lines])) for column in ("labour_h", "labour_cost", "parts_cost")
    )
    return [name, *[""] * (len(JOB) + 7), hours, labour, f"{parts} €", ""]


def _vehicles(tables: Tables) -> Iterator[Cells]:
    for row in tables["vehicles"].iter_rows(named=True):
        named = [row[name] for name in ("vehicle_id", "registration", "vin", "make", "model")]
        kept = [row["engine"], "Diesel", german.DUTIES[row["duty"]], row["depot"]]
        came = [_day(row["in_service_on"]), _whole(row["in_service_km"])]
        yield [*named, str(row["model_year"]), *kept, *came, _day(row["history_from"]), _day(row["left_service_on"])]


def _readings(tables: Tables) -> Iterator[Cells]:
    for row in tables["odometer"].sort("read_at", "vehicle_id").iter_rows(named=True):
        yield [row["vehicle_id"], _moment(row["read_at"]), _whole(row["odometer"]), "km", "Tankkarte"]


_SPELLINGS: tuple[Callable[[str], str], ...] = (
    str,
    str,
    str.lower,
    lambda code: f"{code[0]} {code[1:]}",
    lambda code: f"{code[0]}-{code[1:]}",
    lambda code: f"{code[0]}O{code[2:]}" if code[1] == "0" else code,  # a letter O for the zero
    lambda code: f"DTC:{code}",
)


def _codes(codes: list[str], at: int) -> str:
    """The codes of a job in one cell, as one or the other hand has typed them."""
    spelt = [one_of(_SPELLINGS, "spelling", at, place)(code) for place, code in enumerate(codes)]
    return one_of((", ", " / ", "; ", "\n"), "between codes", at).join(spelt)


def _moment(value: datetime | None) -> str:
    return f"{value:%d.%m.%Y %H:%M}" if value else ""


def _day(value: date | None) -> str:
    return f"{value:%d.%m.%Y}" if value else ""


def _whole(value: float | None) -> str:
    """Whole numbers with a dot at the thousands."""
    return f"{round(value):,}".replace(",", ".") if value is not None else ""


def _amount(value: float | None, sign: str = "") -> str:
    """Two places behind a comma, a dot at the thousands."""
    return f"{value:,.2f}{sign}".translate(str.maketrans(",.", ".,")) if value is not None else ""
