"""What a clause tells by its form: work for a purpose, of another year, by somebody else, as found, or to come."""

from collections.abc import Iterable

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark

__all__ = ["blame", "hint"]

_AGENTS = {"customer", "driver", "owner", "operator", "dealer", "garage", "seller", "agent", "mechanic", "they", "he"}
_WHEN = {"after", "following", "before", "prior to", "during"}
_WORK_TO = {"labour", "labor", "time", "work", "managed", "able", "had", "hours", "hrs", "hour"}


def hint(clause: Clause, before: Clause | None) -> None:
    """Write into the marks of a clause, and of the one before, why what they name wasn't done, or that it was."""
    _purpose(clause)
    _found_so(clause)
    _dated(clause)
    _by_others(clause)
    if before is not None and all(one.kind in "Dfni" for one in clause.marks):
        _now_done(clause, before)
    for index, mark in enumerate(clause.marks):
        if mark.kind == "P" and mark.words == "to":
            _to_do(clause, index, first=before is None)
    if clause.asked:
        blame(clause.having("A"), "asked")


def blame(marks: Iterable[Mark], why: str) -> None:
    """Give the marks a reason why, where they have none yet."""
    for mark in marks:
        if not mark.why:
            mark.why = why


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


def _now_done(clause: Clause, before: Clause) -> None:
    """ "egr clean advised last time, now done"."""
    if any(mark.kind == "D" for mark in clause.marks):
        for mark in before.having("AC"):
            if mark.why in ("advised", "quoted", "deferred", "last time"):
                mark.why = ""


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
    blame([verb], "deferred")
