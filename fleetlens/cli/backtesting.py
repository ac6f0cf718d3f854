"""The command that tries the advice on the fleet's own past."""

from datetime import date, datetime
from typing import Annotated

import polars as pl
import typer

from fleetlens.advice.backtesting.backtest import backtest as tried
from fleetlens.advice.policies import POLICY_KEYS
from fleetlens.cli.answers import Asked, question
from fleetlens.cli.life_questions import UnknownStart
from fleetlens.cli.options import several
from fleetlens.findings.finding import Finding

__all__ = ["backtest"]


@question()
def backtest(
    asked: Asked,
    *,
    until: Annotated[
        datetime,
        typer.Option("--until", metavar="DATE", formats=["%Y-%m-%d"], help="Last day of what was known."),
    ],
    months: Annotated[int, typer.Option("--months", help="Months after that day to try the advice on.")] = 12,
    origins: Annotated[
        int, typer.Option("--origins", min=1, max=12, help="So many such days, each a window before the one after it.")
    ] = 1,
    by: Annotated[
        str,
        typer.Option("--by", metavar="KEYS", help=f"Split by: {', '.join(POLICY_KEYS)}. Commas between; '' for none."),
    ] = "",
    fifths: Annotated[bool, typer.Option("--fifths", help="Observed and expected by fifths of the risk.")] = False,
    unknown_start: UnknownStart = "original",
) -> Finding:
    """Back-test: whether following the advice would have paid, on this fleet's own past.

    \b
    Example: fleetlens backtest --until 2025-06-30 --months 12
    Example: fleetlens backtest --until 2025-06-30 --origins 2 --component egr_valve --by model
    """
    made = tried(
        asked.snapshot,
        days_before(until.date(), months, origins),
        months=months,
        by=several([by]),
        filters=asked.filters,
        unknown_start=unknown_start,
    )
    if asked.rows:
        return made.parts
    return made.calibration if fifths else made.summary


def days_before(last: date, months: int, count: int) -> list[date]:
    """So many days, `months` apart, the last of them `last`."""
    every = pl.select(
        pl.concat_list(pl.lit(last).dt.offset_by(f"-{months * back}mo") for back in reversed(range(count)))
    ).item()
    return list(every)
