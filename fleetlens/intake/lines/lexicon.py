"""The words made ready to look up: every phrase of our lists, in any spelling, and what it stands for."""

from collections.abc import Iterable
from typing import NamedTuple

from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.spelling import Speller
from fleetlens.intake.lines.tokens import tokens
from fleetlens.intake.lines.words import Words
from fleetlens.vocabulary.actions import actions

__all__ = ["Lexicon", "Term"]

# Actions that are always done to the same thing.
TARGETS = {
    "diagnose": "vehicle",
    "clear_codes": "vehicle",
    "road_test": "vehicle",
    "no_fault_found": "vehicle",
    "software": "engine_ecu",
    "regenerate": "dpf",
    "charge": "battery",
}
# How the groups of actions.csv that weren't done, and the govern rows of line_words.csv, are told.
_GOVERN = {"advise": "advise", "quote": "quote", "decline": "decline", "defer": "defer", "credit": "credit"}
_NOT_ALONE = {"left", "set", "not replaced", "not cleaned"}  # too common alone to mean what the list says
_BASE_ENDS_IN_D = {"weld", "build", "rebuild", "bleed", "read", "bond", "load", "add"}
_PAST = {"relearnt", "learnt", "driven", "drove", "taught", "rebuilt", "made", "ran", "drn", "found", "unstuck", "rt"}
# Heads that are no part's name by themselves: only a part named before tells which one is meant.
_BARE = {"filter", "filt", "act"}
_HEADS_FIRST = {
    "cooler",
    "plug",
    "plugs",
    "actuator",
    "relay",
    "flap",
    "filter",
    "filt",
    "act",
    "injector",
    "injectors",
    "inj",
    "injs",
}
_LETTERS = {"are": "r", "see": "c", "eff": "f", "you": "u", "dee": "d", "pee": "p", "gee": "g", "tee": "t"}
_MOST_LETTERS = 4


class Term(NamedTuple):
    """What a phrase stands for: its kind, its key, the form of its verb, and the part a test names itself."""

    kind: str
    key: str
    form: str = ""
    target: str = ""


class Lexicon:
    """Phrases by their words. A phrase matches whatever stands between its words: blank, hyphen, slash or nothing."""

    def __init__(self, words: Words) -> None:
        rows = list(_rows(words))
        short = {spelt: key for role, key, spellings in words.roles if role == "short" for spelt in spellings}
        self.dotted = frozenset(short) | {"no", "approx", "nr", "rem", "adv", "rec", "req", "repl", "chk", "insp"}
        self._letters = {word for role, _, spellings in words.roles if role == "letters" for word in spellings}
        plain = {word for role, _, spellings in words.roles if role == "plain" for word in spellings}
        split = [(self._pieces(phrase), term) for phrase, term in rows]
        known = {piece for pieces, _ in split for piece in pieces} | plain | self._letters
        self._speller = Speller(known, {spelt: key for spelt, key in short.items() if " " not in spelt})
        self._exact: dict[str, Term] = {}
        self._even: dict[str, Term] = {}
        self._longest: dict[str, int] = {}
        for pieces, term in split:
            self._exact[" ".join(pieces)] = term
        for pieces, term in split:
            self._add(self._even, [self._speller.word(piece) for piece in pieces], term)
            self._reach(pieces)
        for pieces, term in split:
            if (
                1 < len(pieces) < _MOST_LETTERS
                and all(len(piece) > 1 for piece in pieces)
                and term.kind in ("C", "A", "N")
            ):
                joined = "".join(pieces)
                self._exact.setdefault(joined, term)
                self._longest.setdefault(joined, 1)
        for pieces, term in split:
            if term.kind == "A" and len(pieces) == 1 and term.form == "base" and pieces[0].isalpha():
                for form, spelt in _inflected(pieces[0]):
                    if spelt not in self._exact:
                        self._exact[spelt] = term._replace(form=form)
                        self._longest.setdefault(spelt, 1)
        self._speller = Speller(
            known | {word for word in self._exact if " " not in word},
            {spelt: key for spelt, key in short.items() if " " not in spelt},
        )
        self._heads: dict[str, set[str]] = {}
        for phrase, term in [*self._exact.items(), *self._even.items()]:
            if term.kind == "C":
                self._heads.setdefault(term.key, set()).add(self.even(phrase.rsplit(" ", 1)[-1]))
        self.labels = {word for word in self._letters if word in self._exact}

    def even(self, word: str) -> str:
        """The word of our lists that `word` spells, in its long form and singular; else `word` itself."""
        return self._speller.word(word)

    def reach(self, word: str) -> int:
        """How many words the longest phrase that begins with `word` has; 0 where none does."""
        return self._longest.get(word, 0)

    def term(self, spelt: str, evened: str) -> Term | None:
        """What a phrase stands for, by its words as written or, failing that, as evened."""
        return self._exact.get(spelt) or self._exact.get(evened) or self._even.get(evened)

    def has_head(self, component: str, head: str) -> bool:
        """Whether `head` may end the name of `component`."""
        return head in self._heads.get(component, ())

    def spelt_out(self, letters: list[str]) -> str | None:
        """The word that single letters spell out, as in "e g r" or, spoken, "e g are"."""
        word = "".join(_LETTERS.get(letter, letter) for letter in letters)
        return word if word in self._letters else None

    def _pieces(self, phrase: str) -> list[str]:
        found, _ = tokens(folded(phrase), (), ())
        return [token.word for token in found]

    def _add(self, into: dict[str, Term], pieces: list[str], term: Term) -> None:
        into[" ".join(pieces)] = term
        self._reach(pieces)

    def _reach(self, pieces: list[str]) -> None:
        self._longest[pieces[0]] = max(self._longest.get(pieces[0], 0), len(pieces))


