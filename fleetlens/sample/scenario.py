"""The invented fleet: its region, makes, models, duties, depots and workshops, and the record that is kept of it.

Parcels, council and utilities vans in the invented Vale of Osmere. Every name and figure here is made up.
"""

from dataclasses import dataclass
from datetime import date

RECORD_FROM = date(2020, 7, 1)
RECORD_TO = date(2026, 6, 30)

TAKEOVER_ON = date(2022, 4, 1)
"""The day the vans of the council contract came in, and with it the first day their jobs were recorded."""


@dataclass(frozen=True, slots=True)
class Model:
    """A model of van; `service_km` is its service interval, `mark` its part of an invented vehicle number."""

    name: str
    make: str
    engine: str
    service_km: float
    weight: float
    mark: str


@dataclass(frozen=True, slots=True)
class Duty:
    """How a van lives, and how far it goes in a year."""

    name: str
    km_per_year: float
    weight: float


@dataclass(frozen=True, slots=True)
class Depot:
    """Where a van is based; `workshop` does most of its jobs; `programme`: it takes part in planned cleaning."""

    name: str
    workshop: int
    weight: float
    programme: bool


@dataclass(frozen=True, slots=True)
class Workshop:
    """A workshop.

    `checks` are the shares of its repairs whose checks are recorded as passed, recorded as not passed, and not
    recorded; `slips` multiplies the chance of bad workmanship; `equivalent` is the share of equivalent parts.
    """

    name: str
    odometer_unit: str
    labour_rate: float
    checks: tuple[float, float, float]
    slips: float
    equivalent: float


MODELS = (
    Model("Skiff", "Kestrane", "KD15", 20_000, 0.24, "SK15A"),
    Model("Lugger", "Kestrane", "KD22", 30_000, 0.22, "LG22A"),
    Model("Fell", "Morvik", "MV20", 25_000, 0.22, "FE20B"),
    Model("Drover", "Tarnbeck", "TB20", 25_000, 0.18, "DR20C"),
    Model("Wain", "Tarnbeck", "TB23", 30_000, 0.14, "WA23C"),
)

DUTIES = (
    Duty("multi-drop", 26_000, 0.38),
    Duty("motorway", 45_000, 0.24),
    Duty("idling", 14_000, 0.18),
    Duty("site", 18_000, 0.20),
)

DEPOTS = (
    Depot("Osmere", 0, 0.30, True),
    Depot("Harlbridge", 1, 0.24, False),
    Depot("Tolloway", 2, 0.20, True),
    Depot("Sandreth", 3, 0.18, False),
    Depot("Wexmoor", 4, 0.08, False),
)
TAKEOVER_DEPOT = 4

WORKSHOPS = (
    Workshop("Osmere Central", "km", 68.0, (0.70, 0.05, 0.25), 0.8, 0.25),
    Workshop("Harlbridge Lane", "km", 64.0, (0.50, 0.06, 0.44), 1.0, 0.35),
    Workshop("Tolloway Yard", "km", 66.0, (0.60, 0.05, 0.35), 1.0, 0.30),
    Workshop("Sandreth Motor Works", "mi", 59.0, (0.30, 0.08, 0.62), 1.6, 0.55),
    Workshop("Wexmoor Mobile Unit", "km", 74.0, (0.45, 0.05, 0.50), 1.2, 0.40),
)
OWN_WORKSHOP = 0.78
"""Share of jobs done by the depot's own workshop; the rest go to any of the others."""

# Who is in the fleet
BEFORE_RECORD = 0.28  # in service before the record began: history_from is the first day of the record
TAKEN_OVER = 0.08  # came with the council contract
SECOND_HAND = 0.10  # bought used, every followed component renewed by the seller
LEAVES = 0.20

# Visits
INSPECTION_DAYS = 182
PROGRAMME_FROM = date(2022, 1, 1)
PROGRAMME_SHARE = 0.75  # of the vans of the depots that take part
CAMPAIGN_MODEL = 1
CAMPAIGN_COMPONENT = "egr_valve"
CAMPAIGN_FROM = date(2023, 3, 1)
CAMPAIGN_DAYS = 150
CAMPAIGN_SHARE = 0.6

# Comebacks
SLIP = (0.015, 0.12, 0.05)
"""Chance that a repair in a fault job was badly done: checks passed, not passed, not recorded (before `slips`)."""
SLIP_IS_SHORT_LIFE = 0.2
"""Share of bad repairs after which the part itself fails again; the others are put right by an adjustment."""
SLIP_DAYS = (5.0, 75.0)
SLIP_KM = 4_500.0
"""It shows after a number of days drawn from SLIP_DAYS, or a distance drawn from 0.05 to 1 of SLIP_KM if that
comes first. A wrong first diagnosis is put right, and a return where nothing is found comes, after a gap drawn the
same way."""
NOTHING_FOUND = 0.035
"""Chance that a fault job with a code is followed by a visit for the same code where nothing is found."""
MINOR_JOBS_PER_HALF_YEAR = 0.18
"""Visits for no failure that is followed: a small repair, soot to burn off, a flat battery, or nothing at all."""

ODOMETER_DAYS = 45
ODOMETER_TYPO = 0.001
ODOMETER_MISSING = 0.03
