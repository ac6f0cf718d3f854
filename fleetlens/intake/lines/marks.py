"""The words of a line marked with what they stand for, and parts named by half a name traced to the whole one."""

from collections.abc import Sequence
from dataclasses import dataclass

from fleetlens.intake.lines.found import Found
from fleetlens.intake.lines.lexicon import Lexicon, Term
from fleetlens.intake.lines.tokens import CODE, Gap, Token
from fleetlens.vocabulary.codes import typical_component

__all__ = ["Mark", "marked"]

# A part directly before one of these only says where it sits: "map wiring", "egr plug", "turbo gasket".
_HOLDERS = {"wiring", "connector", "gasket_seal", "fuse_relay", "vacuum_hose", "injector_seal", "ground"}
# A part that directly before another only says which: "exhaust nox sensor", "turbo boost hose".
_WHERE_ABOUTS = {"intake_system", "exhaust_pipe", "engine", "vehicle", "turbocharger", "dpf", "coolant", "engine_oil"}
# Parts of one common word, which a word before may turn into something else: "gearbox oil", "cabin filter".
_COMMON = {"engine_oil", "oil_filter", "air_filter", "cooling_fan", "vacuum_hose", "boost_hose", "fuse_relay", "brakes"}
_DASH_WORDS = {"odo", "odometer", "display", "dash", "clock", "speedo", "speedometer", "mileage"}
_FUEL_WORDS = {"rail", "fuel", "hp", "diesel", "prv", "scv"}
_OIL_WORDS = {"breather", "crankcase", "oil", "ccv"}
_COOLER_WORDS = {"leaking", "leak", "leaks", "coolant", "pressure", "blocked", "split", "cracked", "flushed"}


@dataclass(slots=True)
class Mark:
    """A phrase of the line: its kind (a letter, see Term), its key, and the words `first` to `last` it takes up."""

    kind: str
    key: str
    first: int
    last: int
    start: int
    end: int
    gap: Gap
    words: str = ""
    form: str = ""
    target: str = ""
    new: bool = False  # a part that takes the place of another
    place: bool = False  # says where, not what
    fastened: bool = False  # what is meant is a clip or bolt of it
    doubtful: bool = False  # asked with a question mark
    why: str = ""  # why what it says wasn't done


def marked(found: list[Token], lexicon: Lexicon, codes: Sequence[Found] = ()) -> list[Mark]:
    """The marks of a line, in order; words that stand for nothing are kept as kind "x".

    A half name with nothing before it, such as "valve", is traced to the usual part of one of `codes`.
    """
    words = _joined_letters(found, lexicon)
    spelt = [token.word for token in words]
    evened = [word if word == CODE or word[0].isdigit() else lexicon.even(word) for word in spelt]
    marks: list[Mark] = []
    at, size = 0, len(words)
    while at < size:
        term, length = _longest(words, spelt, evened, at, lexicon)
        token = words[at]
        kind, key, form, target = term
        marks.append(
            Mark(
                *(kind, key, at, at + length - 1, token.start, words[at + length - 1].end, token.gap),
                " ".join(evened[at : at + length]),
                *(form, target),
            )
        )
        at += length
    _settle_doubles(marks, set(spelt))
    usual = tuple(part for code in codes if (part := typical_component(code.code)))
    return _named(marks, usual, lexicon)


_NUMBER, _OTHER, _CODE_TERM = Term("n", ""), Term("x", ""), Term("Z", "vehicle")


def _longest(words: list[Token], spelt: list[str], evened: list[str], at: int, lexicon: Lexicon) -> tuple[Term, int]:
    word = spelt[at]
    if word == CODE:
        return _CODE_TERM, 1
    reach = max(lexicon.reach(word), lexicon.reach(evened[at]))
    size = len(words)
    if at + 1 < size and words[at + 1].gap == Gap.SOFT:
        if reach > 1:
            stop = at + 1
            while stop < size and stop - at < reach and words[stop].gap == Gap.SOFT and spelt[stop] != CODE:
                stop += 1
            while stop > at + 1:
                term = lexicon.term(" ".join(spelt[at:stop]), " ".join(evened[at:stop]))
                if term:
                    return term, stop - at
                stop -= 1
        if len(word) > 1 and len(spelt[at + 1]) > 2:
            joined = word + spelt[at + 1]
            if lexicon.reach(joined):
                term = lexicon.term(joined, joined)
                if term and term.kind in "CAN":
                    return term, 2
    if word == "no" and at + 1 < size and spelt[at + 1][:1].isdigit():
        return _NUMBER, 1
    if word[0].isdigit() or (word[:1] == "x" and word[1:].isdigit()) or (word[:2] == "no" and word[2:].isdigit()):
        term = lexicon.term(word, word) if reach else None
        return term or _NUMBER, 1
    if reach:
        term = lexicon.term(word, evened[at])
        if term:
            return term, 1
    return _OTHER, 1


