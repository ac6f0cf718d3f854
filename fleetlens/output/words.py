"""Values as words for people: numbers with their digits, shares, intervals, and text made harmless."""

import math
import unicodedata
from datetime import datetime
from typing import Any

UNKNOWN = "–"
WHOLE_UNITS = frozenset({"km", "d", "rows"})
_STEMS = {
    "median_km": "median",
    "b10_km": "b10",
    "characteristic_life_km": "characteristic_life",
    "interval_km": "interval",
    "life_km": "life",
    "first_km": "first",
    "after_km": "after",
    "rate_per_100k_km": "rate",
}
_BARE_LIMITS = frozenset({"share", "share_ended", "mean_events", "per_100k_km", "hazard"})


def limits_of(name: str) -> tuple[str, str]:
    """The names of the columns that would hold the limits of the figure `name`."""
    if name in _BARE_LIMITS:
        return "low", "high"
    stem = _STEMS.get(name, name.removesuffix("_share"))
    return f"{stem}_low", f"{stem}_high"


def harmless(text: str) -> str:
    """`text` on one line, without the letters that steer a terminal or turn the writing round."""
    kept = (
        " " if unicodedata.category(letter) in {"Cc", "Zl", "Zp"} else letter
        for letter in text
        if unicodedata.category(letter) not in {"Cf", "Cs"}
    )
    return " ".join("".join(kept).split())


def say(value: Any, unit: str = "", decimals: int | None = None) -> str:
    """One value with the digits that its unit deserves, or with so many decimals; unknown is a dash."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return UNKNOWN
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if unit == "share" and value in (0, 1):
            return "all" if value else "none"  # a count, not a rounded figure
        return _number(value, unit, _decimals(value, unit) if decimals is None else decimals)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    return harmless(str(value))


def interval(value: float | None, low: float | None, high: float | None, unit: str = "") -> str:
    """A figure with its limits: `58,200 (51,000–66,400)`; a limit that doesn't exist is said in words."""
    reach = limits(value, low, high, unit)
    return f"{say(value, unit)} ({reach})" if reach else say(value, unit)


def limits(value: float | None, low: float | None, high: float | None, unit: str = "") -> str:
    """The limits of a figure without it, with its decimals: `51,000–66,400`; "" where there are none."""
    if low is None and high is None:
        return ""
    around_nothing = value == 0 and (low or 0) < 0  # whose digits say nothing about its limits
    decimals = None if value is None or around_nothing else _decimals(value, unit)
    first, last = (UNKNOWN if end is None else _limit(end, unit, decimals) for end in (low, high))
    if high is None:
        return f"from {first}"
    if low is None or (unit == "share" and low == 0):
        return f"up to {last}"
    if first.startswith("-"):  # a dash between would be one minus too many
        return f"{first.removesuffix('%')} to {last}".replace("-", "−")
    return f"{first.removesuffix('%')}–{last}"


def _limit(value: float, unit: str, decimals: int | None) -> str:
    return _number(value, unit, _decimals(value, unit) if decimals is None else decimals)


def _number(value: float, unit: str, decimals: int) -> str:
    if unit == "p":
        return "below 0.0001" if value < 1e-4 else f"{value:.2g}"
    if unit != "share":
        return f"{value:,.{decimals}f}"
    return f"{value:.0%}" if value in (0, 1) else f"{value:.{decimals}%}"


def _decimals(value: float, unit: str) -> int:
    """Two digits of a percentage's rarer side (99.96 isn't told as 100), three of any other broken number."""
    if unit == "share":
        size, digits = round(min(abs(value), abs(1 - value)) * 100, 9), 2
    elif isinstance(value, int) or unit in WHOLE_UNITS:
        return 0
    else:
        size, digits = abs(value), 3
    return min(max(digits - 1 - math.floor(math.log10(size)), 0), 9) if size else 0
