"""What a code turned out to be on this fleet: the causes its own jobs confirmed, and what followed from them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.comebacks import repair_rows, share_at
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding
from fleetlens.reliability.shares import LEARNED, NO_SPREAD, borrowed, dirichlet
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary.codes import normalise

__all__ = ["cause_checks", "cause_remedies", "cause_rows", "confirmed_causes"]

CAUSE = ["component", "cause"]
SHARES = ["share_of_causes", "share_of_causes_low", "share_of_causes_high"]
AFTER_THE_WORK = ("codes_reread", "relearn", "road_test")  # they prove the repair and tell no cause
SHARE_DAY = 90
FEW_JOBS = 10
NEVER_SKIP = (
    "It tells what past jobs ended in, as far as they recorded it. It never means that a test may be skipped: "
    "the vehicle on the bench may be the next exception."
)
COUNTED = (
    "A cause is confirmed where a fault job that logged the code records it on work done to a component; "
    "a job with several counts for each."
)


@dataclass(frozen=True, slots=True)
class _Asked:
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
    asked = _asked(snapshot, codes, filters)
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
    return _finding(
        snapshot,
        asked,
        filters,
        question="causes behind " + " ".join(asked.codes),
        rows=_kept(rows, filters),
        method=(
            f"{COUNTED} Shares are Dirichlet posterior means with 95 % limits; labour and cost are medians of the "
            "whole jobs, amounts of 0 left out."
        ),
        assumed=assumed,
    )


def cause_checks(
    snapshot: Snapshot,
    codes: Sequence[str],
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The checks recorded at the jobs of each confirmed cause, those first that set it apart from the other causes.

    Of a check that a job holds several times, as before and after the work, one that failed counts; median and range
    are of the values that count. `not_recorded` are the cause's jobs without an outcome of this check. Checks that only
    prove the repair are left out. Raises FleetlensError as `confirmed_causes` does.
    """
    asked = _asked(snapshot, codes, filters)
    found = snapshot.frame("findings/check_rows", codes=list(asked.codes), components=None, **filters.bound())
    by_job = _by_job(found.filter(~pl.col("check").is_in(AFTER_THE_WORK)))
    jobs = asked.causes.group_by(CAUSE).agg(jobs=pl.col("job_id").n_unique().cast(pl.Int64))
    which = ["check_component", "check", "unit"]
    here = asked.causes.select("job_id", *CAUSE).join(by_job, on="job_id", how="inner")
    every = by_job.join(asked.causes.select("job_id").unique(), on="job_id", how="semi")
    failed, passed = ((pl.col("passed") == outcome).sum().cast(pl.Int64) for outcome in (False, True))
    whole = every.group_by(which).agg(all_failed=failed, all_judged=pl.col("passed").count().cast(pl.Int64))
    rows = (
        here.group_by(*CAUSE, *which)
        .agg(
            failed=failed,
            passed=passed,
            value_median=pl.col("value").median(),
            value_lowest=pl.col("value").min(),
            value_highest=pl.col("value").max(),
            limit_low=pl.col("limit_low").min(),
            limit_high=pl.col("limit_high").max(),
        )
        .join(jobs, on=CAUSE, how="left")
        .join(whole, on=which, how="left", nulls_equal=True)
        .with_columns(
            not_recorded=pl.col("jobs") - pl.col("failed") - pl.col("passed"),
            other_failed=pl.col("all_failed") - pl.col("failed"),
            other_judged=pl.col("all_judged") - pl.col("failed") - pl.col("passed"),
        )
        .with_columns(apart=_apart())
        .sort(["jobs", *CAUSE, "apart", *which], descending=[True, False, False, True, *[False] * 3], nulls_last=True)
        .select(
            *CAUSE, *which, "jobs", "failed", "passed", "not_recorded", "other_failed", "other_judged", "value_median",
            "value_lowest", "value_highest", "limit_low", "limit_high",
        )
    )  # fmt: skip
    rows, notes = _kept(rows, filters), []
    if rows.filter(pl.col("jobs") < FEW_JOBS).height:
        notes.append(f"Causes with fewer than {FEW_JOBS} jobs: read the counts, not the shares.")
    if contradicting := int(found["contradicts"].sum()):
        notes.append(f"Checks recorded against their own limits, where the recorded outcome counts: {contradicting:,}.")
    return _finding(
        snapshot,
        asked,
        filters,
        question="checks behind " + " ".join(asked.codes),
        rows=rows,
        method=(
            f"{COUNTED} For each cause the checks recorded at its jobs, against the limits that came with the job: "
            "failed, passed, or not recorded; of several at one job one that failed counts. First stand the checks "
            "that failed oftener with this cause than with the others. "
            f"Left out: {', '.join(AFTER_THE_WORK)}, which prove the repair."
        ),
        notes=tuple(notes),
    )


