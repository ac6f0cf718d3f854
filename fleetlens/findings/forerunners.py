"""What goes before: codes and failures that come ahead of a failure more often than chance, and how far ahead."""

from dataclasses import dataclass

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check, choices
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.funnels import SURE
from fleetlens.findings.periods import known_code
from fleetlens.findings.together import AT_LEAST
from fleetlens.reliability.against_chance import against_chance
from fleetlens.reliability.multiplicity import false_discovery
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary import codes as vocabulary

__all__ = ["DAYS", "forerunner_rows", "forerunners"]

DAYS = 60
SIGN = ("sign_is", "sign")


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked about, and how far back to look."""

    what: str
    name: str
    window: float
    by_km: bool

    @property
    def words(self) -> str:
        """What happened."""
        return f"{self.noun} of {self.name}"

    @property
    def noun(self) -> str:
        """What is counted."""
        return "failures" if self.what == "component" else "episodes"

    @property
    def reach(self) -> str:
        """The window."""
        return f"{self.window:,.0f} {'km' if self.by_km else 'days'}"


def forerunners(
    snapshot: Snapshot,
    before: str,
    *,
    days: int | None = None,
    km: float | None = None,
    at_least: int = AT_LEAST,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Codes and failures of other components that begin before a failure of a component, or an episode of a code.

    `preceded` of all happenings have the sign in the `days` (60) or `km` before them, back to the happening before at
    most; chance_share is the share if the sign had begun at any time of the same vehicles' records, times the one over
    the other, with exact limits, q the false discovery rate over all signs that began at least `at_least` times.
    `followed` of `begun` say the reverse: how often a happening came within the window after the sign. lead_days and
    lead_km: median from the first sign to the happening, with quartiles; none is longer than the window.
    Raises FleetlensError for both windows, for one that reaches nowhere, and for names that the store doesn't know.
    """
    asked = _asked(snapshot, before, days, km, filters)
    if at_least < 1:
        raise FleetlensError("a sign begins at least once", do="--at-least 5")
    found = snapshot.frame("findings/signs_before", **_bound(asked, filters))
    leads = snapshot.frame("findings/signs_before_rows", **_bound(asked, filters))
    whole = found.filter(pl.col("sign").is_null()).row(0, named=True)
    signs = found.filter(pl.col("sign").is_not_null())
    screened = signs.filter(pl.col("begun") >= at_least).join(_leads(leads), on=SIGN, how="left", maintain_order="left")
    screened = screened.with_columns(
        pl.col("preceded", "followed").fill_null(0), happenings=pl.lit(whole["happenings"], pl.Int64)
    )
    rows = _judged(screened).filter(pl.col("preceded") > 0).sort("times_low", *SIGN, descending=[True, False, False])
    outside, assumed = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=f"before {asked.words}",
        rows=rows,
        method=(
            f"Share of {asked.words} with the sign in the {asked.reach} before (but after the one before), and not at "
            "the same job, over the share if the sign had begun at any time of the same vehicles' records; exact "
            "binomial 95 % limits. A sign is an episode of a code or a confirmed failure of another component, from "
            "its first job on. q: false discovery rate over all signs screened (Benjamini and Hochberg 1995)."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count(f"of {asked.name}, with time under observation before", whole["happenings"], asked.noun),
            Count(f"begun at least {at_least:,} times on these vehicles, screened", screened.height, "signs"),
        ),
        excluded=(
            *outside,
            *evidence.some(whole["unseen"], f"of {asked.name}, no time under observation before", asked.noun),
            *evidence.some(signs.height - screened.height, f"begun fewer than {at_least:,} times", "signs"),
        ),
        assumed=(*assumed, *evidence.readings(snapshot, filters)),
        notes=_notes(rows, asked),
        filters=filters.named(),
    )


