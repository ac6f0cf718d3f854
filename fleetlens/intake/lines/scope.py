"""What was only said: advice, offers, refusals, negation, work put off, done by others or last time, tried in vain.

Each governing word reaches as far as its kind does; what it reaches gets the reason why it wasn't done.
"""

from collections.abc import Iterable

from fleetlens.intake.lines.clauses import Clause
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
_AGENTS = {"customer", "driver", "owner", "operator", "dealer", "garage", "seller", "agent", "mechanic", "they", "he"}
_WHEN = {"after", "following", "before", "prior to", "during"}
_WORK_TO = {"labour", "labor", "time", "work", "managed", "able", "had", "hours", "hrs", "hour", "labou"}


def govern(found: list[Clause]) -> None:
    """Write into the marks why what they name wasn't done."""
    carried: str | None = None
    for at, clause in enumerate(found):
        before = found[at - 1] if at else None
        after = found[at + 1] if at + 1 < len(found) else None
        if (clause.gap >= Gap.SEMICOLON and clause.gap != Gap.PAREN) or clause.turn:
            carried = None
        _finish(clause)
        for index, mark in enumerate(clause.marks):
            if mark.kind == "G":
                carried = _governed(found, at, index, before, after) or carried
            elif mark.kind == "P" and mark.words == "to":
                _to_do(clause, index, first=at == 0)
        _purpose(clause)
        _found_so(clause)
        _dated(clause)
        _by_others(clause)
        if before is not None and clause.marks and all(one.kind in "Dfni" for one in clause.marks):
            _now_done(clause, before)
        if clause.asked:
            _set(clause.having("A"), "asked")
            for mark in clause.having("C"):
                mark.doubtful = True
        if carried:
            _set((one for one in clause.having("A") if one.form == "past"), carried)


def _set(marks: Iterable[Mark], why: str) -> None:
    for mark in marks:
        if not mark.why:
            mark.why = why


def _finish(clause: Clause) -> None:
    """ "regen done": a noun with a word that says so is done work."""
    if any(mark.kind == "D" for mark in clause.marks):
        for at, mark in enumerate(clause.marks):
            if mark.kind == "D" and not any(one.kind == "G" for one in clause.marks[:at]):
                for one in clause.having("A"):
                    one.form = "past"


def _now_done(clause: Clause, before: Clause) -> None:
    """ "egr clean advised last time, now done"."""
    if any(mark.kind == "D" for mark in clause.marks):
        for mark in before.having("AC"):
            if mark.why in ("advised", "quoted", "deferred", "last time"):
                mark.why = ""


def _dated(clause: Clause) -> None:
    """Work with a bare year after it is of that year."""
    for at, mark in enumerate(clause.marks):
        if mark.kind == "n" and len(mark.words) == 4 and mark.words[:2] in ("19", "20") and mark.words.isdigit():
            verb = next((one for one in reversed(clause.marks[:at]) if one.kind not in "Pfx"), None)
            if verb is not None and verb.kind == "A" and verb.form == "past":
                verb.why = verb.why or "last time"


def _by_others(clause: Clause) -> None:
    """ "customer fitted own sensor", "dealer replaced it": who stands before the verb did it."""
    for one, verb in zip(clause.marks, clause.marks[1:], strict=False):
        if verb.kind == "A" and verb.form == "past" and one.words.split(" ")[-1] in _AGENTS:
            verb.why = verb.why or "others"


def _found_so(clause: Clause) -> None:
    """ "found egr mapped out": how it came in, not what was done to it."""
    for at, mark in enumerate(clause.marks):
        if mark.kind == "N" and mark.words == "found":
            rest = [one for one in clause.marks[at + 1 :] if one.kind not in "fniJm"]
            if (
                len(rest) > 1
                and rest[0].kind == "C"
                and rest[1].kind == "A"
                and rest[1].form == "past"
                and rest[1].key != "inspect"
            ):
                rest[1].why = rest[1].why or "others"


