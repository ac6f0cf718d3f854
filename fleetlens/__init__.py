"""fleetlens: the view across workshop jobs.

Load job histories into a store, then ask it: each question gives a `Finding` with its rows, its method and what was
left out.
"""

from fleetlens.advice.backtesting.backtest import backtest
from fleetlens.advice.bench import cause_split
from fleetlens.advice.choose import choose
from fleetlens.advice.costs import Given
from fleetlens.advice.headlines import headlines
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.planning.plan import cleaning_plan
from fleetlens.advice.policies import policies
from fleetlens.errors import FleetlensError
from fleetlens.findings.campaign import campaign
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.cost import costs
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.fleet import overview
from fleetlens.findings.forerunners import forerunners
from fleetlens.findings.lives import component_lives
from fleetlens.findings.measurements import measurements
from fleetlens.findings.recurrence import recurrent_failures
from fleetlens.findings.together import codes_together
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.trends import rates_by_period
from fleetlens.findings.vehicles import vehicle_history
from fleetlens.findings.warranty import warranty_totals
from fleetlens.intake.load import load
from fleetlens.output.files import write
from fleetlens.sample import make_sample
from fleetlens.store.reader import open_store

__all__ = [
    "Filters",
    "Finding",
    "FleetlensError",
    "Given",
    "Treatment",
    "backtest",
    "campaign",
    "cause_split",
    "choose",
    "cleaning_intervals",
    "cleaning_plan",
    "codes_together",
    "comebacks",
    "component_lives",
    "costs",
    "forerunners",
    "headlines",
    "load",
    "make_sample",
    "measurements",
    "open_store",
    "overview",
    "policies",
    "rates_by_period",
    "recurrent_failures",
    "recurring_codes",
    "vehicle_history",
    "warranty_totals",
    "write",
]
