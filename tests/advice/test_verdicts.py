"""When a schedule is called worth it, not worth it, or undecided."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.advice.verdicts import NOT_ENOUGH, NOT_WORTH, WORTH, verdict

CLEAR: dict[str, Any] = {
    "failures": 60,
    "shape": 3.0,
    "shape_low": 2.4,
    "shape_high": 3.7,
    "log_shape_variance": 0.01,
    "planned": 100.0,
    "failure": 800.0,
}


@pytest.mark.parametrize(
    ("change", "word", "why"),
    [
        ({}, WORTH, "wear-out; the best schedule costs 59% less than running to failure"),
        ({"saving_low": 0.01}, WORTH, "wear-out; the best schedule costs 59% less than running to failure"),
        (
            {"saving_low": -0.2},
            NOT_ENOUGH,
            "60 failures: it seems to save 59%, but within its limits it may cost more than running to failure; about "
            "108 would settle it",
        ),
        (
            {"saving_low": float("-inf"), "failures": 6},
            NOT_ENOUGH,
            "6 failures: it seems to save 59%, but within its limits it may cost more than running to failure",
        ),
        ({"planned": None}, NOT_ENOUGH, "a cost is unknown; set it"),
        ({"failure": None}, NOT_ENOUGH, "a cost is unknown; set it"),
        ({"shape": None, "failures": 0}, NOT_ENOUGH, "no failure: no fit"),
        ({"shape": None, "failures": 1}, NOT_ENOUGH, "1 failure: no fit"),
        ({"failures": 5}, NOT_ENOUGH, "5 failures: too few to tell wear-out from chance"),
        ({"planned": 800.0}, NOT_WORTH, "a planned renewal costs as much as a failure or more"),
        (
            {"shape": 0.7, "shape_low": 0.6, "shape_high": 0.9},
            NOT_WORTH,
            "the part fails less as it ages (shape below 1): a schedule would only add early failures",
        ),
        (
            {"shape": 1.02, "shape_low": 0.98, "shape_high": 1.06},
            NOT_WORTH,
            "no sign of wear-out, and even at the upper limit of its shape (1.06) the best schedule saves next to "
            "nothing of the cost of running to failure",
        ),
        (
            {"planned": 600.0},
            NOT_WORTH,
            "it wears out, but the best schedule saves only 0.9% of the cost of running to failure",
        ),
        (
            {"failures": 12, "shape": 1.5, "shape_low": 0.9, "shape_high": 2.3, "log_shape_variance": 0.06},
            NOT_ENOUGH,
            "12 failures can't tell wear-out from chance; about 17 would settle it if the shape is the 1.50 it seems",
        ),
        (
            {"failures": 12, "shape": 1.0, "shape_low": 0.6, "shape_high": 1.9},
            NOT_ENOUGH,
            "12 failures can't tell wear-out from chance",
        ),
    ],
)
def test_the_words(change: dict[str, Any], word: str, why: str) -> None:
    told = verdict(**{**CLEAR, **change})
    assert (told.word, told.why) == (word, why)


@given(st.floats(0.1, 1.0), st.floats(1.0, 1.0), st.integers(6, 100_000), st.floats(1.01, 50))
def test_a_hazard_that_does_not_rise_is_never_worth_a_schedule(
    high: float, scale: float, failures: int, ratio: float
) -> None:
    told = verdict(
        failures=failures, shape=high * 0.9, shape_low=high * 0.8, shape_high=high, log_shape_variance=0.01,
        planned=scale, failure=scale * ratio,
    )  # fmt: skip
    assert told.word == NOT_WORTH
