"""Whether one Weibull describes the lives of a group, where it doesn't, and which split to try."""

from collections.abc import Iterator, Sequence

import numpy as np
import polars as pl

from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.reliability import weibull
from fleetlens.reliability.fit_check import FEWEST, UNLIKE, FitCheck, fit_check, plot_points
from fleetlens.reliability.hazard import nelson_aalen
from fleetlens.store.reader import Snapshot

__all__ = ["cumulative_hazards", "life_fit", "probability_points"]

WORTH_A_SPLIT = 6.0  # gain in AIC; common practice calls 4 to 7 considerably better (Burnham & Anderson 2002)
UNTOLD = f"too few failures to tell (from {FEWEST} on)"


def life_fit(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    *,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """For each group the fitted shape and characteristic life, and a test that one Weibull describes its lives.

    `fit_p` compares the failures in stretches of distance with those the fit expects; `reading` says what follows, at
    5 %. Where it doesn't fit, the notes say in which stretch, and which recorded key would split it best. Raises
    FleetlensError as component_lives does. Sources: fleetlens.reliability.fit_check.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    fit = table.weibull()
    checked = fit_check(fit)
    rows = table.groups.with_columns(
        lives=fit.rows["lives"],
        failures=fit.rows["failures"],
        shape=fit.rows["shape"],
        shape_low=fit.rows["shape_low"],
        shape_high=fit.rows["shape_high"],
        characteristic_life_km=fit.rows["scale"],
        characteristic_life_low=fit.rows["scale_low"],
        characteristic_life_high=fit.rows["scale_high"],
        fit_p=checked.rows["p"],
        reading=checked.rows["reading"].fill_null(UNTOLD),
    )
    return answer(
        snapshot,
        table,
        filters,
        question="whether one Weibull describes the lives",
        rows=rows,
        method=(
            "Weibull by maximum likelihood with late entry; failures in stretches of equal expected number against "
            "those expected, chi-squared freed of the two fitted parameters (Akritas 1988; Hjort 1990). A low p says "
            "that lives of different kinds were put together, or that km is the wrong measure; a high one proves "
            "nothing. At 5 % one group in twenty is called so by chance."
        ),
        notes=tuple(_warnings(table, keys, fit, checked)),
    )


def probability_points(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The points of a probability plot: the share failed by each distance of a failure, beside that of the fit.

    `share_failed_by` is by Kaplan–Meier, halfway up its step; `share_fitted` null where the group isn't fitted.
    """
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    points = plot_points(table.weibull()).filter(pl.col("share") < 1)
    rows = _with_groups(
        table,
        points.select("group", km="time", share_failed_by="share", share_fitted=1 - (-pl.col("fitted").exp()).exp()),
    )
    return answer(
        snapshot,
        table,
        filters,
        question="probability plot",
        rows=rows,
        method=(
            "Share failed by each distance of a failure (Kaplan–Meier with late entry, halfway up its step) beside "
            "that of the fitted Weibull. On the scales of the plot a Weibull is a straight line of its shape's slope."
        ),
    )


def cumulative_hazards(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The cumulative hazard (Nelson–Aalen) at each distance of a failure: bent upwards it is wear-out."""
    keys = chosen(by, LIFE_KEYS)
    table = life_table(snapshot, component, keys, filters, unknown_start)
    found = nelson_aalen(table.end, table.failed, table.entry, table.group, n_groups=table.groups.height)
    rows = _with_groups(
        table,
        found.steps.select(
            "group", km="time", at_risk="at_risk", failures="failures", hazard="hazard", low="low", high="high"
        ),
    )
    return answer(
        snapshot,
        table,
        filters,
        question="cumulative hazard",
        rows=rows,
        method=(
            "Nelson–Aalen with late entry: the sum of failures over lives at risk, 95 % limits on the log scale. "
            "Straight against distance the hazard is constant; bent upwards it is wear-out, downwards early failures."
        ),
    )


def _with_groups(table: LifeTable, found: pl.DataFrame) -> pl.DataFrame:
    """Rows of groups by number, with the keys in place of the number."""
    found = found.with_columns(pl.col("group").cast(pl.Int64))
    return table.numbered.join(found, on="group", how="inner", maintain_order="left_right").drop("group")


def _warnings(table: LifeTable, keys: list[str], fit: weibull.WeibullFit, checked: FitCheck) -> Iterator[str]:
    """A sentence for each group that one Weibull doesn't describe."""
    unlike = np.flatnonzero((checked.rows["reading"] == UNLIKE).fill_null(value=False).to_numpy())
    if not unlike.size:
        return
    gains = _gains(table, keys, fit)
    for group in unlike.tolist():
        who = named(table.groups.row(group, named=True), ["component", *keys])
        worst = (
            checked.stretches.filter(pl.col("group") == group)
            .with_columns(apart=(pl.col("observed") - pl.col("expected")) ** 2 / pl.col("expected"))
            .sort("apart", descending=True)
            .row(0, named=True)
        )
        yield (
            f"{who}: one Weibull doesn't describe the lives, so don't trust its B10: {worst['observed']:,} failed "
            f"between {worst['since']:,.0f} and {worst['until']:,.0f} km where it expects {worst['expected']:.3g}. "
            f"{_try(gains, group)}"
        )


def _try(gains: pl.DataFrame, group: int) -> str:
    """Which split to try, by the gain in AIC."""
    told = gains.filter((pl.col("group") == group) & (pl.col("gain") > WORTH_A_SPLIT)).sort("gain", descending=True)
    if told.is_empty():
        return (
            "No key on record splits it better; it may be a mixture, as where some foul up and plug while others "
            "settle, or early failures after bad work among wear-out."
        )
    return f"Try to split by {', then '.join(told['key'].head(2))}."


def _gains(table: LifeTable, keys: list[str], fit: weibull.WeibullFit) -> pl.DataFrame:
    """How much better each key left would describe each group: twice the gain in log-likelihood less 2 a parameter."""
    frames = [pl.DataFrame(schema={"group": pl.Int64, "key": pl.String, "gain": pl.Float64})]
    for key in (key for key in LIFE_KEYS if key not in keys):
        rows = pl.DataFrame({"whole": table.group, key: table.lives[key]})
        parts, part = evidence.numbered(rows, ["whole", key])
        if parts.height == rows["whole"].n_unique():
            continue
        finer = weibull.fit(
            table.end, table.failed, table.entry, table.known_good, part.to_numpy(), n_groups=parts.height
        )
        # A part without failures is described best by no hazard at all; one that can't be fitted stops the comparison.
        told = finer.rows.with_columns(
            group=parts["whole"],
            loglik=pl.when(pl.col("failures") == 0).then(0.0).otherwise("loglik"),
            fitted=pl.col("failures") > 0,
        )
        whole = (
            told.group_by("group")
            .agg(
                pl.when(pl.col("loglik").null_count() == 0).then(pl.col("loglik").sum()).alias("split"),
                fits=pl.col("fitted").sum().cast(pl.Int64),
            )
            .join(fit.rows.select("group", whole="loglik"), on="group")
        )
        frames.append(
            whole.select(
                pl.col("group").cast(pl.Int64),
                pl.lit(key).alias("key"),
                gain=2 * (pl.col("split") - pl.col("whole")) - 4 * (pl.col("fits") - 1),
            )
        )
    return pl.concat(frames)
