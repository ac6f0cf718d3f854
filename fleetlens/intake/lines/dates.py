"""Work told with the day it was done, where the line then tells of another day: "egr fitted 12/03, back today"."""

import re

from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["settle_dates"]

_WHOLE = re.compile(r"\d{1,2}[.,:]\d{1,2}(?:[.,:](?:\d{2}|\d{4}))?")
_TODAY = {"today", "now", "back", "again", "still", "this time", "this visit", "returned", "same fault", "since"}
_TODAY |= {"back again", "came back", "returns", "yet again", "once more"}
_DAYS = {"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}
_DAYS |= {"mon", "tue", "tues", "wed", "thu", "thur", "thurs", "fri", "christmas", "easter"}
_PAUSES = {Gap.COMMA, Gap.SEMICOLON, Gap.STOP}
_LARGEST_DAY, _LARGEST_MONTH = 31, 12


def settle_dates(marks: list[Mark]) -> None:
    """Give "last time" as reason to past verbs with a date beside them, where today is spoken of afterwards."""
    if not any(one.words in _TODAY for one in marks):
        return
    for at, mark in enumerate(marks):
        size = _date(marks, at)
        if not size or not any(one.words in _TODAY for one in marks[at + size :]):
            continue
        begins = not at or mark.gap >= Gap.COMMA
        for one in _clause(marks[at + size :]) if begins else reversed(marks[:at]):
            if one.kind == "A":
                if one.form == "past":
                    one.why = one.why or "last time"
                break
            if one.kind not in "CfniPJRmx" or one.words in _TODAY:
                break


def _clause(marks: list[Mark]) -> list[Mark]:
    end = next((at for at, one in enumerate(marks) if at and one.gap in _PAUSES), len(marks))
    return marks[:end]


def _date(marks: list[Mark], at: int) -> int:
    """How many marks a date takes up that begins here: 12/03, 12/03/25, 12.03.25, "monday"; 0 where none does."""
    mark = marks[at]
    if mark.words in _DAYS:
        return 1
    if mark.kind != "n":
        return 0
    if _WHOLE.fullmatch(mark.words) and mark.words.count(".") > 1:
        return 1
    following = marks[at + 1 : at + 3]
    if not following or not _slashed(mark, following[0]) or not _day_and_month(mark.words, following[0].words):
        return 0
    return 3 if len(following) > 1 and _slashed(following[0], following[1]) else 2


def _slashed(left: Mark, right: Mark) -> bool:
    return right.kind == "n" and right.gap == Gap.AND and right.start == left.end + 1


def _day_and_month(day: str, month: str) -> bool:
    """Whether two numbers may be a day and a month, or a month and a year."""
    if not (day.isdigit() and month.isdigit() and len(month) in (1, 2, 4)):
        return False
    return 0 < int(day) <= _LARGEST_DAY and (0 < int(month) <= _LARGEST_MONTH or int(day) <= _LARGEST_MONTH)
