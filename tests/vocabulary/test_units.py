"""Units of distance."""

import pytest

from fleetlens.vocabulary.units import KM_PER_MILE, km_factor


def test_a_mile_is_1760_yards_of_914_4_mm() -> None:
    """International yard and pound agreement, 1959 (from memory)."""
    assert pytest.approx(1760 * 0.9144 / 1000, rel=1e-15) == KM_PER_MILE


@pytest.mark.parametrize("unit", ["km", "KM", " Kms ", "kilometres", "kilometers", "", "  "])
def test_kilometres(unit) -> None:
    assert km_factor(unit) == 1.0


@pytest.mark.parametrize("unit", ["mi", "Miles", "MILE ", "mls", "m"])
def test_miles(unit) -> None:
    assert km_factor(unit) == KM_PER_MILE


@pytest.mark.parametrize("unit", ["h", "hours", "furlong", "km/h", "kmi"])
def test_anything_else_is_not_known(unit) -> None:
    assert km_factor(unit) is None
