"""How well each of our columns fits a column of a file: by its name, and by what stands in it."""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from fleetlens.intake.maps import component_words, names
from fleetlens.intake.maps.contents import Contents
from fleetlens.intake.maps.shape import words

__all__ = ["GUESSED", "Candidate", "assign", "candidates", "groups"]

GUESSED = 0.5  # confidence of what only the values make likely
_LEAST = 0.5  # of confidence; below it a column is left aside
_LEAST_GROUP = 3  # names that share a first word
_LEAST_PARTS = 3  # names of components that make a column one of components
_FEW_DIGITS = 3  # as many make a number of a value rather than a name
_LONG_MARK = 24  # letters of a cell, from which it is no mark
_WORDY = 2.5  # words in a value, from which it is a text
_DATES = ("opened_at", "closed_at", "in_service_on", "history_from", "left_service_on", "read_at")
_NUMBERS = (
    *("odometer", "in_service_km", "downtime_h", "quantity", "labour_h", "labour_cost", "parts_cost"),
    *("value", "low", "high", "count"),
)
_NAMING = ("job_id", "vehicle_id")
_LABELS = ("reason", "action", "status", "part_grade", "fuel", "duty", "depot", "make", "model", "engine")
_TEXTS = ("note", "complaint")


@dataclass(frozen=True, slots=True)
class Candidate:
    """One of our columns, how surely a file's column is it (0 to 1), and the evidence in words."""

    ours: str
    confidence: float
    evidence: tuple[str, ...]


def groups(all_names: Sequence[str]) -> frozenset[str]:
    """First words that several names share, as where a header of two rows was joined: Visit Date in, Visit Clock."""
    firsts = Counter(name.split()[0] for name in all_names if len(name.split()) > 1)
    return frozenset(word for word, count in firsts.items() if count >= _LEAST_GROUP)


def candidates(name: str, seen: Contents, grouped: Collection[str] = ()) -> list[Candidate]:
    """What the column `name` may be, the surest first; all with a confidence above 0. `grouped`: as `groups`."""
    found: dict[str, Candidate] = {}
    first, _, rest = name.partition(" ")
    within = (
        [replace(match, confidence=0.95 * match.confidence) for match in names.matches(rest)]
        if rest and first in grouped
        else []
    )
    for match in sorted((*names.matches(name), *within), key=lambda match: match.confidence):
        factor, why = _fit(match.column, seen)
        found[match.column] = Candidate(match.column, match.confidence * factor, (match.why, why))
    for own in _by_contents(seen):
        named = found.get(own.ours)
        if named is None or named.confidence < own.confidence:
            found[own.ours] = own
    return sorted((one for one in found.values() if one.confidence > 0), key=lambda one: -one.confidence)


def assign(offered: Mapping[str, Sequence[Candidate]]) -> dict[str, Candidate]:
    """For each column of the file what it is taken for: the surest pairs first, none of either side twice."""
    pairs = [
        (candidate.confidence, -place, name, candidate)
        for place, (name, all_) in enumerate(offered.items())
        for candidate in all_
        if candidate.confidence >= _LEAST
    ]
    taken: dict[str, Candidate] = {}
    given: set[str] = set()
    for _, _, name, candidate in sorted(pairs, key=lambda pair: pair[:2], reverse=True):
        if name not in taken and candidate.ours not in given:
            taken[name] = candidate
            given.add(candidate.ours)
    return taken


def _fit(ours: str, seen: Contents) -> tuple[float, str]:
    """A factor on the confidence of a name, and what the contents say to it."""
    if not seen.filled:
        return 0.6, "it is empty in the rows looked at"
    for columns, fit in _FITS:
        if ours in columns:
            return fit(seen)
    return 1.0, _such_as(seen)


def _dates(seen: Contents) -> tuple[float, str]:
    serial = seen.whole > 0.8 and all(len(text) == 5 for text in seen.examples)
    if seen.dates >= 0.5 or serial:
        return 1.0, f"{_percent(seen.dates)} of its values are dates, {_such_as(seen)}" if not serial else "day numbers"
    return 0.0, "its values are no dates"


def _numbers(seen: Contents) -> tuple[float, str]:
    if seen.numbers >= 0.5 and seen.dates < 0.5:
        return 1.0, f"{_percent(seen.numbers)} of its values are numbers, {_such_as(seen)}"
    return 0.0, f"its values are no numbers, {_such_as(seen)}"


def _line(seen: Contents) -> tuple[float, str]:
    return (1.0 if seen.whole > 0.9 else 0.0), f"{_percent(seen.whole)} of its values are whole numbers"


def _year(seen: Contents) -> tuple[float, str]:
    good = seen.whole > 0.9 and all(len(text) == 4 for text in seen.examples)
    return (1.0 if good else 0.0), _such_as(seen)


def _vin(seen: Contents) -> tuple[float, str]:
    return (1.0 if seen.vins >= 0.3 else 0.4), f"{_percent(seen.vins)} of its values have the form of a VIN"


