"""Units of distance: kilometres inside, whatever the workshop writes outside."""

__all__ = ["KM_PER_MILE", "km_factor"]

KM_PER_MILE = 1.609344  # exact: the international yard and pound agreement of 1959

_KM = frozenset({"", "km", "kms", "km.", "k", "kilometre", "kilometres", "kilometer", "kilometers"})
_MILES = frozenset({"mi", "mi.", "mile", "miles", "mls", "m"})


def km_factor(unit: str) -> float | None:
    """Kilometres in one `unit` of an odometer; None where the unit isn't known. Blank means kilometres.

    Case and blanks at the ends don't matter. "m" is miles, as no odometer counts metres (common practice, no
    source).
    """
    tidy = unit.strip().casefold()
    if tidy in _KM:
        return 1.0
    return KM_PER_MILE if tidy in _MILES else None
