"""Vehicle identification numbers: put into their form, and repaired only where the check digit proves it.

Repaired: case, blanks, hyphens and points; I, O and Q, which no VIN holds (49 CFR 565.15 (c), ISO 3779), read as 1
and 0; one character taken for its look-alike (5 and S, 8 and B, 2 and Z) where the rules ask for a check digit, it is
wrong, and exactly one such change makes it right. Taken as blank: fillers.
Left as they are, with a remark: other numbers that fail the check, those with characters that no VIN holds, and
those of 16, 18 or any other count. Outside North America place 9 proves nothing, so nothing is changed there.
"""

import re

import polars as pl

from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain
from fleetlens.vocabulary import vin as rules

__all__ = ["clean"]

_NEVER = {"I": "1", "O": "0", "Q": "0"}
_ALIKE = {"S": "5", "5": "S", "B": "8", "8": "B", "Z": "2", "2": "Z"}
_SPELT = re.compile(r"[A-HJ-NPR-Z0-9]{17}")


def clean(texts: pl.Series) -> Cleaned:
    """Each VIN in capitals without blanks; what can't be repaired stays, with a remark. Nothing is unreadable."""
    return by_distinct(texts, _clean)


def _clean(texts: pl.Series) -> pl.DataFrame:
    tidy = plain(texts)
    given = texts.str.strip_chars()
    filler = is_filler(tidy).fill_null(False)
    bare = tidy.str.to_uppercase().str.replace_all(r"[\s\-.*]", "")
    rows = [
        ("", None, None) if blank or text is None else _one(text, given_text)
        for text, given_text, blank in zip(bare, given, filler, strict=True)
    ]
    return pl.DataFrame(
        {
            "value": [value or None for value, _, _ in rows],
            "repaired": ["filler" if blank else repaired for (_, repaired, _), blank in zip(rows, filler, strict=True)],
            "unreadable": [False] * len(rows),
            "remark": [remark for _, _, remark in rows],
        },
        schema={"value": pl.String, "repaired": pl.String, "unreadable": pl.Boolean, "remark": pl.String},
    )


def _one(text: str, given: str) -> tuple[str, str | None, str | None]:
    """The VIN, its repair and a remark."""
    letters = "".join(_NEVER.get(letter, letter) for letter in text)
    form = "vin_form" if text != given else None
    if not _SPELT.fullmatch(letters):
        return given, None, "; ".join(rules.problems(letters))
    if not rules.problems(letters):
        remark = "; ".join(rules.remarks(letters)) or None
        return letters, "vin_letters" if letters != text else form, remark
    if proved := _proved(letters):
        return proved, "vin_check_digit", None
    wrong = "; ".join(rules.problems(letters))
    return letters, "vin_letters" if letters != text else form, wrong


def _proved(text: str) -> str | None:
    """The one VIN, a look-alike character away from `text`, whose check digit is right; None for none or several.

    The first character stays: it says whether there is a check digit at all.
    """
    changed = {
        text[:place] + _ALIKE[letter] + text[place + 1 :]
        for place, letter in enumerate(text)
        if place and letter in _ALIKE
    }
    right = [candidate for candidate in sorted(changed) if not rules.problems(candidate)]
    return right[0] if len(right) == 1 else None
