"""What was only said: advice, offers, refusals, negation, work put off, done by others or last time, tried in vain.

Each governing word reaches as far as its kind does; what it reaches gets the reason why it wasn't done.
"""

from collections.abc import Callable
from dataclasses import dataclass

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.hints import blame, hint
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["govern"]

# Words that speak of what follows them in the clause; where nothing follows, of what stands before.
_FORWARD = {
    "advise": "advised",
    "quote": "quoted",
    "decline": "declined",
    "offer": "advised",
    "defer": "deferred",
    "modal": "advised",
    "if": "advised",
    "request": "asked",
    "claim": "said by others",
}
# With these alone in a clause, the clause before is meant: "replace turbo - declined".
_LOOKS_BACK = {"quote", "decline", "defer", "advise"}
_NO_VERDICT = {"monitor", "watch", "keep an eye on", "note for next", "please", "pls", "plse", "consider"}
_REACHES_ON = {"advise", "offer", "modal", "if", "quote"}
_PROCESSES = {"regenerate", "relearn", "software"}


_LATER_WORDS = {"defer", "advise", "quote", "offer", "decline"}
_LIST_KINDS = "CfnJiW"


def govern(found: list[Clause]) -> None:
    """Write into the marks why what they name wasn't done."""
    carried: str | None = None
    for at, clause in enumerate(found):
        if (clause.gap >= Gap.SEMICOLON and clause.gap != Gap.PAREN) or clause.turn:
            carried = None
        _finish(clause)
        for index, mark in enumerate(clause.marks):
            if mark.kind == "G":
                word = _Word(found, at, mark, clause.marks[:index], clause.marks[index + 1 :])
                carried = (_HANDLERS[mark.key](word) if mark.key in _HANDLERS else _forward(word)) or carried
        hint(clause, found[at - 1] if at else None)
        if carried:
            blame((one for one in clause.having("A") if one.form == "past"), carried)


def _finish(clause: Clause) -> None:
    """ "regen done": a noun with a word that says so is done work."""
    governed = False
    for mark in clause.marks:
        governed = governed or mark.kind == "G"
        if mark.kind == "D" and not governed:
            for one in clause.having("A"):
                one.form = "past"


@dataclass(frozen=True, slots=True)
class _Word:
    """A governing word in its place: clause number `at`, and the marks to its left and right in that clause."""

    found: list[Clause]
    at: int
    mark: Mark
    left: list[Mark]
    right: list[Mark]

    @property
    def clause(self) -> Clause:
        return self.found[self.at]

    @property
    def before(self) -> Clause | None:
        return self.found[self.at - 1] if self.at else None

    @property
    def following(self) -> list[Clause]:
        return self.found[self.at + 1 :]


def _forward(word: _Word) -> str | None:
    """What follows in the clause and in the list that goes on from it; where nothing does, what stands before."""
    why, key = _FORWARD[word.mark.key], word.mark.key
    if any((one.kind in "AC" and not one.place) or one.kind == "R" for one in word.right):
        blame((one for one in word.right if one.kind in "AC"), why)
        nearest = next((one for one in reversed(word.left) if one.kind != "f"), None)
        if nearest is not None and nearest.kind == "A" and nearest.form == "base":  # "dpf clean deferred until ..."
            blame([nearest], why)
    elif key != "claim":
        verbs = [one for one in word.left if one.kind == "A"]
        behind = (
            [one for one in verbs if one.form != "past"] if verbs else [one for one in word.left if one.kind == "C"]
        )
        blame(behind, why)
        own = key == "advise" and any(one.kind == "x" for one in word.right)  # "needs section" speaks of that
        if not behind and not verbs and not own and key in _LOOKS_BACK and word.mark.words not in _NO_VERDICT:
            _look_back(word, why)
    if key != "claim":
        _reach_on(word, why)
    return None


def _reach_on(word: _Word, why: str) -> None:
    for clause in word.following:
        if clause.gap != Gap.COMMA or clause.turn:
            return
        verbs, parts = clause.having("AN"), clause.having("C")
        if not parts:
            return
        if not verbs and all(one.kind in _LIST_KINDS for one in clause.marks):
            blame(parts, why)
        elif verbs and word.mark.key in _REACHES_ON and _only_named(clause, word.mark.key in ("if", "modal")):
            blame([*verbs, *parts], why)
        else:
            return


def _only_named(clause: Clause, orders: bool) -> bool:
    """Whether work is only named, "dpf clean", and not told as done; an order "clean dpf" counts where `orders`."""
    verbs, parts = clause.having("AN"), clause.having("C")
    named = all(one.form == "base" and one.target != "vehicle" for one in verbs) and not clause.having("D")
    return named and (orders or parts[0].first < verbs[0].first)


def _look_back(word: _Word, why: str) -> None:
    """The clause before, and where that only goes on with a list, what the list began with."""
    for clause in reversed(word.found[: word.at]):
        verbs = clause.having("A")
        blame((one for one in verbs if one.form != "past"), why)
        if verbs:
            return
        blame(clause.having("C"), why)
        if clause.gap != Gap.COMMA or not all(one.kind in _LIST_KINDS for one in clause.marks):
            return


