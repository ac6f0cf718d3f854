"""How much faster the common shapes of dates and numbers are read than by a loop of Python: ratios in one run.

Budgets are set well below what was measured, so that only a change of kind breaks them. A million values a second on
one core is asked for; the values per second are printed.
"""

import random
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta

import polars as pl
import pytest

from fleetlens.intake.values import date_evidence, dates, number_evidence, numbers
from fleetlens.intake.values.dates import DateForm
from fleetlens.intake.values.numbers import NumberForm

pytestmark = pytest.mark.benchmark
VALUES = 500_000
TODAY = date(2026, 11, 25)


def busy(work: Callable[[], object]) -> float:
    """The least processor seconds of three runs, over all threads."""
    found = []
    for _ in range(3):
        begun = time.process_time()
        work()
        found.append(time.process_time() - begun)
    return min(found)


def compare(name: str, texts: list[str], ours: Callable[[pl.Series], object], theirs: Callable[[str], object]) -> float:
    column = pl.Series(texts)
    our_time = busy(lambda: ours(column))
    their_time = busy(lambda: [theirs(text) for text in texts])
    print(f"\n{name}: {VALUES / our_time / 1e6:.1f} M values/s, {their_time / our_time:.0f} times a loop")  # noqa: T201
    return their_time / our_time


@pytest.mark.parametrize(
    ("shape", "least"), [("%d.%m.%Y", 15), ("%d.%m.%Y %H:%M", 3), ("%Y-%m-%d", 15), ("%d/%m/%y", 15), ("%d %b %Y", 15)]
)
def test_dates(shape: str, least: float) -> None:
    chance = random.Random(1)
    moments = (datetime(2015, 1, 1) + timedelta(minutes=chance.randrange(5_000_000)) for _ in range(VALUES))
    texts = [moment.strftime(shape) for moment in moments]
    form = date_evidence.evidence(pl.Series(texts), TODAY).form
    assert form is not None
    assert form == DateForm(TODAY, form.order)
    ratio = compare(shape, texts, lambda column: dates.clean(column, form), lambda text: datetime.strptime(text, shape))
    assert ratio > least


@pytest.mark.parametrize(("shape", "least"), [("{:.2f}", 0.3), ("{:,.2f}", 0.3), ("\u20ac {:,.2f}", 0.15)])
def test_numbers(shape: str, least: float) -> None:
    """The loop is the least there can be: a replacement and a conversion."""
    chance = random.Random(1)
    texts = [shape.format(chance.uniform(0, 99_999)) for _ in range(VALUES)]
    form = number_evidence.evidence(pl.Series(texts)).form
    assert form is not None
    ratio = compare(
        shape,
        texts,
        lambda column: numbers.clean(column, NumberForm(".")),
        lambda text: float(text.replace(",", "").removeprefix("\u20ac ")),
    )
    assert ratio > least
