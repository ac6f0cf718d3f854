"""What a code turned out to be on this fleet: the causes that its own jobs confirmed."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding
from fleetlens.reliability.shares import LEARNED, NO_SPREAD, borrowed, dirichlet
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary.codes import normalise

__all__ = [
    "CAUSE",
    "COUNTED",
    "NEVER_SKIP",
    "CauseJobs",
    "cause_answer",
    "cause_jobs",
    "cause_rows",
    "confirmed_causes",
    "kept",
]

CAUSE = ["component", "cause"]
SHARES = ["share_of_causes", "share_of_causes_low", "share_of_causes_high"]
NEVER_SKIP = (
    "It tells what past jobs ended in, as far as they recorded it. It never means that a test may be skipped: "
    "the vehicle on the bench may be the next exception."
)
COUNTED = (
    "A cause is confirmed where a fault job that logged the code records it on work done to a component; "
    "a job with several counts for each."
)


@dataclass(frozen=True, slots=True)
class CauseJobs:
    """The jobs that logged the codes, on all models: a row for each confirmed cause, or one of nulls.

    `own` are those of the models kept, `others` those of the rest.
    """

    codes: tuple[str, ...]
    own: pl.DataFrame
    others: pl.DataFrame
    notes: tuple[str, ...]

    @property
    def causes(self) -> pl.DataFrame:
        """The confirmed causes of the models kept, a row a job and cause."""
        return self.own.filter(pl.col("cause").is_not_null())

    def counted(self) -> tuple[Count, ...]:
        """Jobs that logged the code, those with a cause, and the causes."""
        return (
            Count(f"observed and logged {' or '.join(self.codes)}", self.own["job_id"].n_unique(), "fault jobs"),
            Count("with at least one confirmed cause", self.causes["job_id"].n_unique(), "jobs"),
            Count("confirmed at them", self.causes.height, "causes"),
        )

    def excluded(self) -> tuple[Count, ...]:
        """Jobs that don't say what it was: none is guessed from the code."""
        silent = self.own["job_id"].n_unique() - self.causes["job_id"].n_unique()
        return evidence.some(silent, "no cause was confirmed at them, and none is guessed", "jobs")


