"""The tables of vans, fitted components and fuel-card readings."""

import numpy as np
import polars as pl

from fleetlens.sample import scenario
from fleetlens.sample.chance import Chance, Ints
from fleetlens.sample.fleet import RECORD_END, Fleet
from fleetlens.sample.frames import dates, moments, named, numbered, seconds, where
from fleetlens.sample.parts import PARTS

# Weights and letter values of the VIN check digit: 49 CFR 565 (from memory).
_WEIGHTS = np.array([8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2])
_CHARACTERS, _VALUES = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ", "012345678912345678123457923456789"
_YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"  # 2010 is A

_MAKER = "G0X"  # a country code that is given to nobody (from memory)


def vin(fleet: Fleet, year: Ints) -> list[str]:
    """Vehicle identification numbers with a right check digit, of a maker that doesn't exist."""
    text = np.full((fleet.number.size, 17), ord("0"), np.uint8)
    text[:, :3] = np.frombuffer(_MAKER.encode(), np.uint8)
    marks = np.array([list(model.mark.encode()) for model in scenario.MODELS], np.uint8)
    text[:, 3:8] = marks[fleet.model]
    text[:, 9] = np.frombuffer(_YEARS.encode(), np.uint8)[(year - 2010) % 30]
    text[:, 10] = ord("V")
    for place in range(6):
        text[:, 16 - place] = ord("0") + (fleet.number // 10**place) % 10
    values = np.zeros(128, np.int64)
    for letter, value in zip(_CHARACTERS, _VALUES, strict=True):
        values[ord(letter)] = int(value)
    rest = (values[text] * _WEIGHTS).sum(axis=1) % 11
    text[:, 8] = np.where(rest == 10, ord("X"), ord("0") + rest)
    return [row.decode() for row in text.view("S17").ravel().tolist()]


def identifiers(number: Ints) -> pl.Series:
    """The fleet's own identifiers of vans."""
    return numbered("V", number, 6)


def vehicles(chance: Chance, fleet: Fleet) -> pl.DataFrame:
    """The table of vans."""
    used = fleet.in_service_km > 1_000
    year = 1970 + fleet.in_service.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64)
    year = year - np.where(used, chance.pick((0.3, 0.5, 0.2), "used years", fleet.number) + 1, 0)
    said = fleet.late | chance.happens(0.6, "says history", fleet.number)
    return pl.DataFrame(
        {
            "vehicle_id": identifiers(fleet.number),
            "registration": numbered("OV", 1000 + fleet.number // 1000, 4) + numbered(" ", fleet.number % 1000, 3),
            "vin": vin(fleet, year),
            "make": named([model.make for model in scenario.MODELS], fleet.model),
            "model": named([model.name for model in scenario.MODELS], fleet.model),
            "model_year": year,
            "engine": named([model.engine for model in scenario.MODELS], fleet.model),
            "duty": named([duty.name for duty in scenario.DUTIES], fleet.duty),
            "depot": named([depot.name for depot in scenario.DEPOTS], fleet.depot),
            "in_service_on": dates(fleet.in_service),
            "in_service_km": fleet.in_service_km.astype(np.int64),
            "history_from": where(said, dates(fleet.seen_from)),
            "left_service_on": where(fleet.left, dates(fleet.until)),
        }
    ).with_columns(fuel=pl.lit("diesel"))  # fmt: skip


def fitted() -> pl.DataFrame:
    """The table of the components that each model carries."""
    return pl.DataFrame(
        [
            {"model": model.name, "component": part.component, "count": part.count}
            for at, model in enumerate(scenario.MODELS) for part in PARTS if part.by_model[at]
        ]
    )  # fmt: skip


def odometer(chance: Chance, fleet: Fleet) -> pl.DataFrame:
    """Readings from fuel cards: the first and last day of each van's record and every few weeks between.

    About one in a thousand of those between is mistyped: a digit too many, or one too few.
    """
    every = scenario.ODOMETER_DAYS
    counts = (fleet.until - fleet.seen_from - 12) // every
    van = np.repeat(np.arange(fleet.number.size), counts + 2)
    at = np.arange(van.size) - np.repeat(np.cumsum(counts + 2) - counts - 2, counts + 2)
    last = at == (counts + 1)[van]
    keys = (fleet.number[van], at)
    day = fleet.seen_from[van] + every * at + np.where(at > 0, chance.between(-9, 9, "reading day", *keys), 0.05)
    day = np.where(last, fleet.until[van] + np.where(fleet.left[van], 0.0, -0.1), day)
    km = np.floor(fleet.odometer(van, np.minimum(day, float(RECORD_END))))
    typo = chance.happens(scenario.ODOMETER_TYPO, "typo", *keys) & (at > 0) & ~last & (km > 2_000)
    longer = chance.happens(0.5, "typo kind", *keys)
    km = np.where(typo, np.where(longer, km * 10 + 7, np.floor(km / 10)), km)
    return pl.DataFrame(
        {
            "vehicle_id": identifiers(fleet.number[van]),
            "read_at": moments(seconds(day)),
            "odometer": km.astype(np.int64),
        }
    ).with_columns(odometer_unit=pl.lit("km"), source=pl.lit("fuel card"))
