"""Whether repairs of one kind come back oftener than others: each group against all others, also at equal mix."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.comebacks import about_keys, repair_keys, repair_rows, share_at
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.reliability.comparison import LogRank, difference_at, log_rank
from fleetlens.reliability.counting import nullable
from fleetlens.reliability.multiplicity import false_discovery
from fleetlens.reliability.survival import kaplan_meier
from fleetlens.store.reader import Snapshot

__all__ = ["MIX", "comeback_differences"]

MIX = ("component", "duty")  # what repairs are alike in where they are compared with their like only
MOST_DIFFERENCES = 12  # of groups: each needs curves of its own
SURE = 0.05

Ints = npt.NDArray[np.int64]


def comeback_differences(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("action",),
    *,
    days: int = 90,
    km: float = 5000,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    technicians: bool = False,
) -> Finding:
    """Each group of repairs against all others: comebacks and those expected, the difference of shares, and tests.

    `expected_comebacks` are those the group would have if all repairs came back alike; `expected_within` the same where
    a repair is compared only with those of the same component and duty. `share_difference` is the share by the end of
    the window less that of all other repairs; `p` and `p_within` are log-rank tests, `q_within` the false discovery
    rate of the latter. Differences are told for the MOST_DIFFERENCES largest groups. Raises FleetlensError as
    `comebacks` does, and without a key.

    Difference: Newcombe 1998 from log–log limits of Kaplan–Meier; stratified log-rank: Peto & Peto 1972.
    """
    keys = repair_keys(by, technicians)
    if not keys:
        raise FleetlensError("a comparison needs groups", do="name a key to split by, such as action or workshop")
    repairs = repair_rows(snapshot, component, days, km, filters, technicians=technicians)
    mix = [name for name in MIX if name not in keys]
    groups, group = evidence.numbered(repairs.rows, keys)
    _, stratum = evidence.numbered(repairs.rows, mix)
    rows, alike, within = _compared(repairs.rows, groups, group.to_numpy(), stratum.to_numpy(), days)
    notes = [*repairs.notes, *_tests(alike, within, mix)]
    if rows.height > MOST_DIFFERENCES:
        notes.append(f"Differences are told for the {MOST_DIFFERENCES} groups with most repairs, of {rows.height:,}.")
    return Finding(
        question="comebacks compared",
        rows=rows,
        method=(
            f"{repairs.method} Each group against all other repairs: log-rank tests, and the difference of the shares "
            f"by {days} days with 95 % limits (Newcombe). Within: compared only with repairs of the same "
            f"{' and '.join(mix)}, by the stratified log-rank test."
        ),
        period=repairs.period,
        snapshot=repairs.snapshot,
        counted=repairs.counted,
        excluded=repairs.excluded,
        assumed=repairs.assumed + about_keys(keys),
        notes=tuple(notes),
        filters=repairs.filters,
    )


def _compared(
    repairs: pl.DataFrame, groups: pl.DataFrame, group: Ints, stratum: Ints, days: int
) -> tuple[pl.DataFrame, LogRank, LogRank]:
    """The rows, and the tests of all groups together: of all repairs, and within strata."""
    followed = repairs["followed_days"].cast(pl.Float64).to_numpy()
    back = repairs["kind"].is_not_null().to_numpy()
    size = groups.height
    alike = log_rank(followed, back, group, n_groups=size)
    within = log_rank(followed, back, group, strata=stratum, n_groups=size)
    curve = kaplan_meier(followed, back, group=group, n_groups=size)
    share, low, high = share_at(curve, days, within=True).get_columns()
    largest = np.argsort(-alike.rows["lives"].to_numpy(), kind="stable")[:MOST_DIFFERENCES]
    difference = np.full((3, size), np.nan)
    for number in largest if size > 1 else ():
        against = kaplan_meier(followed, back, group=(group != number).astype(np.int64), n_groups=2)
        told = difference_at(against, [float(days)]).select("difference", "low", "high").row(0)
        difference[:, number] = [np.nan if each is None else each for each in told]
    rows = groups.with_columns(
        repairs=alike.rows["lives"],
        comebacks=alike.rows["observed"],
        comeback_share=share,
        comeback_low=low,
        comeback_high=high,
        share_difference=nullable(difference[0]),
        share_difference_low=nullable(difference[1]),
        share_difference_high=nullable(difference[2]),
        expected_comebacks=alike.rows["expected"],
        p=alike.rows["p"],
        expected_within=within.rows["expected"],
        p_within=within.rows["p"],
        q_within=false_discovery(within.rows["p"].fill_null(np.nan).to_numpy()),
    )
    return rows, alike, within


def _tests(alike: LogRank, within: LogRank, mix: Sequence[str]) -> list[str]:
    """Both tests of all groups together, and what it means where they disagree."""
    if alike.p is None:
        return ["No comeback tells the groups apart: there is nothing to test."]
    like = " and ".join(mix)
    told = [_said("All repairs together", alike), _said(f"Compared only with repairs of the same {like}", within)]
    if within.p is None:
        told.append(f"No two groups share a {like} in which a repair came back.")
    elif alike.p < SURE <= within.p:
        told.append(f"The difference goes with the mix: at the same {like} it is within chance.")
    elif within.p < SURE <= alike.p:
        told.append(f"The mix hides a difference: it shows at the same {like} only.")
    return told


def _said(whose: str, test: LogRank) -> str:
    if test.p is None:
        return f"{whose}: nothing to compare."
    verdict = "the groups differ more than chance" if test.p < SURE else "within chance"
    chance = "below 0.0001" if test.p < 0.0001 else f"{test.p:.2g}"
    return f"{whose}: log-rank chi-squared {test.chi_squared:.1f} on {test.degrees} df, p {chance}: {verdict}."