def confirmed_causes(
    snapshot: Snapshot,
    codes: Sequence[str],
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The causes confirmed at fault jobs that logged any of `codes`, most likely first.

    `share_of_causes` is the posterior mean with its 95 % limits, of all confirmed causes; it leans on the other models
    where `filters` name a model. Hours and cost are medians of the whole jobs. A component in `filters` keeps its rows,
    the shares stay those of all causes. Raises FleetlensError for what is no fault code, for no code, and for a filter
    value that the store doesn't know. Sources of the shares: fleetlens.reliability.shares.
    """
    asked = cause_jobs(snapshot, codes, filters)
    causes, others = asked.causes, asked.others.filter(pl.col("cause").is_not_null())
    groups = pl.concat([causes, others]).select(CAUSE).unique().sort(CAUSE)
    shares, assumed = _shares(groups, causes, others, filters)
    rows = (
        groups.with_columns(shares)
        .join(_told(causes), on=CAUSE, how="left", maintain_order="left")
        .join(others.group_by(CAUSE).agg(elsewhere=pl.len()), on=CAUSE, how="left", maintain_order="left")
        .with_columns(pl.col("jobs", "elsewhere", "labour_jobs", "cost_jobs").fill_null(0).cast(pl.Int64))
        .sort(["share_of_causes", "jobs", *CAUSE], descending=[True, True, False, False], nulls_last=True)
        .select(
            *CAUSE, "jobs", "elsewhere", *SHARES, "median_labour_h", "labour_jobs", "median_cost", "cost_jobs",
        )
    )  # fmt: skip
    if not filters.model:
        rows = rows.drop("elsewhere")
    return cause_answer(
        snapshot,
        asked,
        filters,
        question="causes behind " + " ".join(asked.codes),
        rows=kept(rows, filters),
        method=(
            f"{COUNTED} Shares are Dirichlet posterior means with 95 % limits; labour and cost are medians of the "
            "whole jobs, amounts of 0 left out."
        ),
        assumed=assumed,
    )


def cause_rows(
    snapshot: Snapshot,
    codes: Sequence[str],
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The fault jobs that logged the codes, a row for each confirmed cause; blank where none was confirmed."""
    asked = cause_jobs(snapshot, codes, filters)
    return cause_answer(
        snapshot,
        asked,
        filters,
        question="jobs behind " + " ".join(asked.codes),
        rows=kept(asked.own, filters),
        method="One row is a fault job that logged the code and a cause confirmed at it; blank where none was.",
    )


def cause_jobs(snapshot: Snapshot, codes: Sequence[str], filters: Filters) -> CauseJobs:
    check(snapshot, filters)
    spelt = tuple(dict.fromkeys(_spelt(code) for code in codes))
    if not spelt:
        raise FleetlensError("no code is given", do="one or more, such as P0404 P0401")
    wide = filters.bound() | {"models": None}
    rows = snapshot.frame("findings/cause_jobs", codes=list(spelt), **wide)
    kept = pl.col("model").is_in(list(filters.model)).fill_null(value=False) if filters.model else pl.lit(value=True)
    own, others = rows.filter(kept), rows.filter(~kept)
    seen = set(own["codes"].str.split(", ").explode())
    unseen = [code for code in spelt if code not in seen]
    notes = (f"No observed fault job kept logged {', '.join(unseen)}.",) if unseen else ()
    return CauseJobs(spelt, own, others, notes)


def _spelt(text: str) -> str:
    code = normalise(text)
    if code is None:
        raise FleetlensError(f"{text!r} is no fault code", do="such as P0401, or 'SPN 1208 FMI 3'")
    return code.code


def _shares(
    groups: pl.DataFrame, causes: pl.DataFrame, others: pl.DataFrame, filters: Filters
) -> tuple[list[pl.Series], tuple[str, ...]]:
    """The SHARES of each of `groups`, and what is said of what they lean on."""
    own = _counts(groups, causes)
    if not groups.height:
        return [pl.Series(name, [], dtype=pl.Float64) for name in SHARES], ()
    if not filters.model or not others.height:
        told = "the other models have none to lean on" if filters.model else "the answer is for all models kept"
        told = f"Nothing is borrowed, {told}: a prior of one cause in all, spread evenly."
        return _named(dirichlet(own, np.full(groups.height, 1 / groups.height))), (told,)
    elsewhere = [_counts(groups, rows) for _, rows in others.group_by("model", maintain_order=True)]
    found = borrowed(np.array([own, *elsewhere]))
    mine = found.rows.head(groups.height)
    why = {
        LEARNED: "as far as the models differ from each other",
        NO_SPREAD: "for the models don't differ beyond chance",
    }.get(found.outcome, "as many as there are causes, for too few models tell how far they differ")
    told = (
        f"{' and '.join(filters.model)}: {int(own.sum()):,} causes confirmed. The shares lean on the {others.height:,} "
        f"of the other models as if they were {found.strength:,.3g} more, {why}: "
        f"{mine['weight'][0]:.0%} of the answer."
    )
    return _named(mine), (told,)


def _named(shares: pl.DataFrame) -> list[pl.Series]:
    return [shares[name].alias(to) for name, to in zip(("share", "low", "high"), SHARES, strict=True)]


def _counts(groups: pl.DataFrame, rows: pl.DataFrame) -> npt.NDArray[np.float64]:
    """How often each of `groups` stands in `rows`."""
    counted = groups.join(rows.group_by(CAUSE).agg(n=pl.len()), on=CAUSE, how="left", maintain_order="left")
    return counted["n"].fill_null(0).cast(pl.Float64).to_numpy()


def _told(causes: pl.DataFrame) -> pl.DataFrame:
    """Jobs of each cause, with the median hours and cost of those that record any."""
    hours, cost = (pl.when(pl.col(name) > 0).then(pl.col(name)) for name in ("labour_h", "cost"))
    return causes.group_by(CAUSE).agg(
        jobs=pl.len(),
        median_labour_h=hours.median(),
        labour_jobs=hours.count(),
        median_cost=cost.median(),
        cost_jobs=cost.count(),
    )


def kept(rows: pl.DataFrame, filters: Filters) -> pl.DataFrame:
    return rows.filter(pl.col("component").is_in(list(filters.component))) if filters.component else rows


def cause_answer(
    snapshot: Snapshot,
    asked: CauseJobs,
    filters: Filters,
    *,
    question: str,
    rows: pl.DataFrame,
    method: str,
    excluded: tuple[Count, ...] = (),
    assumed: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Finding:
    outside, reasonless = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=question,
        rows=rows,
        method=method,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=asked.counted(),
        excluded=(*asked.excluded(), *excluded, *outside),
        assumed=(*assumed, *reasonless),
        notes=(*asked.notes, *notes, NEVER_SKIP),
        filters=filters.named(),
    )