def forerunner_rows(
    snapshot: Snapshot,
    before: str,
    *,
    days: int | None = None,
    km: float | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The happenings with the signs before them, each with both jobs and the lead."""
    asked = _asked(snapshot, before, days, km, filters)
    rows = snapshot.frame("findings/signs_before_rows", **_bound(asked, filters))
    outside, assumed = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=f"signs before {asked.words}",
        rows=rows,
        method=f"One row is one of the {asked.words} and a beginning of a sign in the {asked.reach} before.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("of signs before", rows.height, "rows"),),
        excluded=outside,
        assumed=assumed,
        filters=filters.named(),
    )


def _asked(snapshot: Snapshot, before: str, days: int | None, km: float | None, filters: Filters) -> _Asked:
    """The question as the store spells it."""
    check(snapshot, filters)
    if filters.component:
        raise FleetlensError("signs before something are not kept by component", do="filter by model, duty or depot")
    if days is not None and km is not None:
        raise FleetlensError("the window is in days or in km, not in both", do="leave one out")
    if (days is not None and days < 1) or (km is not None and not km > 0):
        raise FleetlensError("the window reaches nowhere", do="at least 1 day, or more than 0 km")
    window = float(DAYS if days is None else days) if km is None else float(km)
    if vocabulary.normalise(before) is not None:
        return _Asked("code", known_code(snapshot, before), window, km is not None)
    components = choices(snapshot)["component"]
    if before not in components:
        raise FleetlensError(
            f"neither a code nor a component of this store: {before!r}",
            do=f"a code, or one of: {', '.join(components[:20]) or 'no component is recorded'}",
        )
    return _Asked("component", before, window, km is not None)


def _bound(asked: _Asked, filters: Filters) -> dict[str, object]:
    return {"what": asked.what, "about": asked.name, "window": asked.window, "by_km": asked.by_km, **filters.bound()}


def _leads(leads: pl.DataFrame) -> pl.DataFrame:
    """How many happenings each sign precedes, how many of the sign's own beginnings they follow, and how far ahead."""
    ahead = [
        pl.col(name).filter("earliest").cast(pl.Float64).quantile(share, "linear").alias(f"{name}{end}")
        for name in ("lead_days", "lead_km")
        for share, end in ((0.5, ""), (0.25, "_q1"), (0.75, "_q3"))
    ]
    return leads.group_by(SIGN).agg(
        *ahead, preceded=pl.col("earliest").sum().cast(pl.Int64), followed=pl.len().cast(pl.Int64)
    )


def _judged(screened: pl.DataFrame) -> pl.DataFrame:
    """The signs with their share against chance."""
    told = against_chance(
        screened["preceded"].to_numpy(),
        screened["happenings"].to_numpy(),
        screened["by_chance"].to_numpy(),
    )
    described = pl.when(pl.col("sign_is") == "code").then(
        pl.col("sign").map_elements(vocabulary.description, return_dtype=pl.String, skip_nulls=True)
    )
    return screened.select(
        *SIGN,
        "preceded",
        "happenings",
        ahead_share=told["share"],
        ahead_low=told["share_low"],
        ahead_high=told["share_high"],
        chance_share=told["chance_share"],
        times=told["times"],
        times_low=told["times_low"],
        times_high=told["times_high"],
        times_q=false_discovery(told["p"].to_numpy()),
        lead_days="lead_days",
        lead_days_q1="lead_days_q1",
        lead_days_q3="lead_days_q3",
        lead_km="lead_km",
        lead_km_q1="lead_km_q1",
        lead_km_q3="lead_km_q3",
        followed="followed",
        begun="begun",
        description=described,
    )


def _notes(rows: pl.DataFrame, asked: _Asked) -> tuple[str, ...]:
    if rows.is_empty():
        return (f"Nothing went before the {asked.words} within {asked.reach}.",)
    ahead = rows.filter((pl.col("times") > 1) & (pl.col("times_q") <= SURE))
    told = [
        f"{ahead.height:,} signs go before the {asked.words} more often than chance, by q {SURE} or less. "
        "A sign that seldom is followed by one warns of little; the last ones may still be."
    ]
    supply = [row["sign"] for row in ahead.iter_rows(named=True) if vocabulary.supply_fault(row["sign"])]
    if supply:
        told.append(
            f"{', '.join(supply)}: a fault of the voltage supply sets many codes, and is mended before it is blamed."
        )
    return tuple(told)