def _rows(words: Words) -> Iterable[tuple[str, Term]]:
    """Every phrase with its term; where two rows hold the same phrase the later one counts."""
    for component, spellings in words.components.items():
        for spelt in spellings:
            yield spelt, Term("C", component)
    undone = {name for name, action in actions().items() if not action.counts_as_done}
    for cause, spellings in words.causes.items():
        for spelt in spellings:
            yield spelt, Term("K", cause)
    for action, spellings in words.actions.items():
        for spelt in spellings:
            if action not in undone:
                yield spelt, Term("A", action, _form(spelt), TARGETS.get(action, ""))
            elif spelt not in _NOT_ALONE:
                yield spelt, Term("G", _GOVERN.get(action, "negated"))
    parts = {spelt: component for component, spellings in words.components.items() for spelt in spellings}
    for role, key, spellings in words.roles:
        for spelt in spellings:
            term = _role(role, key, spelt)
            if term and not (role == "head" and spelt in parts):
                yield spelt, term
    for spelt in _HEADS_FIRST:
        yield spelt, Term("H", "" if spelt in _BARE else parts.get(spelt, ""))


_ROLE_KINDS = {
    "verdict": "O",
    "neutral": "N",
    "done": "D",
    "perform": "D",
    "nothing": "X",
    "turn": "B",
    "with": "W",
    "join": "J",
    "place": "P",
    "new": "R",
    "filler": "f",
    "inner": "i",
    "fastener": "F",
    "part": "U",
    "foreign": "M",
    "head": "H",
    "whole": "T",
    "measured": "E",
}


def _role(role: str, key: str, spelt: str) -> Term | None:
    if role == "govern":
        return Term("G", key)
    if role == "test":
        return Term("A", "inspect", _form(spelt), key)
    kind = _ROLE_KINDS.get(role)
    return Term(kind, key) if kind else None


def _form(phrase: str) -> str:
    words = folded(phrase).replace("'", "").replace("-", " ").split()
    if any(word in _PAST or (word.endswith("d") and word not in _BASE_ENDS_IN_D and len(word) > 2) for word in words):
        return "past"
    return "ing" if any(word.endswith("ing") for word in words) else "base"


def _inflected(base: str) -> Iterable[tuple[str, str]]:
    stem = base[:-1] if base.endswith("e") else base
    yield "base", base + "s"
    yield "past", stem + "ed"
    yield "ing", stem + "ing"
