"""Which codes are logged together: how often, and how many times as often as chance would have it."""

from collections.abc import Sequence
from itertools import combinations

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, check
from fleetlens.findings.finding import Count, Finding
from fleetlens.findings.funnels import SURE
from fleetlens.findings.periods import known_code
from fleetlens.reliability.association import lift
from fleetlens.reliability.multiplicity import false_discovery
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary import codes as vocabulary

__all__ = ["AT_LEAST", "codes_together", "together_rows"]

AT_LEAST = 5  # visits with a code: below it a pair tells nothing
ONE_JOB = -1  # days that join jobs: none
PAIR = ("code", "with_code")


def codes_together(
    snapshot: Snapshot,
    codes: Sequence[str] = (),
    *,
    join_days: int | None = None,
    at_least: int = AT_LEAST,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """Pairs of codes logged at one visit, against the number that chance lets expect of codes that ignore each other.

    Of all observed jobs for a fault, and others that log a code, `together` log both; lift = together x all / (one x
    other), with limits and the false discovery rate over all pairs of codes on `at_least` visits each. The columns that
    begin with plain leave out the visits that log a fault of the voltage supply, which sets many codes at once. With
    `codes` only pairs with one of them; with `join_days` jobs that follow each other within so many days are one visit.
    Raises FleetlensError for a code that no job logs, an unknown filter value and numbers below 0 (days) or 1 (visits).
    """
    if at_least < 1 or (join_days is not None and join_days < 0):
        raise FleetlensError("a pair needs at least 1 visit, and days that join them from 0", do="--at-least 5")
    check(snapshot, filters)
    wanted = [known_code(snapshot, code) for code in codes]
    known = snapshot.frame("findings/known_codes")["code"]
    found = snapshot.frame(
        "findings/code_pairs",
        supply_codes=[code for code in known if vocabulary.supply_fault(code)],
        **_bound(join_days, filters),
    )
    whole = found.filter(pl.col("first_code").is_null()).row(0, named=True)
    single = found.filter(pl.col("first_code") == pl.col("second_code"))
    frequent = single.filter(pl.col("visits") >= at_least).sort("first_code")
    pairs = _pairs(frequent["first_code"].to_list(), wanted)
    margins = single.select("first_code", "visits", "plain_visits")
    screened = (
        pairs.join(found, left_on=PAIR, right_on=("first_code", "second_code"), how="left")
        .rename({"visits": "together", "plain_visits": "plain_together"})
        .with_columns(pl.col("together", "plain_together").fill_null(0))
        .join(margins, left_on="code", right_on="first_code", how="left")
        .join(margins, left_on="with_code", right_on="first_code", how="left", suffix="_with")
    )
    table = _judged(screened, whole)
    rows = table.filter(pl.col("together") > 0).sort("lift_low", *PAIR, descending=[True, False, False])
    outside, assumed = evidence.jobs_left_out(snapshot, filters)
    rare = single.height - frequent.height
    return Finding(
        question=f"codes together with {', '.join(wanted)}" if wanted else "codes together",
        rows=rows,
        method=(
            f"{_visit(join_days)} for a fault, or at which a code was read, that log both codes, over the number to be "
            "expected if the two ignored each other (lift), 95 % limits on the log scale; q: false discovery rate of "
            "the exact test over all pairs screened. One fault often sets one code, so that unrelated pairs lie below "
            "1. Plain: without visits that log a fault of the voltage supply."
        ),
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(
            Count("for a fault or with a code", whole["visits"], "visits"),
            Count(f"of codes on at least {at_least:,} visits, screened", screened.height, "pairs"),
        ),
        excluded=(*outside, *evidence.some(rare, f"on fewer than {at_least:,} visits, not paired", "codes")),
        assumed=assumed,
        notes=_notes(table, whole),
        filters=filters.named(),
    )


def together_rows(
    snapshot: Snapshot,
    codes: Sequence[str] = (),
    *,
    join_days: int | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The jobs of the visits that log all of `codes`, or any two codes where none are named."""
    check(snapshot, filters)
    wanted = sorted({known_code(snapshot, code) for code in codes})
    rows = snapshot.frame(
        "findings/together_rows", names=wanted or None, needed=len(wanted) or 2, **_bound(join_days, filters)
    )
    outside, assumed = evidence.jobs_left_out(snapshot, filters)
    return Finding(
        question=f"jobs with {' and '.join(wanted)}" if wanted else "jobs with two codes or more",
        rows=rows,
        method=f"{_visit(join_days)} that log {' and '.join(wanted) or 'two codes or more'}, with all their codes.",
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        counted=(Count("observed", rows.height, "jobs"),),
        excluded=outside,
        assumed=assumed,
        filters=filters.named(),
    )


def _bound(join_days: int | None, filters: Filters) -> dict[str, object]:
    days = ONE_JOB if join_days is None else join_days
    return {"join_days": days, "components": list(filters.component) or None, **filters.bound()}


def _visit(join_days: int | None) -> str:
    return "Jobs" if join_days is None else f"Visits (jobs that follow each other within {join_days} days)"


def _pairs(codes: list[str], wanted: Sequence[str]) -> pl.DataFrame:
    """All pairs of the codes, in the order of the alphabet; those with a wanted one where some are named."""
    pairs = [pair for pair in combinations(codes, 2) if not wanted or not set(pair).isdisjoint(wanted)]
    return pl.DataFrame(pairs, schema=dict.fromkeys(PAIR, pl.String), orient="row")


def _judged(screened: pl.DataFrame, whole: dict[str, int]) -> pl.DataFrame:
    """The pairs with lift, limits and q, in all visits and in those without a fault of the supply."""
    every, plain = (
        lift(
            screened[f"{mark}together"].to_numpy(),
            screened[f"{mark}visits"].to_numpy(),
            screened[f"{mark}visits_with"].to_numpy(),
            whole[f"{mark}visits"],
        )
        for mark in ("", "plain_")
    )
    expected = screened["visits"] * screened["visits_with"] / max(whole["visits"], 1)
    table = screened.select(
        *PAIR,
        "together",
        code_visits="visits",
        with_visits="visits_with",
        by_chance=expected,
        lift=every["lift"],
        lift_low=every["low"],
        lift_high=every["high"],
        lift_q=false_discovery(every["p"].to_numpy()),
        plain_together="plain_together",
        plain_lift=plain["lift"],
        plain_lift_low=plain["low"],
        plain_lift_high=plain["high"],
    )
    told = [
        pl.col(name).map_elements(vocabulary.description, return_dtype=pl.String, skip_nulls=True).alias(text)
        for name, text in (("code", "description"), ("with_code", "with_description"))
    ]
    sure = pl.col("lift_q") <= SURE
    words = (
        pl.when(sure & (pl.col("lift") > 1) & (pl.col("plain_lift_low") > 1))
        .then(pl.lit("together"))
        .when(sure & (pl.col("lift") > 1))
        .then(pl.lit("together with supply faults only"))
        .when(sure & (pl.col("lift") < 1))
        .then(pl.lit("apart"))
        .otherwise(pl.lit("within chance"))
    )
    return table.with_columns(*told, pairing=words)


def _notes(table: pl.DataFrame, whole: dict[str, int]) -> tuple[str, ...]:
    """How many pairs stand out of how many screened, and what supply faults make of them."""
    if table.is_empty():
        return ()
    found = {row["pairing"]: row["len"] for row in table.group_by("pairing").len().iter_rows(named=True)}
    supply, only = whole["visits"] - whole["plain_visits"], found.get("together with supply faults only", 0)
    told = [
        f"{table.height:,} pairs were screened at once: {found.get('together', 0) + only:,} come together more than "
        f"chance, {found.get('apart', 0):,} less (most visits have one fault), by q {SURE} or less."
    ]
    if supply:
        told.append(
            f"{supply:,} of {whole['visits']:,} visits log a fault of the voltage supply (a weak battery, a lost "
            f"reference voltage), which sets many codes at once: {only:,} pairs come together only there."
        )
    return tuple(told)
