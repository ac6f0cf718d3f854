"""The cautions: deference first, and each danger that the trade warns of."""

import pytest

from fleetlens.advice.cautions import CAUTIONS


def test_deference_comes_first():
    assert all(word in CAUTIONS[0] for word in ("maker's instructions", "local rules", "licensed technician"))


@pytest.mark.parametrize(
    "danger",
    [
        *("safety inspection", "Hot parts", "soot", "Filter ash", "Solvents", "Fuel pressure", "axle stands"),
        *("Fans", "Coolant", "Glow plugs", "map out", "relearn"),
    ],
)
def test_each_danger_is_named(danger):
    assert sum(danger in caution for caution in CAUTIONS) == 1
