"""Values as words: the right digits, nothing rounded to a nought that isn't one, no steering letters."""

import unicodedata
from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.output.words import harmless, interval, limits_of, say


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (None, "km", "–"),
        (float("nan"), "", "–"),
        (float("inf"), "km", "–"),
        (58_213.4, "km", "58,213"),
        (1234, "", "1,234"),
        (0, "", "0"),
        (0.0, "per 100,000 km", "0"),
        (4.018, "per 100,000 km", "4.02"),
        (0.0138642, "", "0.0139"),
        (1234.5, "", "1,234"),
        (-2.5, "", "-2.50"),
        (True, "", "yes"),
        (False, "", "no"),
        (date(2025, 2, 3), "", "2025-02-03"),
        (datetime(2025, 2, 3, 4, 5, 6), "", "2025-02-03 04:05"),
        (0.0, "share", "none"),
        (1.0, "share", "all"),
        (0, "share", "none"),
        (0.0732, "share", "7.3%"),
        (0.4821, "share", "48%"),
        (0.9996, "share", "99.960%"),
        (0.0004, "share", "0.040%"),
        (0.1, "share", "10%"),
    ],
)
def test_a_value(value, unit, told):
    assert say(value, unit) == told


@pytest.mark.parametrize(
    ("three", "unit", "told"),
    [
        ((58_200.0, 51_000.0, 66_400.0), "km", "58,200 (51,000–66,400)"),
        ((4.018, 3.784, 4.2625), "", "4.02 (3.78–4.26)"),
        ((58_200.0, 51_000.0, None), "km", "58,200 (from 51,000)"),
        ((None, 51_000.0, None), "km", "– (from 51,000)"),
        ((58_200.0, None, 66_400.0), "km", "58,200 (up to 66,400)"),
        ((58_200.0, None, None), "km", "58,200"),
        ((None, None, None), "km", "–"),
        ((0.0732, 0.037, 0.1422), "share", "7.3% (3.7–14.2%)"),
        ((0.0, 0.0, 0.7076), "share", "none (up to 71%)"),
        ((1.0, 0.2924, 1.0), "share", "all (29–100%)"),
        ((0.5, 0.1, 1.0), "share", "50% (10–100%)"),
        ((0.0, 0.0, 3.69), "per 100,000 km", "0 (0–4)"),
    ],
)
def test_a_figure_with_its_limits(three, unit, told):
    assert interval(*three, unit) == told


@given(st.floats(0, 1, exclude_min=True, exclude_max=True).filter(lambda share: 1e-7 < share < 1 - 1e-7))
def test_a_share_that_is_neither_none_nor_all_is_never_told_as_nought_or_hundred(share):
    assert 0 < float(say(share, "share").removesuffix("%")) < 100


@given(st.floats(1e-6, 1e9))
def test_three_digits_are_near_enough(value):
    assert float(say(value).replace(",", "")) == pytest.approx(value, rel=0.5e-2)


@given(st.text())
def test_harmless_text_has_one_line_and_nothing_that_steers(text):
    clean = harmless(text)
    assert {unicodedata.category(letter) for letter in clean}.isdisjoint({"Cc", "Cf", "Cs", "Zl", "Zp"})
    assert harmless(clean) == clean


def test_harmless_keeps_the_words():
    assert harmless("Kühler  leaks\r\n\tat\x1b[31m 冷却 \u202etxt") == "Kühler leaks at [31m 冷却 txt"


@pytest.mark.parametrize(
    ("name", "limits"),
    [
        ("median_km", ("median_low", "median_high")),
        ("b10_km", ("b10_low", "b10_high")),
        ("shape", ("shape_low", "shape_high")),
        ("characteristic_life_km", ("characteristic_life_low", "characteristic_life_high")),
        ("rate_per_100k_km", ("rate_low", "rate_high")),
        ("interval_km", ("interval_low", "interval_high")),
        ("share_90d", ("share_90d_low", "share_90d_high")),
        ("survival_50000_share", ("survival_50000_low", "survival_50000_high")),
        ("mean_events", ("low", "high")),
    ],
)
def test_where_the_limits_of_a_figure_stand(name, limits):
    assert limits_of(name) == limits
