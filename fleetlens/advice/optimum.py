"""How much a least cost can be trusted to its kilometre: where it stays flat, and what a round interval costs."""

import numpy as np
import numpy.typing as npt

__all__ = ["FLAT", "flat_range", "rounded", "say_flat"]

FLAT = 0.02  # costs within this share of the least count as the same

FloatArray = npt.NDArray[np.float64]


def flat_range(ages: FloatArray, costs: FloatArray, share: float = FLAT) -> tuple[float, float | None]:
    """The ages round the least cost between which it stays within `share` of it, of rising `ages` on a fine grid.

    None above where it never leaves it within the grid.
    """
    least = int(costs.argmin())
    near = costs <= costs[least] * (1 + share)
    before = np.flatnonzero(~near[:least])
    beyond = np.flatnonzero(~near[least:])
    low = float(ages[before[-1] + 1] if len(before) else ages[0])
    return low, float(ages[least + beyond[0] - 1]) if len(beyond) else None


def say_flat(low: float, high: float | None) -> str:
    """The flat range in words."""
    upper = f"between {low:,.0f} and {high:,.0f} km" if high is not None else f"from {low:,.0f} km on"
    return f"{upper} the cost stays within {FLAT:.0%} of the least"


def rounded(age: npt.ArrayLike, every: float) -> tuple[FloatArray, FloatArray]:
    """The multiples of `every` next below and above an age, the lower one not below `every` itself."""
    services = np.asarray(age, dtype=np.float64) / every
    return np.maximum(np.floor(services), 1.0) * every, np.maximum(np.ceil(services), 1.0) * every
