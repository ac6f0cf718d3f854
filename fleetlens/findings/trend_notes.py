"""What stands beside a trend in words: the change, the periods outside the limits, and how far to trust them."""

import polars as pl

from fleetlens.findings import changes, funnels
from fleetlens.findings.periods import PER_KM, Periods
from fleetlens.reliability.control import overdispersion

__all__ = ["about_change", "about_chart", "about_end", "about_length"]

MOST_NAMED = 5  # periods outside the limits


def about_change(counted: Periods) -> tuple[str, ...]:
    """The last period against the one before, and the last twelve months against the twelve before, in words."""
    long = changes.year(counted)
    told = []
    for span in (changes.latest(counted), long):
        if span is None:
            continue
        row = changes.change(counted.rows.with_columns(all=pl.lit(1)), span, ["all"]).row(0, named=True)
        counts = f"{row['latest']:,} {counted.noun} after {row['earlier']:,}"
        told.append(f"{span.words}: {counts}, per km {_times(row)}.")
    return (*told, *(() if long else about_length(counted)))


def _times(row: dict[str, float | None]) -> str:
    """A rate ratio in words, with its limits."""
    ratio, low, high = (row[name] for name in ("change", "change_low", "change_high"))
    if ratio is None:
        return "not to be compared"
    reach = f"{low:.2f} to {high:.2f}" if high is not None else f"at least {low:.2f}"
    sure = low is not None and high is not None and (low > 1 or high < 1)
    verdict = ("more" if ratio > 1 else "less") if sure else "within chance"
    return f"{ratio:.2f} times the rate ({reach}): {verdict}"


def about_length(counted: Periods) -> tuple[str, ...]:
    had = len(counted.comparable) * counted.months
    return (f"A year is compared with the year before once the record has 24 months; it has {had}.",)


def about_chart(rows: pl.DataFrame, counted: Periods) -> tuple[str, ...]:
    """Which periods signal, and how far the limits can be trusted."""
    seen = rows.filter(pl.col("rate_per_100k_km").is_not_null())
    if seen.height < 2:
        return ()
    out = seen.filter(pl.col("signal") != "within")
    told = []
    if out.height:
        named = [f"{row['period']} {row['signal']}" for row in out.tail(MOST_NAMED).iter_rows(named=True)]
        more = "the last ones " if out.height > MOST_NAMED else ""
        told.append(f"{out.height:,} of {seen.height:,} periods lie outside the limits: {more}{', '.join(named)}.")
    else:
        told.append(f"None of {seen.height:,} periods lies outside the limits.")
    expected = seen["centre_per_100k_km"] * seen["km"] / PER_KM
    if (expected < funnels.FEW).any():
        told.append(f"Some periods expect fewer than {funnels.FEW} {counted.noun}, which makes their limits rough.")
    test = overdispersion(seen[counted.noun].to_numpy(), seen["km"].to_numpy() / PER_KM)
    if test.p is not None and test.ratio is not None and test.p < funnels.SURE and test.ratio > 1:
        told.append(
            f"The periods spread {test.ratio:.1f} times as widely as chance ({funnels.p_of(test.p)}): a trend, "
            "seasons, an ageing fleet, or codes read more often. More reading finds more codes."
        )
    return tuple(told)


def about_end(counted: Periods) -> tuple[str, ...]:
    """Said where the last period isn't whole."""
    if counted.broken_off is None:
        return ()
    return (
        f"{counted.label(counted.starts[-1])} is counted up to {counted.broken_off:%Y-%m-%d} only: compare its rate "
        "per km, not its count.",
    )