def _tried(word: _Word) -> str | None:
    if not _came_right(word):
        blame((one for one in word.right if one.kind == "A" or (one.kind == "C" and one.new)), "failed")
    return None


def _came_right(word: _Word) -> bool:
    if any(one.kind == "G" and one.key == "failed" for one in word.right):
        return False
    if any(one.kind in "OD" for one in word.right):
        return True
    after = {one.kind for clause in word.following[:1] for one in clause.marks}
    return bool(after & {"O", "D"}) and not after & {"A", "C", "N", "G"}


def _negate(word: _Word) -> str | None:
    """To the nearest verb or part, and to verbs joined to that verb."""
    for at, one in enumerate(word.right):
        rest, at_end = word.right[at + 1 :], one.kind in "OKAC"
        if one.kind in "OK":  # "not ok", "no leak": neither a verdict nor a cause
            one.kind = "x"
        elif one.kind == "A":
            blame([one, *_joined_verbs(rest)], "negated")
        elif one.kind == "C":
            verb = next((other for other in rest if other.kind not in "Cfnix"), None)
            if verb is not None and verb.kind == "A" and (word.mark.words != "not" or verb.form != "past"):
                blame([verb], "negated")
            blame([one], "negated")
        if at_end or not (one.kind in "fnxiJDR" or (one.kind == "P" and one.words in ("for", "to"))):
            break
    return None


def _joined_verbs(rest: list[Mark]) -> list[Mark]:
    """ "not cleaned or replaced"."""
    joined: list[Mark] = []
    linked = False
    for one in rest:
        if one.kind == "A" and (linked or one.gap == Gap.AND):
            joined.append(one)
        elif one.kind not in "JfxniN":
            break
        linked = one.kind == "J"
    return joined


def _undone(word: _Word) -> str | None:
    behind = [one for one in word.left if one.kind == "A"]
    ahead = [one for one in word.right if one.kind in "AC"]
    parts = [one for one in word.left if one.kind == "C"]
    named = behind or ahead or parts
    if named:
        blame(named, "negated")
    else:
        _look_back(word, "negated")
    return None


def _credit(word: _Word) -> str | None:
    named = word.clause.having("AC") or (word.before.having("AC") if word.before else [])
    blame(named, "credited")
    return None


def _elsewhere(word: _Word) -> str | None:
    """Work of others or of another time: the verbs before the word, else those after it, else the clause beside."""
    why = "others" if word.mark.key == "others" else "last time"
    nearest = next((one for one in reversed(word.left) if one.kind in "ANG"), None)
    if nearest is not None and nearest.kind == "G" and nearest.key in _LATER_WORDS:
        return None  # "fitted the valve ordered last week"
    if word.mark.words == "before" and word.right:
        return None
    verbs = [one for one in word.left if one.kind in "AN"] or [one for one in word.right if one.kind in "AN"]
    if verbs:
        blame((one for one in verbs if one.kind == "A"), why)
    elif all(one is word.mark or one.kind not in "CZG" for one in word.clause.marks):
        return _beside(word, why)
    return None


def _beside(word: _Word, why: str) -> str | None:
    """ "last visit: egr cleaned"; a reason that holds for all that follows the colon is returned."""
    after = word.following[0] if word.following else None
    if after is not None and after.gap == Gap.COLON:
        return why
    if word.before is not None and word.clause.gap < Gap.SEMICOLON:
        blame(word.before.having("A"), why)
    elif after is not None and after.gap == Gap.COMMA:
        blame((one for one in after.having("A") if one.form == "past"), why)
    return None


def _failed(word: _Word) -> str | None:
    """A process that didn't get through, unless it is said to have passed later."""
    if _passed_later(word.following):
        return None
    verbs = [one for one in word.left if one.kind == "A"] or [one for one in word.right if one.kind == "A"]
    running = [one for one in verbs if one.key in _PROCESSES]
    if not running and word.before is not None and not word.clause.having("CA"):
        running = [one for one in word.before.having("A") if one.key in _PROCESSES]
    blame(running, "failed")
    return None


def _passed_later(after: list[Clause]) -> bool:
    """ "relearn failed first time, passed second": no new work between, and then it went through."""
    for clause in after:
        if clause.having("ACNG"):
            return False
        if clause.having("OD"):
            return True
    return False


def _trial(word: _Word) -> str | None:
    blame((one for one in word.clause.marks if one.kind == "A" and one.key == "replace"), "on trial")
    for one in word.clause.having("C"):
        one.new = False
    return None


def _undo(word: _Word) -> str | None:
    """A part put back: the last replacement before was a trial."""
    for clause in reversed(word.found[: word.at + 1]):
        fitted = [mark for mark in clause.marks if mark.kind == "A" and mark.key == "replace" and not mark.why]
        if fitted:
            blame(fitted[-1:], "on trial")
            for one in clause.having("C"):
                one.new = False
            break
    return None


def _access(word: _Word) -> str | None:
    for one in word.clause.having("C"):
        one.place = True
    return None


_HANDLERS: dict[str, Callable[[_Word], str | None]] = {
    "tried": _tried,
    "negated": _negate,
    "undone": _undone,
    "credit": _credit,
    "others": _elsewhere,
    "history": _elsewhere,
    "failed": _failed,
    "trial": _trial,
    "undo": _undo,
    "access": _access,
}
