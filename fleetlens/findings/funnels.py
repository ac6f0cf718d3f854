"""Groups against the whole: within chance or outside of it, and whether all of them differ more than chance."""

import polars as pl

from fleetlens.reliability.control import Overdispersion

__all__ = ["FEW", "LEVELS", "SURE", "p_of", "spread", "standing"]

LEVELS = {0.95: "95 %", 0.998: "99.8 %"}
FEW = 5  # expected events: below it a group can hardly stand out (common practice, no source)
SURE = 0.05


def standing(funnel: pl.DataFrame, figure: str, expected: pl.Series) -> pl.Series:
    """Within chance, or above or below the widest limits that the figure lies beyond; null without exposure.

    A group that could expect few events is said to be one of few.
    """
    side = pl.when(pl.col(figure) > pl.col("target")).then(pl.lit("above ")).otherwise(pl.lit("below "))
    beyond = pl.col("outside").replace_strict(LEVELS, default=None, return_dtype=pl.String)
    few = pl.when(pl.col("expected") < FEW).then(pl.lit("within chance, few to tell"))
    return (
        funnel.with_columns(expected=expected)
        .select(
            pl.when(pl.col(figure).is_null())
            .then(None)
            .when(pl.col("outside").is_null())
            .then(few.otherwise(pl.lit("within chance")))
            .otherwise(side + beyond)
            .alias("standing")
        )
        .to_series()
    )


def spread(found: Overdispersion, groups: int) -> tuple[str, ...]:
    """How many groups lie outside by chance alone, and whether they differ in more than chance."""
    one_in = f"Of {groups:,} groups about {groups * SURE:.1f} lie outside the 95 % limits by chance alone."
    if found.p is None or found.ratio is None:
        return (one_in,)
    if found.p < SURE and found.ratio > 1:
        return (
            one_in,
            f"The groups spread {found.ratio:.1f} times as widely as chance ({p_of(found.p)}): they "
            "differ in something that isn't split here, such as duty, model, or how often codes are read. "
            "Limits for chance alone are then too narrow, and single groups outside of them say little.",
        )
    return (one_in, f"All groups together lie within chance (p {found.p:.2g}).")


def p_of(p: float) -> str:
    """A p-value in words."""
    return "p below 0.0001" if p < 1e-4 else f"p {p:.2g}"