def _codes(seen: Contents) -> tuple[float, str]:
    if seen.codes >= 0.3:
        return 1.0, f"{_percent(seen.codes)} of its values hold fault codes, {_such_as(seen)}"
    return (0.6 if seen.codes >= 0.05 else 0.0), f"few of its values hold fault codes, {_such_as(seen)}"


def _units(seen: Contents) -> tuple[float, str]:
    return (1.0 if seen.units > 0.7 else 0.0), f"{_percent(seen.units)} of its values are units of distance"


def _measures(seen: Contents) -> tuple[float, str]:
    return (0.3 if seen.units > 0.7 else 1.0), _such_as(seen)


def _naming(seen: Contents) -> tuple[float, str]:
    money = seen.numbers > 0.8 and seen.whole < 0.5
    good = seen.words_each < _WORDY and seen.dates < 0.5 and not money
    return (1.0 if good else 0.2), f"{_different(seen)}, {_such_as(seen)}"


def _marks(seen: Contents) -> tuple[float, str]:
    # A mark has a group of letters or two; a cell may hold several marks.
    good = seen.letters_each < _LONG_MARK and seen.dates < 0.5
    return (1.0 if good else 0.2), f"{_different(seen)}, {_such_as(seen)}"


def _numbered_parts(seen: Contents) -> tuple[float, str]:
    parts = _component_names(seen)
    if parts and 2 * len(parts) >= min(seen.distinct, len(seen.distinct_values)):
        return 0.2, f"{len(parts)} of its {seen.distinct:,} values are names of components"
    return _naming(seen)


def _components(seen: Contents) -> tuple[float, str]:
    shown = seen.distinct_values or seen.examples
    numbered = [text for text in shown if sum(letter.isdigit() for letter in text) >= _FEW_DIGITS]
    if 2 * len(numbered) > len(shown) and not _component_names(seen):
        return 0.4, f"its values are numbers rather than names, {_such_as(seen)}"
    return _labels(seen)


def _labels(seen: Contents) -> tuple[float, str]:
    number = seen.numbers > 0.9 and seen.dates < 0.5
    wordy = seen.words_each > 2 * _WORDY
    return (0.3 if wordy else 0.7 if number else 1.0), f"{_different(seen)}, {_such_as(seen)}"


def _texts(seen: Contents) -> tuple[float, str]:
    if seen.numbers > 0.7 or seen.dates > 0.7 or seen.vins > 0.7:
        return 0.2, f"its values are no texts, {_such_as(seen)}"
    return 1.0, f"texts of {seen.words_each:.0f} words on average, {_such_as(seen)}"


_FITS: tuple[tuple[Sequence[str], Callable[[Contents], tuple[float, str]]], ...] = (
    (_DATES, _dates),
    (_NUMBERS, _numbers),
    (("line",), _line),
    (("model_year",), _year),
    (("vin",), _vin),
    (("code",), _codes),
    (("odometer_unit",), _units),
    (("unit",), _measures),
    (_NAMING, _naming),
    (("registration",), _marks),
    (("part_number",), _numbered_parts),
    (("component",), _components),
    (_LABELS, _labels),
    (_TEXTS, _texts),
)


def _by_contents(seen: Contents) -> list[Candidate]:
    """What the values alone make of it."""
    found = []
    if seen.filled >= 2 and seen.vins >= 0.8:
        found.append(Candidate("vin", 0.95, (f"{_percent(seen.vins)} of its values have the form of a VIN",)))
    if seen.filled >= 2 and seen.code_only >= 0.7:
        found.append(Candidate("code", 0.92, (f"{_percent(seen.code_only)} of its values are fault codes",)))
    if seen.filled >= 2 and seen.units >= 0.95:
        found.append(Candidate("odometer_unit", 0.9, ("all its values are units of distance",)))
    parts = _component_names(seen)
    if len(parts) >= _LEAST_PARTS and len(parts) >= 0.3 * seen.distinct:
        found.append(
            Candidate("component", 0.93, (f"{len(parts)} of its {seen.distinct} values are names of components",))
        )
    wordy = seen.words_each >= 3.5 and seen.distinct > 0.2 * seen.filled
    long = seen.words_each >= 2 and seen.letters_each >= 12 and seen.distinct > 0.6 * seen.filled
    if (wordy or long) and seen.dates < 0.3 and seen.numbers < 0.3:
        found.append(Candidate("note", 0.55, (f"texts of {seen.words_each:.0f} words on average",)))
    if seen.filled >= 2 and seen.dates >= 0.9:
        found.append(Candidate("opened_at", GUESSED, (f"{_percent(seen.dates)} of its values are dates",)))
    return found


def _different(seen: Contents) -> str:
    return f"{seen.distinct:,} different value{'' if seen.distinct == 1 else 's'}"


def _component_names(seen: Contents) -> list[str]:
    """Of the different values of a column those that name a component of our list."""
    return [text for text in seen.distinct_values if words(text) in component_words.known()]


def _percent(share: float) -> str:
    return "all" if share == 1 else "none" if share == 0 else f"{min(max(round(100 * share), 1), 99)} %"


def _such_as(seen: Contents) -> str:
    shown = ", ".join(repr(text[:30]) for text in seen.examples[:2])
    return f"such as {shown}"
