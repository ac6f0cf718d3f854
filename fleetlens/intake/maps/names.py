"""Which of our columns a name of a file's column may mean."""

import difflib
from dataclasses import dataclass

from fleetlens.intake.maps.shape import words
from fleetlens.vocabulary.column_names import called

__all__ = ["Match", "matches", "unit_in"]

_KM = ("km", "kms", "kilometer", "kilometers", "kilometre", "kilometres", "kilometerstand", "kilometrage", "chilometri")
_MILES = ("mi", "mls", "miles", "mile", "mijl", "meilen", "millas", "miglia")
# Words that say how a thing is written rather than what it is.
_TRIMMINGS = {
    *(*_KM, *_MILES, "h", "hr", "hrs", "hours", "std", "eur", "euro", "gbp", "usd", "chf", "sek", "pln", "dkk", "nok"),
    *("net", "netto", "gross", "ht", "excl", "ex", "incl", "vat", "in", "yyyy", "mm", "dd", "the", "of", "code", "der"),
    *("des", "du", "de", "la", "le", "van", "del", "della", "job", "wo", "total", "1", "2", "text", "txt", "str"),
}
# Words that say of anything that it is named: alone they name nothing.
_NAMING = frozenset(("id", "ref", "reference", "no", "nr", "number", "key", "uid", "guid", "num"))
_FUZZY = 0.86
_CUT = 0.6


@dataclass(frozen=True, slots=True)
class Match:
    """One of our columns that a name may mean, how surely (0 to 1), and why in words."""

    column: str
    confidence: float
    why: str


def matches(name: str) -> list[Match]:
    """Our columns that `name` may mean, the surest first."""
    plain = words(name)
    if not plain:
        return []
    last = words(name.rpartition(".")[2])  # a nested name: its last step often says it all
    exact = called().get(plain) or called().get(plain.replace(" ", ""))
    if not exact and last not in _NAMING:
        exact = called().get(last)
    if exact:
        return [Match(ours, 1.0 - 0.1 * (len(exact) > 1), f"the name {name!r} is known for it") for ours in exact]
    found: dict[str, Match] = {}
    mine = plain.split()
    bare = " ".join(word for word in mine if word not in _TRIMMINGS and word not in _NAMING)
    for ours in called().get(bare, ()):
        found[ours] = Match(ours, 0.9, f"the name {name!r} holds {bare!r}")
    for known, columns in called().items():
        share = _covered(known.split(), mine)
        near = difflib.SequenceMatcher(None, known, plain)
        if share < _CUT and near.real_quick_ratio() > _FUZZY and near.quick_ratio() > _FUZZY and near.ratio() > _FUZZY:
            share = 0.7
        for ours in columns:
            if share >= _CUT and share > (found[ours].confidence if ours in found else 0.0):
                found[ours] = Match(ours, round(min(share, 0.85), 2), f"the name {name!r} is like {known!r}")
    return sorted(found.values(), key=lambda match: -match.confidence)


def unit_in(name: str) -> str:
    """ "km" or "mi" where the name says it, else "". A name that says both says neither."""
    mine = set(words(name).split())
    km, miles = bool(mine & set(_KM)) or "kilomet" in words(name), bool(mine & set(_MILES))
    return "" if km == miles else "km" if km else "mi"


def _covered(known: list[str], mine: list[str]) -> float:
    """How much of a name a known name explains: 0 where not all words of the known one are in it."""
    letters = sum(map(len, known))
    if letters < 3 or not set(known) <= set(mine):
        return 0.0
    rest = [word for word in mine if word not in known and word not in _TRIMMINGS]
    return 0.9 * letters / (letters + 0.6 * sum(map(len, rest)))
