"""What was only said: advice, offers, refusals, negation, work put off, done by others or last time, tried in vain.

Each governing word reaches as far as its kind does; what it reaches gets the reason why it wasn't done.
"""

from collections.abc import Callable

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.hints import blame, fitted_back, hint, sent_away
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.negation import negate
from fleetlens.intake.lines.tokens import Gap
from fleetlens.intake.lines.word import LIST_KINDS, Word, look_back

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
_DEAD = {"electrical_failure", "broken", "worn"}
_MONEY = {"old", "surcharge", "core", "deposit", "exchange"}
_PROCESSES = {"regenerate", "relearn", "software"}


_LATER_WORDS = {"defer", "advise", "quote", "offer", "decline"}


def govern(found: list[Clause]) -> None:
    """Write into the marks why what they name wasn't done."""
    carried: str | None = None
    fitted_back(found)
    for at, clause in enumerate(found):
        if (clause.gap >= Gap.SEMICOLON and clause.gap != Gap.PAREN) or clause.turn:
            carried = None
        _finish(clause)
        for index, mark in enumerate(clause.marks):
            if mark.kind == "G":
                word = Word(found, at, mark, clause.marks[:index], clause.marks[index + 1 :])
                carried = (_HANDLERS[mark.key](word) if mark.key in _HANDLERS else _forward(word)) or carried
        hint(clause, found[at - 1] if at else None)
        if carried:
            blame((one for one in clause.having("A") if one.form == "past"), carried)
    sent_away(found)


def _finish(clause: Clause) -> None:
    """ "regen done": a noun with a word that says so is done work."""
    governed = False
    for mark in clause.marks:
        governed = governed or mark.kind == "G"
        if mark.kind == "D" and not governed:
            for one in clause.having("A"):
                one.form = "past"


def _forward(word: Word) -> str | None:
    """What follows in the clause and in the list that goes on from it; where nothing does, what stands before."""
    why, key = _FORWARD[word.mark.key], word.mark.key
    if key in ("advise", "quote", "offer", "defer") and _and_done(word.right):
        return None
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
            look_back(word, why)
    if key != "claim":
        _reach_on(word, why)
    return None


def _and_done(right: list[Mark]) -> bool:
    """ "advised and fitted"."""
    rest = [one for one in right if one.kind != "f"]
    linked = bool(rest) and (rest[0].kind == "J" or rest[0].gap == Gap.AND)
    verb = next((one for one in rest if one.kind != "J"), None)
    return linked and verb is not None and verb.kind == "A" and verb.form == "past"


def _reach_on(word: Word, why: str) -> None:
    for clause in word.following:
        if clause.gap != Gap.COMMA or clause.turn:
            return
        verbs, parts = clause.having("AN"), clause.having("C")
        if not parts:
            return
        if not verbs and all(one.kind in LIST_KINDS for one in clause.marks):
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


def _tried(word: Word) -> str | None:
    if not _came_right(word):
        blame((one for one in word.right if one.kind == "A" or (one.kind == "C" and one.new)), "failed")
    return None


def _came_right(word: Word) -> bool:
    if any(one.kind == "G" and one.key == "failed" for one in word.right):
        return False
    if any(one.kind in "OD" for one in word.right):
        return True
    after = {one.kind for clause in word.following[:1] for one in clause.marks}
    return bool(after & {"O", "D"}) and not after & {"A", "C", "N", "G"}


def _undone(word: Word) -> str | None:
    behind = [one for one in word.left if one.kind == "A"]
    ahead = [one for one in word.right if one.kind in "AC"]
    parts = [one for one in word.left if one.kind == "C"]
    named = behind or ahead or parts
    if named:
        blame(named, "negated")
    else:
        look_back(word, "negated")
    return None


def _credit(word: Word) -> str | None:
    faulty = any(one.kind == "K" and one.key in _DEAD for one in word.clause.marks)  # "u/s one back to stores"
    if faulty or any(_MONEY & set(one.words.split(" ")) for one in word.clause.marks):  # "old unit for credit"
        return None
    after = word.following[0] if word.following and word.following[0].gap == Gap.COLON else None
    named = word.clause.having("AC") or (after or word.before or word.clause).having("AC")
    blame(named, "credited")
    back = {one.key for one in named if one.kind == "C"}
    for clause in word.found[: word.at]:
        blame((one for one in clause.having("C") if one.new and one.key in back), "credited")
    return None


