"""The words made ready to look up: every phrase of our lists, in any spelling, and what it stands for."""

from collections.abc import Iterator
from typing import NamedTuple

from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.spelling import Speller
from fleetlens.intake.lines.tokens import tokens
from fleetlens.intake.lines.wordings import equal_words, inflected, run_together, turned_round
from fleetlens.intake.lines.words import Words
from fleetlens.vocabulary.actions import actions

__all__ = ["SPOKEN", "Lexicon", "Term"]

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
_BASE_ENDS_IN_D = {"weld", "build", "rebuild", "bleed", "read", "bond", "load", "add", "road", "rd", "obd"}
_PAST = {"relearnt", "learnt", "driven", "drove", "taught", "rebuilt", "made", "ran", "drn", "found", "unstuck", "rt"}
_PAST |= {
    "written",
    "done",
    "complete",
    "went",
    "put",
    "threw",
    "slung",
    "blew",
    "blown",
    "shown",
    "shaken",
    "beaten",
    "took",
}
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
SPOKEN = {"are": "r", "see": "c", "eff": "f", "you": "u", "dee": "d", "pee": "p", "gee": "g", "tee": "t"}
_DOTTED = {"no", "approx", "nr", "rem", "adv", "rec", "req", "repl", "chk", "insp", "cln", "adj", "chg"}  # "adv. egr"


class Term(NamedTuple):
    """What a phrase stands for: its kind, its key, the form of its verb, and the part a test names itself."""

    kind: str
    key: str
    form: str = ""
    target: str = ""


class Lexicon:
    """Phrases by their words. A phrase matches whatever stands between its words: blank, hyphen, slash or nothing."""

    def __init__(self, words: Words) -> None:
        short = {spelt: key for role, key, spellings in words.roles if role == "short" for spelt in spellings}
        self.dotted = frozenset(short) | _DOTTED
        self._letters = {word for role, _, spellings in words.roles if role == "letters" for word in spellings}
        plain = {word for role, _, spellings in words.roles if role == "plain" for word in spellings}
        phrases = [(_pieces(phrase), term) for phrase, term in _rows(words)]
        groups = [
            [tuple(_pieces(spelt)) for spelt in spellings] for role, _, spellings in words.roles if role == "same"
        ]
        known = {piece for pieces, _ in phrases for piece in pieces} | plain | self._letters
        known |= {piece for group in groups for pieces in group for piece in pieces}
        short = {spelt: key for spelt, key in short.items() if " " not in spelt}
        speller = Speller(known, short)
        self._exact = {" ".join(pieces): term for pieces, term in phrases}
        self._even = {" ".join(map(speller.word, pieces)): term for pieces, term in phrases}
        self._longest: dict[str, int] = {}
        for pieces, _ in phrases:
            self._longest[pieces[0]] = max(self._longest.get(pieces[0], 0), len(pieces))
        self._add_wordings(phrases, groups, speller)
        # No misspelling is taken for a word that only our own rules have made up: "repeat" isn't "reseat".
        self._speller = Speller(known | {spelt for spelt in self._exact if " " not in spelt} - self._made_up, short)
        self._heads: dict[str, set[str]] = {}
        for phrase, term in [*self._exact.items(), *self._even.items()]:
            if term.kind == "C" and phrase not in self._turned:
                self._heads.setdefault(term.key, set()).add(self.even(phrase.rsplit(" ", 1)[-1]))
        self._of_part: dict[tuple[str, str], str] = {}
        for phrase, term in self._even.items():
            owner, _, head = phrase.rpartition(" ")
            whole = self._even.get(owner)
            if phrase in self._turned or term.kind != "C" or whole is None:
                continue
            if whole.kind == "C" and whole.key != term.key:
                self._of_part.setdefault((whole.key, head), term.key)

    def _add_wordings(
        self, phrases: list[tuple[tuple[str, ...], Term]], groups: list[list[tuple[str, ...]]], speller: Speller
    ) -> None:
        """The same phrases in other words, where no list says otherwise."""
        terms = dict(phrases)
        self._made_up: set[str] = set()
        for spelt, source in run_together(pieces for pieces, term in phrases if term.kind in "CAN"):
            self._exact.setdefault(spelt, terms[source])
            self._longest.setdefault(spelt, 1)
            if terms[source].kind != "C":
                self._made_up.add(spelt)
        bases = {
            pieces[0]: term
            for pieces, term in phrases
            if term.kind == "A" and len(pieces) == 1 and term.form == "base" and pieces[0].isalpha()
        }
        for spelt, base, form in inflected({base: term.key for base, term in bases.items()}):
            self._exact.setdefault(spelt, bases[base]._replace(form=form))
            self._longest.setdefault(spelt, 1)
            if not spelt.startswith(base.removesuffix("e")) or spelt == f"{base}d":
                self._made_up.add(spelt)
        parts = {tuple(phrase.split(" ")): term for phrase, term in self._even.items() if term.kind in "CU"}
        heads = frozenset(phrase for phrase, term in self._even.items() if term.kind == "H")
        said = {pieces: term.kind + term.key for pieces, term in parts.items()}
        others = equal_words(said, [[tuple(map(speller.word, pieces)) for pieces in group] for group in groups])
        parts |= {new: parts[source] for new, source in others.items()}
        turned = dict(turned_round(list(parts), heads))
        for new, source in [*others.items(), *turned.items()]:
            if " ".join(new) not in self._exact:
                self._even.setdefault(" ".join(new), parts[source])
                self._longest[new[0]] = max(self._longest.get(new[0], 0), len(new))
        self._turned = frozenset(map(" ".join, turned))

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

    def of_part(self, component: str, head: str) -> str | None:
        """The part that a name of `component` with `head` after it names: of the glow plug, the relay."""
        return self._of_part.get((component, head))

    def spelt_out(self, letters: list[str]) -> str | None:
        """The word that single letters spell out, as in "e g r" or, spoken, "e g are"."""
        word = "".join(SPOKEN.get(letter, letter) for letter in letters)
        return word if word in self._letters else None


def _pieces(phrase: str) -> tuple[str, ...]:
    found, _ = tokens(folded(phrase), (), ())
    return tuple(token.word for token in found)


def _rows(words: Words) -> Iterator[tuple[str, Term]]:
    """Every phrase with its term; where two rows hold the same phrase the later one counts."""
    parts = {spelt: component for component, spellings in words.components.items() for spelt in spellings}
    yield from ((spelt, Term("C", component)) for spelt, component in parts.items())
    yield from ((spelt, Term("K", cause)) for cause, spellings in words.causes.items() for spelt in spellings)
    for action, verbs in words.actions.items():
        yield from ((spelt, _action(action, spelt)) for spelt in verbs if spelt not in _NOT_ALONE)
    for role, key, spellings in words.roles:
        for spelt in spellings:
            term = _role(role, key, spelt)
            if term and not (role == "head" and spelt in parts):
                yield spelt, term
    yield from ((spelt, Term("H", "" if spelt in _BARE else parts.get(spelt, ""))) for spelt in _HEADS_FIRST)
    yield from ((spelt, Term("H", "aux_belt")) for spelt in ("belt", "belts"))
    for kind, key, spelt in words.added:
        yield spelt, _action(key, spelt) if kind == "A" else Term(kind, key)


def _action(action: str, spelt: str) -> Term:
    if actions()[action].counts_as_done:
        return Term("A", action, _form(spelt), TARGETS.get(action, ""))
    return Term("G", _GOVERN.get(action, "negated"))


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