def cause_remedies(
    snapshot: Snapshot,
    codes: Sequence[str],
    filters: Filters = Filters(),  # noqa: B008 - frozen
    *,
    days: int = SHARE_DAY,
    km: float = 5000,
) -> Finding:
    """Which remedy of each confirmed cause held: its repairs and the share that came back by 90 days.

    The repairs and their comebacks are those of `comebacks.repair_rows`; without an end of the window before 90 days.
    """
    asked = _asked(snapshot, codes, filters)
    repaired = tuple(asked.causes["component"].unique().sort())
    repairs = repair_rows(snapshot, None, days, km, Filters(filters.model, filters.duty, filters.depot, repaired))
    followed = repairs.rows.select("job_id", "component", "action", "kind", "followed_days").join(
        asked.causes.select("job_id", *CAUSE), on=["job_id", "component"], how="inner", maintain_order="left"
    )
    groups, group = evidence.numbered(followed, [*CAUSE, "action"])
    curve = kaplan_meier(
        followed["followed_days"].cast(pl.Float64).to_numpy(),
        followed["kind"].is_not_null().to_numpy(),
        group=group.to_numpy(),
        n_groups=groups.height,
    )
    counts = (
        followed.with_columns(group=group)
        .group_by("group")
        .agg(repairs=pl.len().cast(pl.Int64), comebacks=pl.col("kind").count().cast(pl.Int64))
        .sort("group")
    )
    back = share_at(curve, SHARE_DAY, within=days >= SHARE_DAY)
    rows = groups.with_columns(counts["repairs"], counts["comebacks"], *back.get_columns())
    rows = rows.sort(["repairs", *CAUSE, "action"], descending=[True, False, False, False])
    unmended = asked.causes.height - followed.height
    return _finding(
        snapshot,
        asked,
        filters,
        question="remedies behind " + " ".join(asked.codes),
        rows=_kept(rows, filters),
        method=f"{COUNTED} {repairs.method}",
        excluded=evidence.some(unmended, "no repairing action on the component, or after the record's end", "causes"),
        assumed=tuple(told for told in repairs.assumed if "no odometer" in told),
    )


def cause_rows(
    snapshot: Snapshot,
    codes: Sequence[str],
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The fault jobs that logged the codes, a row for each confirmed cause; blank where none was confirmed."""
    asked = _asked(snapshot, codes, filters)
    return _finding(
        snapshot,
        asked,
        filters,
        question="jobs behind " + " ".join(asked.codes),
        rows=_kept(asked.own, filters),
        method="One row is a fault job that logged the code and a cause confirmed at it; blank where none was.",
    )


def _asked(snapshot: Snapshot, codes: Sequence[str], filters: Filters) -> _Asked:
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
    return _Asked(spelt, own, others, notes)


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


def _by_job(found: pl.DataFrame) -> pl.DataFrame:
    """One row a job and check: of several outcomes one that failed counts, with its own values."""
    which = ["job_id", "check_component", "check", "unit"]
    failing = pl.col("passed") == False  # noqa: E712 - null is neither
    return (
        found.rename({"component": "check_component"})
        .with_columns(some_failed=failing.any().over(which))
        .filter(~pl.col("some_failed") | failing)
        .group_by(which, maintain_order=True)
        .agg(pl.col("passed").min(), pl.col("value").median(), pl.col("limit_low").min(), pl.col("limit_high").max())
    )


def _apart() -> pl.Expr:
    """How much oftener the check failed with this cause than with the others; unknown ones as if even."""
    judged = pl.col("failed") + pl.col("passed")
    # One half of a failure in one judged more, so that 1 of 1 doesn't come before 19 of 20.
    here = (pl.col("failed") + 0.5) / (judged + 1)
    there = (pl.col("other_failed") + 0.5) / (pl.col("other_judged") + 1)
    return pl.when((judged > 0) & (pl.col("other_judged") > 0)).then(here - there)


def _kept(rows: pl.DataFrame, filters: Filters) -> pl.DataFrame:
    return rows.filter(pl.col("component").is_in(list(filters.component))) if filters.component else rows


def _finding(
    snapshot: Snapshot,
    asked: _Asked,
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
