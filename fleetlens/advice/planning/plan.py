"""The cleaning plan: which vehicles come in which week, for what and why; what had no room; what can't be dated."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.costs import preferences_of
from fleetlens.advice.planning import tables
from fleetlens.advice.planning.candidates import Strata, candidates
from fleetlens.advice.planning.packing import SECONDS, Packing, pack
from fleetlens.advice.planning.program import program, without
from fleetlens.advice.planning.savings import savings
from fleetlens.advice.planning.weeks import weeks as weeks_from
from fleetlens.advice.planning.wishes import AGREED, Wish
from fleetlens.advice.policies import policies
from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Count, Finding, Period
from fleetlens.store.preferences import Preferences
from fleetlens.store.reader import Snapshot

__all__ = ["PLAN_KEYS", "Plan", "agreed", "cleaning_plan", "day_after"]

PLAN_KEYS = ("model", "duty", "depot", "model_year")
METHOD = (
    "Parts whose policy is worth it, by age at the middle of each week. A week's saving is what doing the work then is "
    "worth against leaving it to the first service after the plan; for a part that isn't due within the plan also "
    "against doing it when due, on a visit of its own, whichever of the two costs less. Packed to save most under the "
    "hours and vehicles of each week, one visit a vehicle, by a mixed-integer program (HiGHS)."
)


@dataclass(frozen=True, slots=True)
class Plan:
    """`tasks`, one row a task with its week; `weeks`, how full each is; `parts`, what to order for each; `left`, tasks
    without a week, that would save money within the plan or are overdue; `apart`, parts that can't be dated.

    `saved`: money that the tasks are expected to save, with 95 % limits from the fits of the lives; `gap`: no plan
    saves more than this share above it.
    """

    tasks: Finding
    weeks: Finding
    parts: Finding
    left: Finding
    apart: Finding
    saved: float
    saved_low: float
    saved_high: float
    gap: float


def cleaning_plan(
    snapshot: Snapshot,
    *,
    first: date | None = None,
    weeks: int | None = None,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    wishes: Sequence[Wish] = (),
    preferences: Preferences | None = None,
    unknown_start: str = "original",
    seconds: float = SECONDS,
) -> Plan:
    """The plan from the day `first` (without it, the day after the record ends) for so many weeks.

    Raises FleetlensError for keys outside PLAN_KEYS, wishes that can't be held, and as policies does.
    """
    wanted = preferences_of(snapshot) if preferences is None else preferences
    for key in by:
        if key not in PLAN_KEYS:
            raise FleetlensError(f"a plan can't be split by {key!r}", do=f"one of: {', '.join(PLAN_KEYS)}")
    policy = policies(snapshot, component, by, filters=filters, unknown_start=unknown_start, preferences=wanted)
    begin = first or day_after(policy.finding.period)
    if begin is None:
        raise FleetlensError("the store holds no dated job, so no plan can begin", do="load jobs, or give --from")
    over = weeks_from(begin, wanted.plan.weeks if weeks is None else weeks, wanted.workshop)
    components = policy.strata["component"].unique().sort().to_list()
    bound = filters.bound()
    found = candidates(
        snapshot.frame("findings/running_parts", components=components, **bound),
        Strata(policy.strata, tuple(by)),
        snapshot.frame("findings/quarter_rates", **bound),
        over,
        wanted.service,
    )
    rows, notes = without(found.rows, wishes)
    numbers = program(rows, savings(rows, over, wanted.plan.visit_cost), over, wishes, wanted)
    packing = pack(numbers.tasks, numbers.room, seconds=seconds)
    tasks, drawn = tables.planned(rows, packing.week, numbers.tasks, over, wanted)
    low, high = np.quantile(drawn, [0.025, 0.975])
    base = replace(policy.finding, method=METHOD, cautions=CAUTIONS, notes=())
    part_numbers = snapshot.frame("findings/part_numbers", components=components, **bound)
    return Plan(
        tasks=replace(
            base,
            question="cleaning plan",
            rows=tasks,
            counted=(
                Count("planned", tasks.height, "tasks"),
                Count("come in", tasks["vehicle_id"].n_unique(), "vehicles"),
            ),
            excluded=(
                *policy.finding.excluded,
                Count("run where no schedule is worth it", found.unscheduled, "parts"),
                Count("can't be dated; listed apart", found.apart.height, "parts"),
            ),
            assumed=(*policy.finding.assumed, *numbers.assumed),
            notes=(*notes, *numbers.notes, _gap_note(packing)),
        ),
        weeks=replace(base, question="weeks of the plan", rows=tables.week_rows(tasks, over)),
        parts=replace(base, question="parts to order", rows=tables.parts(tasks, part_numbers)),
        left=replace(
            base,
            question="tasks without a week",
            rows=tables.left(rows, packing.week, numbers.tasks, wanted.plan.least_saving),
        ),
        apart=replace(base, question="parts that can't be dated", rows=tables.apart(found.apart)),
        saved=float(tasks["saving"].sum()),
        saved_low=float(low),
        saved_high=float(high),
        gap=packing.gap,
    )


def day_after(period: Period) -> date | None:
    """The day after the record, on which a plan begins unless told otherwise; None without a dated record."""
    return None if period.end is None else period.end + timedelta(days=1)


def _gap_note(packing: Packing) -> str:
    if packing.gap <= 1e-9:
        return "No plan under these limits saves more."
    return f"No plan under these limits saves more than {packing.gap:.1%} above this one."


def agreed(plan: Plan) -> tuple[Wish, ...]:
    """The dates of a plan as wishes of the next one."""
    rows: list[dict[str, Any]] = plan.tasks.rows.select("vehicle_id", "component", "position", "week_from").to_dicts()
    return tuple(
        Wish(AGREED, row["vehicle_id"], row["component"], row["position"] or None, row["week_from"]) for row in rows
    )
