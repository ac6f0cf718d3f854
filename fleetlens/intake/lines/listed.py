"""Parts alone in a clause: new ones, and lists that go on from a verb or wait for one."""

from collections.abc import Iterator
from dataclasses import replace

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.groups import Group
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.memory import FLUIDS, Memory, Pair
from fleetlens.intake.lines.targets import fits
from fleetlens.intake.lines.tokens import Gap

__all__ = ["fitted_new", "parts_alone"]

_LITRES = {"l", "ltr", "ltrs", "litre", "litres"}


def parts_alone(clause: Clause, groups: list[Group], memory: Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    """Parts alone: new ones were fitted; bare ones belong to the list before or after them."""
    parts = [mark for group in groups for mark in group.marks if mark.kind == "C"]
    behind = _new_behind(clause)
    if behind is not None:
        for part in (behind, *_joined_before(parts, behind)):
            part.new = True
    for group in groups:
        yield from fitted_new(group.marks, groups)
    memory.emptied = memory.emptied or any(part.new and not part.why for part in parts)
    if parts and parts[0].new and not clause.having("K"):  # "new turbo, gaskets, oil"
        first = parts[0]
        memory.verbs, memory.prefix = [replace(first, kind="A", key="replace", form="past", target="")], True
    bare = [part for part in parts if not part.new and not part.why and part.key != "vehicle"]
    if memory.emptied and (filled := _filled(clause)) is not None:  # "bled, 11 litres of antifreeze"
        yield Pair(filled.key, "replace", "", filled, filled)
    described = at > 0 and clause.gap in (Gap.DASH, Gap.COLON) and found[at - 1].marks[-1].kind == "Z"  # "P0489 - egr"
    cut_off = clause.gap in (Gap.STOP, Gap.QUESTION) and not _verb_next(found, at)
    if not bare or not _only_lists(clause) or described or cut_off:
        memory.waiting = []
        return
    following = found[at + 1] if at + 1 < len(found) else None
    if following is not None and following.gap in (Gap.DASH, Gap.COLON) and not following.having("CU"):
        memory.waiting = [*memory.waiting, *bare] if following.having("A") else []  # "map - replaced"
        return
    ahead = _ends_in_verb(found, at, bare, any(verb.key == "replace" for verb in memory.verbs))
    if memory.verbs and clause.gap in (Gap.COMMA, Gap.AND, Gap.SEMICOLON, Gap.COLON) and (memory.prefix or not ahead):
        yield from _goes_on(bare, memory)
    else:
        memory.waiting += bare


def _filled(clause: Clause) -> Mark | None:
    """A fluid named with its quantity and nothing else."""
    parts = clause.having("C")
    litres = any(_LITRES & {mark.words, mark.words.lstrip("0123456789.,")} for mark in clause.marks)
    only = len(parts) == 1 and parts[0].key in FLUIDS and not clause.having("AKGONX") and not parts[0].new
    return parts[0] if only and litres and not parts[0].why else None


def _only_lists(clause: Clause) -> bool:
    """Whether a clause names parts and says nothing of them: 2 of a part may be listed, 40 % is a reading."""
    counted = all(_counts(mark.words) for mark in clause.having("n"))
    return counted and not clause.asked and all(mark.kind in "CUfniJWTRmF" for mark in clause.marks)


def _goes_on(bare: list[Mark], memory: Memory) -> Iterator[Pair]:
    """The verbs before a list hold for what it goes on with."""
    for verb in memory.verbs:
        carries = verb.key != "relearn" and (verb.key not in ("inspect", "top_up", "drain") or memory.prefix)
        if not verb.target and carries:
            for part in bare:
                sealed = part.key == "gasket_seal" and verb.key in ("clean", "repair")  # "egr cleaned, gasket"
                action = "replace" if sealed else verb.key
                if fits(action, part):
                    yield Pair(part.key, action, verb.why or part.why, verb, part)


def _new_behind(clause: Clause) -> Mark | None:
    """The part of "gasket both ends new" and "manifold new with flaps"."""
    new = next((mark for mark in clause.marks if mark.words == "new" and mark.kind == "R"), None)
    if new is None:
        return None
    when = any(mark.kind == "P" and mark.first == new.last + 1 for mark in clause.marks)  # "new at the same time"
    content = [mark for mark in clause.marks if mark.kind not in "fniFDP" and (mark.first <= new.first or not when)]
    along = next((at for at, mark in enumerate(content) if mark.kind == "W"), len(content))
    part, last = content[:along][-2:] if along > 1 else (None, None)
    if part is None or last is None or part.kind != "C" or last.words != "new" or last.kind != "R":
        return None
    told = any(mark.kind in "KGAN" and mark.first < last.first for mark in clause.marks)
    return None if told or clause.having("AN") or clause.asked else part


def _joined_before(parts: list[Mark], behind: Mark) -> list[Mark]:
    """ "sensor + pipes new"."""
    at = next((index for index, part in enumerate(parts) if part is behind), 0)
    linked = at > 0 and (behind.gap == Gap.AND or behind.first == parts[at - 1].last + 2)
    return [parts[at - 1]] if linked and not parts[at - 1].place else []


def _counts(number: str) -> bool:
    return number.lstrip("0123456789.,x") in ("", "x", "l", "ltr", "ltrs", "off")


def _verb_next(found: list[Clause], at: int) -> bool:
    return at + 1 < len(found) and found[at + 1].gap in (Gap.COMMA, Gap.DASH, Gap.COLON, Gap.AND)


def _ends_in_verb(found: list[Clause], at: int, bare: list[Mark], renewing: bool) -> bool:
    """Whether the list goes on to a clause that names parts and then the verb: "air filter, fuel filter renewed"."""
    for clause in found[at + 1 :]:
        if clause.gap not in (Gap.COMMA, Gap.AND, Gap.DASH):
            return False
        kinds = [mark.kind for mark in clause.marks if mark.kind in "CUAN" and not mark.place]
        if "A" in kinds or "N" in kinds:
            verbs = clause.having("A")
            if renewing and all(mark.key == "inspect" for mark in verbs):
                return False
            suits = any(fits(mark.key, part) for mark in verbs for part in bare)
            return kinds[0] in "CU" and suits and any(mark.key == "replace" or mark.form == "past" for mark in verbs)
        if not kinds:
            return False
    return False


def fitted_new(marks: list[Mark], groups: list[Group]) -> Iterator[Pair]:
    """ "new gasket" says that one was fitted, unless it says that it wasn't."""
    verbs = [mark for group in groups if group.verbs for mark in group.marks if mark.kind == "A"]
    for part in marks:
        if part.kind == "C" and part.new and part.key != "vehicle":
            why = part.why or next((verb.why for verb in verbs if verb.why and verb.key == "replace"), "")
            yield Pair(part.key, "replace", why, part, part)
