"""The words of a line marked with what they stand for, the longest phrase first."""

from collections.abc import Sequence

from fleetlens.intake.lines.dates import settle_dates
from fleetlens.intake.lines.doubles import settle_doubles
from fleetlens.intake.lines.found import Found
from fleetlens.intake.lines.lexicon import SPOKEN, Lexicon, Term
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.naming import name_parts
from fleetlens.intake.lines.speech import settle_speech
from fleetlens.intake.lines.tokens import CODE, Gap, Token
from fleetlens.vocabulary.codes import typical_component

__all__ = ["marked"]


def marked(found: list[Token], lexicon: Lexicon, codes: Sequence[Found] = ()) -> list[Mark]:
    """The marks of a line, in order; words that stand for nothing are kept as kind "x".

    A half name with nothing before it, such as "valve", is traced to the usual part of one of `codes`.
    """
    words = [_without_number(token, lexicon) for token in _joined_letters(found, lexicon)]
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
    _split_verbs(marks, lexicon)
    settle_doubles(marks, set(spelt))
    settle_speech(marks)
    settle_dates(marks)
    usual = tuple(part for code in codes if (part := typical_component(code.code)))
    return name_parts(marks, usual, lexicon)


def _split_verbs(marks: list[Mark], lexicon: Lexicon) -> None:
    """ "blew the radiator through": a verb whose second word comes after its part."""
    for at, mark in enumerate(marks):
        if mark.kind != "x" or lexicon.reach(mark.words) < _SHORT:
            continue
        for one in marks[at + 1 : at + _WIDEST]:
            if one.gap != Gap.SOFT or one.kind in "ANOG":
                break
            term = lexicon.term(f"{mark.words} {one.words}", f"{mark.words} {one.words}")
            if term and term.kind in "AN" and one is not marks[at + 1]:
                mark.kind, mark.key, mark.form, mark.target = term
                one.kind = "f"
                break


def _without_number(token: Token, lexicon: Lexicon) -> Token:
    """ "egt2", "inj3": the part's name, where the whole is none of ours."""
    stem = token.word.rstrip("0123456789")
    if stem == token.word or len(stem) < _SHORT or not stem.isalpha() or lexicon.reach(token.word):
        return token
    term = lexicon.term(stem, lexicon.even(stem))
    return token._replace(word=stem) if term and term.kind in "CH" else token


_NUMBER, _OTHER, _CODE_TERM = Term("n", ""), Term("x", ""), Term("Z", "vehicle")
_WIDEST = 6  # words of a part's name with its place
_PLACES = {
    *("front", "rear", "upper", "lower", "top", "bottom", "left", "right", "inner", "outer", "main", "nearside"),
    *("offside", "ns", "os", "nsf", "nsr", "osf", "osr", "frt", "no", "number", "lh", "rh", "centre", "outlet"),
}
_PRONOUNS = {"it", "them", "this", "that", "these", "both", "the", "a"}
_COUNTS = ("x", "no")  # x4, no2
_SHORT = 2


def _longest(words: list[Token], spelt: list[str], evened: list[str], at: int, lexicon: Lexicon) -> tuple[Term, int]:
    """The term that begins at a word, and how many words it takes up."""
    word = spelt[at]
    if word == CODE:
        return _CODE_TERM, 1
    reach = max(lexicon.reach(word), lexicon.reach(evened[at]))
    following = words[at + 1] if at + 1 < len(words) else None
    if following is not None and following.gap == Gap.SOFT:
        found = _phrase(words, spelt, evened, at, reach, lexicon) if reach > 1 else None
        found = found or _compound(word, following.word, lexicon)
        if found:
            return found
    numbered = word == "no" and following is not None and any(sign.isdigit() for sign in following.word)
    if numbered or word[0].isdigit() or (word.startswith(_COUNTS) and word.lstrip("nox").isdigit()):
        term = lexicon.term(word, word) if reach and not numbered else None
        return term or _NUMBER, 1
    return (lexicon.term(word, evened[at]) if reach else None) or _OTHER, 1


def _phrase(  # noqa: PLR0917 - the inner loop of the reading: plain lists, no object around them
    words: list[Token], spelt: list[str], evened: list[str], at: int, reach: int, lexicon: Lexicon
) -> tuple[Term, int] | None:
    """The longest phrase of several words."""
    stop, most = at + 1, min(len(words), at + reach)
    while stop < most and words[stop].gap == Gap.SOFT and spelt[stop] != CODE:
        stop += 1
    around = _around(words, evened, at, lexicon)
    for end in range(stop, at + 1, -1):
        if around and around[1] > end - at:
            break
        term = lexicon.term(" ".join(spelt[at:end]), " ".join(evened[at:end]))
        if term:
            return term, end - at
    return around


def _around(words: list[Token], evened: list[str], at: int, lexicon: Lexicon) -> tuple[Term, int] | None:
    """A name with its place or number inside, "egr upper pipe", "inj no 2 seal", or a verb with "it": "took it off"."""
    kept, passed, held = [evened[at]], 0, False
    found: tuple[Term, int] | None = None
    for end in range(at + 1, min(len(words), at + _WIDEST)):
        word = evened[end]
        if words[end].gap != Gap.SOFT or word == CODE:
            break
        if word in _PLACES or word in _PRONOUNS or word.isdigit():
            passed += 1
            held = held or word in _PRONOUNS
            continue
        kept.append(word)
        if passed:
            term = lexicon.term("", " ".join(kept))
            if term and term.kind in ("ANG" if held else "CU"):
                found = term, end - at + 1
    return found


def _compound(word: str, following: str, lexicon: Lexicon) -> tuple[Term, int] | None:
    """Two words of which our list makes one: "turbo charger"."""
    joined = word + following
    if len(word) > 1 and len(following) > _SHORT and lexicon.reach(joined):
        term = lexicon.term(joined, joined)
        if term and term.kind in "CAN":
            return term, 2
    return None


def _joined_letters(found: list[Token], lexicon: Lexicon) -> list[Token]:
    """Single letters that spell out a word, taken as that word."""
    if not any(len(token.word) == 1 or token.word in SPOKEN for token in found):
        return found
    joined: list[Token] = []
    at = 0
    while at < len(found):
        token = found[at]
        if token.word in SPOKEN or (len(token.word) == 1 and token.word.isalpha()):
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