def _joined_letters(found: list[Token], lexicon: Lexicon) -> list[Token]:
    """Single letters that spell out a word, taken as that word."""
    if not any(len(token.word) == 1 for token in found):
        return found
    joined: list[Token] = []
    at = 0
    while at < len(found):
        token = found[at]
        if len(token.word) == 1 and token.word.isalpha():
            for size in (4, 3):
                run = found[at : at + size]
                if len(run) == size and all(one.gap == Gap.SOFT for one in run[1:]):
                    word = lexicon.spelt_out([one.word for one in run])
                    if word:
                        joined.append(Token(word, token.start, run[-1].end, token.gap))
                        at += size
                        break
            else:
                joined.append(token)
                at += 1
        else:
            joined.append(token)
            at += 1
    return joined


def _settle_doubles(marks: list[Mark], words: set[str]) -> None:
    """Short words of two meanings, settled by the words around (section 'Reading job lines', DEVELOPERS.md)."""
    for at, mark in enumerate(marks):
        word = mark.words
        before = marks[at - 1] if at and mark.gap == Gap.SOFT else None
        after = marks[at + 1] if at + 1 < len(marks) and marks[at + 1].gap == Gap.SOFT else None
        if word == "clr":
            cooler = after is not None and after.words.split(" ")[0] in _COOLER_WORDS and after.kind in "KOA"
            cooler = cooler or (before is not None and before.kind == "C" and before.key.startswith("egr"))
            mark.kind, mark.key, mark.form, mark.target = (
                ("C", "egr_cooler", "", "") if cooler else ("A", "clear_codes", "base", "vehicle")
            )
        elif mark.key == "intercooler" and word in ("ic", "i c") and words & _DASH_WORDS:
            mark.key = "instrument_cluster"
        elif word == "pcv" and words & _FUEL_WORDS:
            mark.key = "fuel_pressure_regulator"
        elif word == "pcv valve" and words & _OIL_WORDS and not words & _FUEL_WORDS:
            mark.key = "crankcase_breather"
        elif mark.kind == "A" and word == "replacement" and after is not None and after.kind in "CHT":
            if not (before is not None and before.kind in "C"):
                mark.kind = "R"
        elif mark.key == "ground" and word in ("ground", "earth", "gnd"):
            beside = [one for one in marks[max(0, at - 2) : at + 3] if one.kind == "E" or one.words.endswith("v")]
            if beside:
                mark.kind = "x"
        elif (mark.kind == "C" and word == "head" and (after is None or after.kind != "A")) or (
            mark.kind == "A" and mark.key == "charge" and not words & {"battery", "batt", "bat", "batty", "overnight"}
        ):
            mark.kind = "x"
        elif (
            mark.kind == "C"
            and word == "charging"
            and words & {"battery"}
            and after is not None
            and after.words == "up"
        ):
            mark.kind, mark.key = "A", "charge"


