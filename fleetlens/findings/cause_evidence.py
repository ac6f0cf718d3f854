"""What goes with a cause: the checks that told it apart from the others, and the remedies and whether they held."""

from collections.abc import Sequence

import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.causes import CAUSE, COUNTED, cause_answer, cause_jobs, kept
from fleetlens.findings.comebacks import repair_rows, share_at
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.store.reader import Snapshot

__all__ = ["cause_checks", "cause_remedies"]

AFTER_THE_WORK = ("codes_reread", "relearn", "road_test")  # they prove the repair and tell no cause
SHARE_DAY = 90
FEW_JOBS = 10


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
    asked = cause_jobs(snapshot, codes, filters)
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
    rows, notes = kept(rows, filters), []
    if rows.filter(pl.col("jobs") < FEW_JOBS).height:
        notes.append(f"Causes with fewer than {FEW_JOBS} jobs: read the counts, not the shares.")
    if contradicting := int(found["contradicts"].sum()):
        notes.append(f"Checks recorded against their own limits, where the recorded outcome counts: {contradicting:,}.")
    return cause_answer(
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
    asked = cause_jobs(snapshot, codes, filters)
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
    return cause_answer(
        snapshot,
        asked,
        filters,
        question="remedies behind " + " ".join(asked.codes),
        rows=kept(rows, filters),
        method=f"{COUNTED} {repairs.method}",
        excluded=evidence.some(unmended, "no repairing action on the component, or after the record's end", "causes"),
        assumed=tuple(told for told in repairs.assumed if "no odometer" in told),
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
