"""Options as text: lists, distances, days."""

from datetime import date

import pytest

from fleetlens.cli.options import day, distances, several


@pytest.mark.parametrize(
    ("given", "values"),
    [
        (None, ()),
        ([], ()),
        ([""], ()),
        (["a"], ("a",)),
        (["a,b", "c"], ("a", "b", "c")),
        ([" a , b "], ("a", "b")),
        (["a,,a"], ("a",)),
        (['"Van, long",b'], ("Van, long", "b")),
        (["a\nb"], ("a", "b")),
    ],
)
def test_lists(given, values):
    assert several(given) == values


def test_distances():
    assert distances("50000, 1e5,0.5") == (50_000.0, 100_000.0, 0.5)
    assert distances("") == ()


def test_days():
    assert day("2026-03-31") == date(2026, 3, 31)
    assert day(None) is None
