"""fleetlens: the view across workshop jobs.

Load job histories into a store, then ask it: each question gives a `Finding` with its rows, its method and what was
left out.
"""

from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.headlines import headlines
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.policies import policies
from fleetlens.errors import FleetlensError
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.fleet import overview
from fleetlens.findings.lives import component_lives
from fleetlens.findings.recurrence import recurrent_failures
from fleetlens.findings.vehicles import vehicle_history
from fleetlens.intake.load import load
from fleetlens.output.files import write
from fleetlens.sample import make_sample
from fleetlens.store.reader import open_store

__all__ = [
    "Filters",
    "Finding",
    "FleetlensError",
    "Given",
    "choose",
    "cleaning_intervals",
    "comebacks",
    "component_lives",
    "headlines",
    "load",
    "make_sample",
    "open_store",
    "overview",
    "policies",
    "recurrent_failures",
    "recurring_codes",
    "vehicle_history",
    "write",
]