def _elsewhere(word: Word) -> str | None:
    """Work of others or of another time: the verbs before the word, else those after it, else the clause beside."""
    why = "others" if word.mark.key == "others" else "last time"
    nearest = next((one for one in reversed(word.left) if one.kind in "ANG"), None)
    if nearest is not None and nearest.kind == "G" and nearest.key in _LATER_WORDS:
        return None  # "fitted the valve ordered last week"
    if word.mark.words == "before" and word.right:
        return None
    verbs = [one for one in word.left if one.kind in "AN"] or _first_verbs(word.right)
    if verbs:
        blame((one for one in verbs if one.kind == "A"), why)
    elif all(one is word.mark or one.kind not in "CZG" for one in word.clause.marks):
        return _beside(word, why)
    return None


def _first_verbs(marks: list[Mark]) -> list[Mark]:
    """The verbs that come first and those joined to them: of "recently replaced battery tested ok", the first."""
    verbs: list[Mark] = []
    parted = linked = False
    for one in marks:
        if one.kind in "AN":
            if verbs and parted and not linked:
                break
            verbs.append(one)
            parted = False
        parted = parted or one.kind in "CU"
        linked = one.kind == "J" or one.gap == Gap.AND or (linked and one.kind in "fn")
    return verbs


def _beside(word: Word, why: str) -> str | None:
    """ "last visit: egr cleaned"; a reason that holds for all that follows the colon is returned."""
    after = word.following[0] if word.following else None
    if after is not None and after.gap == Gap.COLON:
        return why
    if word.before is not None and word.clause.gap < Gap.SEMICOLON:
        blame(word.before.having("A"), why)
        if {"both", "all"} & {one.words for one in word.clause.marks}:  # "(both done by dealer)"
            for clause in reversed(word.found[: word.at]):
                blame(clause.having("A"), why)
                if clause.gap >= Gap.SEMICOLON:
                    break
    elif after is not None and after.gap == Gap.COMMA:
        blame((one for one in after.having("A") if one.form == "past"), why)
    return None


def _failed(word: Word) -> str | None:
    """A process that didn't get through, unless it is said to have passed later."""
    if any(one.kind in "OD" for one in word.right) or _passed_later(word.following):
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


def _trial(word: Word) -> str | None:
    if word.mark.words.endswith("test") and not word.clause.having("A") and word.clause.having("C"):
        word.mark.kind, word.mark.key, word.mark.form = "A", "inspect", "past"  # "unplugged as a test"
        return None
    blame((one for one in word.clause.marks if one.kind == "A" and _on_trial(one)), "on trial")
    for one in word.clause.having("O"):  # "ok with donor"
        one.kind = "x"
    for one in word.clause.having("C"):
        one.new = False
    return None


def _on_trial(verb: Mark) -> bool:
    return verb.key == "replace" or (verb.key == "inspect" and verb.form == "base")


def _undo(word: Word) -> str | None:
    """A part put back: the last replacement before was a trial."""
    for clause in reversed(word.found[: word.at + 1]):
        fitted = [mark for mark in clause.marks if mark.kind == "A" and mark.key == "replace" and not mark.why]
        if fitted or any(one.new for one in clause.having("C")):
            blame(fitted[-1:], "on trial")
            for one in clause.having("C"):
                one.new = False
            break
    return None


def _access(word: Word) -> str | None:
    for one in word.clause.having("C"):
        one.place = True
    return None


_HANDLERS: dict[str, Callable[[Word], str | None]] = {
    "tried": _tried,
    "negated": negate,
    "undone": _undone,
    "credit": _credit,
    "others": _elsewhere,
    "history": _elsewhere,
    "failed": _failed,
    "trial": _trial,
    "undo": _undo,
    "access": _access,
}