def _named(marks: list[Mark], usual: tuple[str, ...], lexicon: Lexicon) -> list[Mark]:
    """Half names traced to the part named before; modifiers and parts outside our list told apart."""
    named: list[Mark] = []
    seen: list[Mark] = []
    place = False
    for at, mark in enumerate(marks):
        if mark.gap >= Gap.COMMA or mark.kind in "ANGOB" or (mark.kind == "W" and named[-1:] and named[-1].kind != "K"):
            place = False
        elif mark.kind == "P" or (mark.kind == "W" and named and named[-1].kind == "K"):  # "contaminated with oil"
            place = True
        mark.place = place and mark.kind in "CUH"
        before = named[-1] if named and mark.gap == Gap.SOFT else None
        if mark.kind == "H":
            _trace(mark, before, seen, named, marks[at + 1 : at + 4], lexicon)
            if mark.kind == "U" and not (before is not None and before.kind in "CxM"):
                for part in usual:
                    if lexicon.has_head(part, lexicon.even(mark.words)):
                        mark.kind, mark.key = "C", part
                        break
            if mark.kind == "U" and before is not None and before.kind == "C" and not before.place:
                before.kind = "m"
        elif mark.kind in "UF" and before is not None and before.kind == "C":
            if mark.kind == "F":
                before.fastened = True
                mark.kind = "x"
            else:
                before.kind = "m"
        if mark.kind == "C":
            if mark.key in _HOLDERS and before is not None and before.kind in "xi" and len(named) > 1:
                if before.gap == Gap.SOFT and named[-2].kind in "Cm":  # "turbo oil return gasket"
                    before = named[-2]
            if before is not None and before.kind == "M" and mark.key in _COMMON:
                mark.kind = "U"
            elif before is not None and before.kind == "C" and before.key != mark.key:
                if mark.key in _HOLDERS or before.key in _WHERE_ABOUTS:
                    for one in named[-4:]:
                        if one.kind == "C" and one.last == before.first - 1:
                            one.kind = "m"
                    before.kind = "m"
                    mark.new = mark.new or before.new
            elif before is not None and before.kind == "C" and before.key == mark.key:
                before.kind = "m"
        if mark.kind in "CU" and mark.kind != "U":
            mark.new = mark.new or _is_new(named, mark)
            seen.append(mark)
        elif mark.kind == "T" and _is_new(named, mark):
            mark.kind, mark.key, mark.form = "A", "replace", "past"
        named.append(mark)
    return named


def _is_new(named: list[Mark], mark: Mark) -> bool:
    """Whether "new" or "recon" stands before the part, with small words between at most."""
    gap = mark.gap
    for one in reversed(named[-5:]):
        if gap not in (Gap.SOFT, Gap.AND):
            return False
        if one.kind == "R":
            return True
        if one.kind == "C" and one.new and (gap == Gap.AND or one.kind == "J"):
            return True
        if one.kind not in "fnimJCFx" or (one.kind == "C" and not one.new):
            return False
        gap = one.gap
    return False


def _trace(
    mark: Mark, before: Mark | None, seen: list[Mark], named: list[Mark], after: list[Mark], lexicon: Lexicon
) -> None:
    """Turn the half name into a part ("C"), or into a part that isn't ours ("U")."""
    head = lexicon.even(mark.words)
    default = mark.key
    if before is not None and before.kind == "M":
        mark.kind, mark.key = "U", ""
        return
    if len(after) > 1 and after[0].kind == "P" and after[0].words in ("for", "of", "on"):  # "relay for glow plugs"
        owner = next((one for one in after[1:] if one.kind not in "fn"), None)
        term = lexicon.term(f"{owner.words} {head}", f"{owner.words} {head}") if owner and owner.kind == "C" else None
        if term and term.kind == "C":
            mark.kind, mark.key, mark.words = "C", term.key, f"{owner.words if owner else ''} {head}"
            return
    for at, one in enumerate(named):  # "vac leak found, pipe replaced"
        if one.kind != "K" or one.key != "leaking":
            continue
        start = one.words.split(" ")[0] if " " in one.words else named[at - 1].words if at else ""
        term = lexicon.term(f"{start} {head}", f"{start} {head}")
        if term and term.kind == "C":
            mark.kind, mark.key, mark.words = "C", term.key, f"{start} {head}"
            return
    for one in sorted(reversed(seen), key=lambda one: one.place):
        stem = one.words.split(" ")
        inside = " ".join(stem[: stem.index(head)]) if head in stem[:-1] else ""
        for start in (" ".join(stem[:-1]), " ".join(stem), inside, stem[0]):
            if start:
                term = lexicon.term(f"{start} {head}", f"{start} {head}")
                if term and term.kind == "C":
                    mark.kind, mark.key, mark.words = "C", term.key, f"{start} {head}"
                    return
        if lexicon.has_head(one.key, head):
            mark.kind, mark.key, mark.words = "C", one.key, one.words
            return
    if head == "element":
        mark.kind = "i"
        return
    mark.kind, mark.key = ("C", default) if default else ("U", "")