def _purpose(clause: Clause) -> None:
    """ "reflash for regen", "tested after repairs": such a noun says what the other work was for, or when."""
    done = purpose = False
    for mark in clause.marks:
        if mark.kind == "P" and mark.words == "for":
            purpose = done
        elif mark.kind == "P" and mark.words in _WHEN:
            purpose = True
        elif mark.kind == "P":
            purpose = False
        elif mark.kind == "A":
            if purpose and mark.key != "road_test" and (mark.form == "base" or mark.key == "regenerate"):
                mark.why = mark.why or "asked"
            done = True


def _governed(found: list[Clause], at: int, index: int, before: Clause | None, after: Clause | None) -> str | None:
    """Apply one governing word; a reason that goes on into the next clauses is returned."""
    clause, mark = found[at], found[at].marks[index]
    left, right = clause.marks[:index], clause.marks[index + 1 :]
    key = mark.key
    if key in _FORWARD:
        _forward(found, at, mark, left, right)
    elif key == "tried":
        if not _came_right(right, after):
            _set((one for one in right if one.kind == "A" or (one.kind == "C" and one.new)), "failed")
    elif key == "negated":
        _negate(mark, right)
    elif key == "undone":
        _undone(found, at, left, right)
    elif key == "credit":
        whole = [one for one in clause.marks if one.kind in "AC"]
        _set(whole or (before.having("AC") if before else []), "credited")
    elif key in ("others", "history"):
        return _elsewhere(clause, mark, left, right, before, after)
    elif key == "failed":
        if not _passed_later(found[at + 1 :]):
            _failed(clause, left, right, before)
    elif key == "trial":
        _set((one for one in clause.marks if one.kind == "A" and one.key == "replace"), "on trial")
        for one in clause.having("C"):
            one.new = False
    elif key == "undo":
        _undo(found[: at + 1])
    elif key == "access":
        for one in clause.having("C"):
            one.place = True
    return None


def _forward(found: list[Clause], at: int, mark: Mark, left: list[Mark], right: list[Mark]) -> None:
    why = _FORWARD[mark.key]
    ahead = [one for one in right if (one.kind in "AC" and not one.place) or one.kind == "R"]
    if ahead:
        _set((one for one in right if one.kind in "AC"), why)
    elif mark.key != "claim":
        verbs = [one for one in left if one.kind == "A"]
        behind = [one for one in verbs if one.form != "past"]
        if not verbs:
            behind = [one for one in left if one.kind == "C"]
        _set(behind, why)
        if not behind and not verbs and at and mark.key in _LOOKS_BACK and mark.words not in _NO_VERDICT:
            _look_back(found, at, why)
    if mark.key == "claim":
        return
    for clause in found[at + 1 :]:
        if clause.gap != Gap.COMMA or clause.turn:
            return
        verbs = clause.having("AN")
        parts = clause.having("C")
        if not verbs and parts and all(one.kind in "CfnJiW" for one in clause.marks):
            _set(parts, why)
        elif (
            mark.key in _REACHES_ON
            and verbs
            and all(one.form == "base" and one.target != "vehicle" for one in verbs)
            and parts
            and (parts[0].first < verbs[0].first or mark.key in ("if", "modal"))
            and "D" not in {one.kind for one in clause.marks}
        ):
            _set([*verbs, *parts], why)
        else:
            return


def _look_back(found: list[Clause], at: int, why: str) -> None:
    """The clause before, and where that only goes on with a list, what the list began with."""
    for clause in reversed(found[:at]):
        verbs = clause.having("A")
        _set((one for one in verbs if one.form != "past"), why)
        if verbs:
            return
        _set(clause.having("C"), why)
        if clause.gap != Gap.COMMA or not all(one.kind in "CfnJiW" for one in clause.marks):
            return


def _came_right(right: list[Mark], after: Clause | None) -> bool:
    if any(one.kind == "G" and one.key == "failed" for one in right):
        return False
    if any(one.kind == "O" or one.kind == "D" for one in right):
        return True
    if after is None:
        return False
    kinds = {one.kind for one in after.marks}
    return bool(kinds & {"O", "D"}) and not kinds & {"A", "C", "N"} and not any(one.kind == "G" for one in after.marks)


