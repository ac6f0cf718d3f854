"""Readings of one vehicle as tests write them, and their judgement in short."""

from datetime import datetime, timedelta

import polars as pl

from fleetlens.intake.odometer import judge

MILE = 1.609344  # km, by definition (international yard and pound agreement, 1959)
START = datetime(2024, 1, 1)
Reading = tuple[float, float]  # days after START, km
SCHEMA = pl.Schema(
    {
        "vehicle_key": pl.Int32,
        "read_at": pl.Datetime("us"),
        "km": pl.Float64,
        "source": pl.String,
        "job_key": pl.Int32,
    }
)


def frame(readings: list[Reading], vehicle: int = 1) -> pl.DataFrame:
    """The readings as the table that is judged."""
    rows = [
        (vehicle, START + timedelta(days=days), float(km), "job", number) for number, (days, km) in enumerate(readings)
    ]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def judged(readings: list[Reading], *, apply: bool = False) -> list[tuple[float, str, float, float | None]]:
    """Km as read, kind, km used and km proposed of each reading in time, rounded to the km."""
    rows = judge(frame(readings), apply=apply)
    rounded = rows.select("raw_km", "kind", "km", "proposed_km").with_columns(
        pl.col("raw_km", "km", "proposed_km").round(0)
    )
    return rounded.rows()


def touched(readings: list[Reading], *, apply: bool = False) -> list[tuple[float, str, float, float | None]]:
    """The same of the readings not used as read."""
    return [row for row in judged(readings, apply=apply) if row[1] != "as read"]


def steady(count: int, *, start: float = 60_000, pace: float = 100, gap: float = 15) -> list[Reading]:
    """Readings of a vehicle that runs `pace` km a day, every `gap` days."""
    return [(gap * number, start + pace * gap * number) for number in range(count)]
