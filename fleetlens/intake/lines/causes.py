"""Causes and checks in a line: what was found wrong, what was measured or tested, and how it came out."""

import re
from collections.abc import Iterator

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.found import Cause, Check
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.words import Words

__all__ = ["CheckFinder", "causes"]

_VALUE = re.compile(
    r"(?<![\w.])(\d{1,6}(?:[.,]\d{1,3})?) ?"
    r"(mv|kv|v|volts?|mbar|bar|psi|kpa|hpa|k?ohms?|amps?|a|%|g|rpm|deg c|c|miles?|mi|km|ml|l|ltrs?)(?![a-z])"
)
_UNITS = {
    "volt": "V",
    "volts": "V",
    "v": "V",
    "mv": "mV",
    "kv": "kV",
    "ohm": "ohm",
    "ohms": "ohm",
    "amps": "A",
    "amp": "A",
}
_UNITS |= {
    "a": "A",
    "mile": "mi",
    "miles": "mi",
    "deg c": "°C",
    "c": "°C",
    "l": "l",
    "ltr": "l",
    "ltrs": "l",
    "kohms": "kohm",
}
_FAILED = {"fail", "failed", "fails", "leaks", "leaking", "low", "no output"}


def causes(text: str, found: list[Clause]) -> tuple[Cause, ...]:
    """What was found wrong, with the part it was found on where the clause names one; complaints are left out."""
    told: dict[tuple[str, str | None], Cause] = {}
    before: Mark | None = None
    for clause in found:
        parts = [mark for mark in clause.marks if mark.kind in "C" and mark.key != "vehicle"]
        if any(mark.kind == "G" and mark.key in ("claim", "request", "if", "modal") for mark in clause.marks):
            continue
        for mark in clause.marks:
            if mark.kind == "K":
                part = _nearest(mark, parts) or before
                key = part.key if part is not None else None
                told.setdefault(
                    (mark.key, key), Cause(mark.key, key, text[mark.start : mark.end], mark.start, mark.end)
                )
        before = next((part for part in reversed(parts) if not part.place), before)
    return tuple(told.values())


def _nearest(cause: Mark, parts: list[Mark]) -> Mark | None:
    """The part named before the cause in its clause, else the first one after it."""
    left = [part for part in parts if part.first < cause.first and not part.place]
    right = [part for part in parts if part.first > cause.first]
    return left[-1] if left else right[0] if right else None


class CheckFinder:
    """Finds the checks of our list in a line."""

    def __init__(self, words: Words) -> None:
        self._keys = {folded(spelt): check for check, spellings in words.checks.items() for spelt in spellings}
        ways = sorted(self._keys, key=len, reverse=True)
        self._any = re.compile(rf"(?<![a-z0-9])(?:{'|'.join(map(re.escape, ways))})(?![a-z0-9])") if ways else None

    def checks(self, text: str, even: str, found: list[Clause]) -> tuple[Check, ...]:
        """The checks named and the values measured in each clause, but for work only advised or refused."""
        return tuple(self._each(text, even, found)) if self._any else ()

    def _each(self, text: str, even: str, found: list[Clause]) -> Iterator[Check]:
        assert self._any is not None
        before: Mark | None = None
        for at, clause in enumerate(found):
            start, end = clause.marks[0].start, clause.marks[-1].end
            parts = [mark for mark in clause.marks if mark.kind == "C" and mark.key != "vehicle" and not mark.place]
            part = parts[0] if parts else before
            before = parts[-1] if parts else before
            if any((mark.kind == "G" and mark.key not in ("failed",)) or mark.why for mark in clause.marks):
                continue
            stretch = even[start : end + 1]
            value = _VALUE.search(stretch)
            match = self._any.search(stretch)
            if match is None and not (
                value and part is not None and value[2] not in ("l", "km", "miles", "mile", "mi", "ltr", "g")
            ):
                continue
            if match is None and any(mark.kind == "A" and mark.key not in ("inspect",) for mark in clause.marks):
                continue
            spans = [one.span() for one in (match, value) if one is not None]
            low, high = start + min(one[0] for one in spans), start + max(one[1] for one in spans)
            after = found[at + 1] if at + 1 < len(found) else None
            check = self._keys[match[0]] if match else "reading"
            component = None if check in ("road_test", "code_read", "safety_inspection") else part.key if part else None
            yield Check(
                *(check, component, _number(value), _unit(value), _passed(clause, after)),
                *(text[low:high], low, high),
            )


def _number(value: re.Match[str] | None) -> float | None:
    return float(value[1].replace(",", ".")) if value else None


def _unit(value: re.Match[str] | None) -> str | None:
    return _UNITS.get(value[2], value[2]) if value else None


def _passed(clause: Clause, after: Clause | None) -> bool | None:
    """True after a verdict of being in order, False after one of having failed, None without either."""
    marks = list(clause.marks)
    if after is not None and all(mark.kind in "OKfnGJiX" for mark in after.marks):
        marks += after.marks
    for mark in marks:
        if mark.kind == "O" or mark.words == "no return":
            return True
        if (mark.kind == "G" and mark.key == "failed") or (mark.kind == "K" and mark.words in _FAILED):
            return False
    return None
