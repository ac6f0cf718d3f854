"""Whether renewing a part on a schedule pays: the words that go with a fitted life and two costs."""

from dataclasses import dataclass
from math import ceil, inf, isnan, log, sqrt

import numpy as np

from fleetlens.findings.lives import ENOUGH_FAILURES
from fleetlens.reliability.renewal import cost_rate, optimal_age, run_to_failure_rate

__all__ = ["NOT_ENOUGH", "NOT_WORTH", "WORTH", "WORTHWHILE", "Verdict", "counted", "little", "unsure", "verdict"]

WORTH, NOT_WORTH, NOT_ENOUGH = "worth it", "not worth it", "not enough evidence"

# A schedule that saves less than this share of the cost of running to failure isn't worth keeping.
# Common practice, no source.
WORTHWHILE = 0.05
MOST_NAMED = 100_000  # failures that would settle it; more than that is no help


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict and the sentence that gives its reason."""

    word: str
    why: str


def verdict(  # noqa: PLR0911 - one return a reason
    *,
    failures: int,
    shape: float | None,
    shape_low: float | None,
    shape_high: float | None,
    log_shape_variance: float | None,
    planned: float | None,
    failure: float | None,
    saving_low: float | None = None,
) -> Verdict:
    """What a stratum's life and costs say about a schedule.

    Worth it needs a shape whose interval lies above 1, a planned cost far enough below the failure cost, and a saving
    whose lower limit `saving_low` (None: not asked for) lies above 0. A constant or falling hazard is never worth a
    schedule. Where the interval of the shape includes 1 the evidence may
    be too thin, unless even the interval's upper end would save next to nothing.
    """
    if planned is None or failure is None:
        return Verdict(NOT_ENOUGH, "a cost is unknown; set it")
    if shape is None:
        return Verdict(NOT_ENOUGH, f"{counted(failures)}: no fit")
    if planned >= failure:
        return Verdict(NOT_WORTH, "a planned renewal costs as much as a failure or more")
    if shape_high is not None and shape_high < 1:
        return Verdict(
            NOT_WORTH,
            "the part fails less as it ages (shape below 1): a schedule would only add early failures",
        )
    if failures < ENOUGH_FAILURES:
        return Verdict(NOT_ENOUGH, f"{counted(failures)}: too few to tell wear-out from chance")
    if shape_low is not None and shape_low > 1:
        saved = _saving(shape, planned, failure)
        if saved >= WORTHWHILE and saving_low is not None and not saving_low > 0:
            return unsure(saved, saving_low, failures)
        if saved >= WORTHWHILE:
            return Verdict(WORTH, f"wear-out; the best schedule costs {saved:.0%} less than running to failure")
        return Verdict(
            NOT_WORTH,
            f"it wears out, but the best schedule saves {little(saved)} of the cost of running to failure",
        )
    if shape_high is not None and (saved := _saving(shape_high, planned, failure)) < WORTHWHILE:
        return Verdict(
            NOT_WORTH,
            "no sign of wear-out, and even at the upper limit of its shape "
            f"({shape_high:.2f}) the best schedule saves {little(saved)} of the cost of running to failure",
        )
    return Verdict(
        NOT_ENOUGH,
        f"{counted(failures)} can't tell wear-out from chance{_needed(failures, shape, log_shape_variance)}",
    )


def unsure(saving: float, low: float, failures: int) -> Verdict:
    """A saving that may be none, with how many failures would tell: its error falls with their square root."""
    needed = max(ceil(failures * ((saving - low) / saving) ** 2), failures + 1) if low > -inf else None
    settled = f"; about {needed:,} would settle it" if needed is not None and needed < MOST_NAMED else ""
    return Verdict(
        NOT_ENOUGH,
        f"{counted(failures)}: it seems to save {saving:.0%}, but within its limits it may cost more than running to "
        f"failure{settled}",
    )


def counted(failures: int) -> str:
    """A number of failures in words."""
    return "1 failure" if failures == 1 else f"{failures:,} failures" if failures else "no failure"


def little(share: float) -> str:
    """A small saving in words."""
    return "next to nothing" if share < 0.001 else f"only {share:.1%}"


def _saving(shape: float, planned: float, failure: float) -> float:
    """Share of the run-to-failure cost that the best schedule saves; it doesn't depend on the scale."""
    best = float(optimal_age(np.array([shape]), np.array([1.0]), planned, failure)[0])
    if isnan(best):
        return 0.0
    arrays = np.array([best]), np.array([shape]), np.array([1.0])
    return float(1 - cost_rate(*arrays, planned, failure)[0] / run_to_failure_rate(arrays[1], arrays[2], failure)[0])


def _needed(failures: int, shape: float, log_shape_variance: float | None) -> str:
    """How many failures would settle it, were the shape what it seems: its log's error falls with their square root."""
    if log_shape_variance is None or abs(log(shape)) < 1e-6:
        return ""
    needed = ceil(failures * (1.96 * sqrt(log_shape_variance) / log(shape)) ** 2)
    return (
        f"; about {max(needed, failures + 1):,} would settle it if the shape is the {shape:.2f} it seems"
        if needed < MOST_NAMED
        else ""
    )
