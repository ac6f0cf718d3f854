"""By which distance a share of the parts has failed (B-lives), with few failures or none too."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.grouping import chosen, named
from fleetlens.findings.life_table import LifeTable, answer, life_table
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.reliability import weibull
from fleetlens.reliability.bounds import zero_failure
from fleetlens.store.reader import Snapshot

__all__ = ["AT_LEAST", "FITTED", "GIVEN", "b_lives"]

FITTED, GIVEN, AT_LEAST = "fitted", "shape given", "at least, shape assumed"
ASSUMED_SHAPE = 1.0  # chance failures; what wears out lasts longer than that at first
WIDE = 3.0  # times: common practice, no source
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Shapes:
    """The shape of each group, NaN where it is to be fitted, and where it comes from."""

    of_groups: Floats
    told: tuple[str, ...] = ()


def b_lives(
    snapshot: Snapshot,
    component: str | None = None,
    by: Sequence[str] = ("model",),
    shares: Sequence[float] = (0.1, 0.5),
    *,
    shape: float | None = None,
    shape_from: Mapping[str, str] | None = None,
    filters: Filters = Filters(),  # noqa: B008 - frozen
    unknown_start: str = "original",
) -> Finding:
    """The distance by which each of `shares` of the parts has failed, a row for each group and share.

    `basis` says what a row rests on: "fitted" (Weibull, 95 % likelihood limits), "shape given" (only the characteristic
    life is fitted, to `shape` or to the shape fitted to the lives of `shape_from`, such as {"model": "Fell"}), or,
    where too few have failed for a fit, "at least, shape assumed": a one-sided 95 % lower limit for the given shape,
    else for shape 1. Raises FleetlensError for shares outside 0 to 1, a shape of 0 or less, both ways of giving one, a
    group to take it from that has no fit, and as component_lives does.
    """
    keys = chosen(by, LIFE_KEYS)
    asked = sorted(set(shares))
    if not asked or not all(0 < share < 1 for share in asked):
        raise FleetlensError(f"these aren't shares: {', '.join(map(str, shares)) or 'none'}", do="such as 0.1, 0.5")
    table = life_table(snapshot, component, keys, filters, unknown_start)
    shapes = _shapes(table, shape, shape_from)
    fit = table.weibull(shapes.of_groups)
    assumed = np.where(np.isnan(shapes.of_groups), ASSUMED_SHAPE, shapes.of_groups)
    frames = []
    for share in asked:
        life = fit.life(share)
        least = zero_failure(
            table.end,
            table.failed,
            table.entry,
            table.group,
            shape=assumed,
            share=share,
            n_groups=table.groups.height,
        )
        frames.append(
            table.numbered.with_columns(
                lives=fit.rows["lives"],
                failures=fit.rows["failures"],
                share_of_lives=pl.lit(share),
                life_km=life["value"],
                life_low=life["low"].fill_null(least["life_low"].set(life["value"].is_not_null(), None)),
                life_high=life["high"],
                shape=fit.rows["shape"].fill_null(least["shape"]),
                shape_low=fit.rows["shape_low"],
                shape_high=fit.rows["shape_high"],
                basis=_basis(fit),
            )
        )
    rows = pl.concat(frames).sort("group", "share_of_lives").drop("group") if frames else pl.DataFrame()
    bounded = rows.filter(pl.col("basis") == AT_LEAST).height
    return answer(
        snapshot,
        table,
        filters,
        question="B-lives",
        rows=rows,
        method=(
            "Distance by which a share of the parts has failed. Weibull by maximum likelihood with late entry and 95 % "
            "likelihood limits; where too few have failed for a fit, the one-sided 95 % lower limit for an assumed "
            "shape (Nelson 1985)."
        ),
        assumed=(*shapes.told, *((_BOUND,) if bounded and not shapes.told else ())),
        notes=(*_bounds(rows, keys, table), *_wide(rows, keys)),
    )


_BOUND = (
    f"Where too few have failed for a fit a shape of {ASSUMED_SHAPE:g} is assumed (failures by chance alone); another "
    "shape gives another limit: --shape, or --shape-from a group that has failures."
)


def _basis(fit: weibull.WeibullFit) -> pl.Series:
    words = {weibull.FITTED: FITTED, weibull.GIVEN: GIVEN}
    return fit.rows["outcome"].replace_strict(words, default=AT_LEAST, return_dtype=pl.String)


def _shapes(table: LifeTable, shape: float | None, shape_from: Mapping[str, str] | None) -> _Shapes:
    """The shapes that the user chose; NaN for all where he chose none."""
    n_groups = table.groups.height
    if shape is not None and shape_from:
        raise FleetlensError("a shape can't be given twice", do="either a number or a group to take it from")
    if shape is not None:
        if not 0 < shape < np.inf:
            raise FleetlensError(f"a shape of {shape:g} can't be", do="a number above 0, such as 2")
        return _Shapes(np.full(n_groups, shape), (f"The shape {shape:g} is as given, not fitted.",))
    if not shape_from:
        return _Shapes(np.full(n_groups, np.nan))
    keys = chosen(list(shape_from), LIFE_KEYS)
    same = pl.all_horizontal(pl.col(key).cast(pl.String) == shape_from[key] for key in keys)
    kept = table.lives.select(same.fill_null(value=False)).to_series().to_numpy()
    parts, part = evidence.numbered(table.lives, ["component"])
    one = weibull.fit(
        table.end[kept],
        table.failed[kept],
        table.entry[kept],
        table.known_good[kept],
        part.to_numpy()[kept],
        n_groups=parts.height,
    )
    who = " and ".join(f"{key} {shape_from[key]}" for key in keys)
    told = []
    for component, row in zip(parts["component"], one.rows.iter_rows(named=True), strict=True):
        if row["shape"] is None:
            raise FleetlensError(
                f"{who} has no fit to take the shape of {component} from: {row['failures']:,} failures of "
                f"{row['lives']:,} lives",
                do="a group with failures at two distances or more, or a number with --shape",
            )
        told.append(
            f"{component}: the shape {row['shape']:.3g} is that of {who} ({row['shape_low'] or 0:.3g}–"
            f"{row['shape_high'] or np.inf:.3g}, {row['failures']:,} failures) in every group; the limits don't hold "
            "the doubt about it."
        )
    shapes = dict(zip(parts["component"], one.rows["shape"], strict=True))
    return _Shapes(np.array([shapes[name] for name in table.groups["component"]]), tuple(told))


def _bounds(rows: pl.DataFrame, keys: list[str], table: LifeTable) -> Iterator[str]:
    """What is said of groups without a fit: their bound for the first share, and where it lies beyond what was seen."""
    ends = pl.DataFrame({"group": table.group, "longest": table.end}).group_by("group").agg(pl.col("longest").max())
    longest = table.numbered.join(ends, on="group")
    known = rows.filter((pl.col("basis") == AT_LEAST) & pl.col("life_low").is_not_null()).join(
        longest.drop("group"), on=["component", *keys], nulls_equal=True, how="left", maintain_order="left"
    )
    first = known.unique(["component", *keys], keep="first", maintain_order=True)
    if first.height:
        share = 1 - first["share_of_lives"][0]
        told = "; ".join(_who(row, keys, f"{row['life_low']:,.0f} km") for row in first.iter_rows(named=True))
        yield f"No fit, too few failures. At least {100 * share:.3g} % of them outlast, for the shape assumed: {told}."
    beyond = known.filter(pl.col("life_low") > pl.col("longest"))
    if beyond.height:
        told = "; ".join(
            _who(row, keys, f"{_b(row)} from {row['life_low']:,.0f} km, longest life {row['longest']:,.0f} km")
            for row in beyond.iter_rows(named=True)
        )
        yield f"Beyond the longest life seen, so don't rely on it: {told}."


def _wide(rows: pl.DataFrame, keys: list[str]) -> Iterator[str]:
    """What is said of limits too far apart to plan by, and of those without an upper one."""
    known = rows.filter((pl.col("basis") != AT_LEAST) & pl.col("life_low").is_not_null())
    wide = known.filter(pl.col("life_high") > WIDE * pl.col("life_low"))
    if wide.height:
        told = "; ".join(
            _who(row, keys, f"{_b(row)} anywhere from {row['life_low']:,.0f} to {row['life_high']:,.0f} km")
            for row in wide.iter_rows(named=True)
        )
        yield f"Too wide to plan by, limits more than {WIDE:g} times apart: {told}."
    endless = known.filter(pl.col("life_high").is_null())
    if endless.height:
        told = "; ".join(
            _who(row, keys, f"{_b(row)} from {row['life_low']:,.0f} km") for row in endless.iter_rows(named=True)
        )
        yield f"No upper limit: {told}."


def _b(row: Mapping[str, float]) -> str:
    """B10 for a tenth."""
    return f"B{100 * row['share_of_lives']:g}"


def _who(row: dict[str, object], keys: list[str], told: str) -> str:
    return f"{named(row, ['component', *keys])} {told} ({row['failures']:,} of {row['lives']:,} failed)"