def _negate(mark: Mark, right: list[Mark]) -> None:
    """To the nearest verb or part, and to verbs joined to that verb."""
    for at, one in enumerate(right):
        if one.kind in "OK":
            one.kind = "k" if one.kind == "K" else "x"
            return
        if one.kind == "A":
            one.why = one.why or "negated"
            for other in right[at + 1 :]:
                if other.kind == "A" and (other.gap == Gap.AND or right[right.index(other) - 1].kind == "J"):
                    other.why = other.why or "negated"
                elif other.kind not in "JfxniN":
                    break
            return
        if one.kind == "C":
            verb = next((other for other in right[at + 1 :] if other.kind not in "Cfnix"), None)
            if verb is not None and verb.kind == "A" and (mark.words != "not" or verb.form != "past"):
                verb.why = verb.why or "negated"
            one.why = one.why or "negated"
            return
        if one.kind not in "fnxiJDR":
            return


def _undone(found: list[Clause], at: int, left: list[Mark], right: list[Mark]) -> None:
    behind = [one for one in left if one.kind == "A"]
    if behind:
        _set(behind, "negated")
    elif any(one.kind in "AC" for one in right):
        _set((one for one in right if one.kind in "AC"), "negated")
    elif any(one.kind == "C" for one in left):
        _set((one for one in left if one.kind == "C"), "negated")
    else:
        _look_back(found, at, "negated")


def _elsewhere(
    clause: Clause, mark: Mark, left: list[Mark], right: list[Mark], before: Clause | None, after: Clause | None
) -> str | None:
    why = "others" if mark.key == "others" else "last time"
    if mark.words == "before" and right:
        return None
    nearest = next((one for one in reversed(left) if one.kind in "ANG"), None)
    if nearest is not None and nearest.kind == "G" and nearest.key in ("defer", "advise", "quote", "offer", "decline"):
        return None  # "fitted the valve ordered last week"
    verbs = [one for one in left if one.kind in "AN"] or [one for one in right if one.kind in "AN"]
    if verbs:
        _set((one for one in verbs if one.kind == "A"), why)
        return None
    if any(one.kind in "AN" for one in clause.marks):
        return None
    lone = all(one is mark or one.kind not in "CZG" for one in clause.marks)
    if lone and after is not None and after.gap == Gap.COLON:
        return why
    if lone and before is not None and clause.gap < Gap.SEMICOLON:
        _set((one for one in before.having("A")), why)
    elif lone and after is not None and after.gap == Gap.COMMA:
        _set((one for one in after.having("A") if one.form == "past"), why)
    return None


def _failed(clause: Clause, left: list[Mark], right: list[Mark], before: Clause | None) -> None:
    verbs = [one for one in left if one.kind == "A"] or [one for one in right if one.kind == "A"]
    running = [one for one in verbs if one.key in _PROCESSES]
    if running:
        _set(running, "failed")
    elif before is not None and not any(one.kind in "CA" for one in clause.marks):
        _set((one for one in before.having("A") if one.key in _PROCESSES), "failed")


def _passed_later(after: list[Clause]) -> bool:
    """ "relearn failed first time, passed second": no new work between, and then it went through."""
    for clause in after:
        if any(mark.kind in "ACN" or (mark.kind == "G") for mark in clause.marks):
            return False
        if any(mark.kind in "OD" for mark in clause.marks):
            return True
    return False


def _undo(found: list[Clause]) -> None:
    """A part put back: the last replacement before was a trial."""
    for clause in reversed(found):
        for mark in reversed(clause.marks):
            if mark.kind == "A" and mark.key == "replace" and not mark.why:
                mark.why = "on trial"
                for one in clause.having("C"):
                    one.new = False
                return


def _to_do(clause: Clause, index: int, *, first: bool) -> None:
    """ "egr to clean" is work to come; "unplugged to test" and "labour to fit" are work done."""
    left, right = clause.marks[:index], clause.marks[index + 1 :]
    verb = next((one for one in right if one.kind not in "fnD"), None)
    if verb is None or verb.kind != "A" or verb.form != "base":
        return
    if any(one.kind in "AN" for one in left) or (left and left[-1].words in _WORK_TO):
        return
    if first and not left and verb.words.startswith(("supply", "carry")):
        return
    _set([verb], "deferred")
