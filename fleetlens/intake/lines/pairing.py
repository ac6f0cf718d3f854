"""Verbs joined to their parts: in a clause by order and nearness, over clauses by lists and by what was named last."""

from collections.abc import Iterator
from itertools import pairwise

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.groups import Group, groups_of
from fleetlens.intake.lines.listed import fitted_new, parts_alone
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.memory import FLUIDS, Memory, Pair
from fleetlens.intake.lines.targets import done_to
from fleetlens.intake.lines.tokens import Gap

__all__ = ["pairs"]

_WITH = {"with", "in", "from", "at", "on", "to"}


def pairs(found: list[Clause]) -> list[Pair]:
    """The pairs of all clauses, in order, work not done included."""
    made: list[Pair] = []
    memory = Memory()
    for at, clause in enumerate(found):
        made += _of_clause(clause, memory, found, at)
    return made


def _of_clause(clause: Clause, memory: Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    groups = groups_of(clause)
    memory.emptied = memory.emptied or any(mark.key == "drain" and not mark.why for mark in clause.having("A"))
    memory.ahead = _named_next(found, at)
    if _both(clause) and not clause.having("C"):
        named = [mark for mark in memory.named if mark.key != "vehicle"]
        two = {mark.key: mark for mark in [one for one in named if not one.place] or named}
        memory.focus = list(two.values())[-2:]
    parts = [mark for mark in clause.marks if mark.kind == "C" and not mark.place]
    said = any(mark.kind == "G" and mark.key == "claim" for mark in clause.marks)
    if not any(group.verbs for group in groups):
        yield from parts_alone(clause, groups, memory, found, at)
    else:
        yield from _with_verbs(clause, groups, memory)
    if clause.having("AKGO") or clause.gap >= Gap.SEMICOLON:
        memory.unsaid = []
    if not clause.having("AKGO"):
        memory.unsaid += parts
    memory.named += clause.having("C")
    memory.ill = bool(clause.having("K"))
    if not said:
        _remember(clause, parts, memory)


def _both(clause: Clause) -> bool:
    """Whether "both" speaks of two parts: not so in "both ends cleaned"."""
    after = zip(clause.marks, [*clause.marks[1:], None], strict=True)
    return any(one.words == "both" and (other is None or other.kind not in "ixn") for one, other in after)


def _named_next(found: list[Clause], at: int) -> list[Mark]:
    """The parts that verbs in a row are followed by: "stripped, cleaned and refitted egr valve"."""
    for clause in found[at + 1 :]:
        if clause.gap != Gap.COMMA or clause.asked:
            return []
        content = [mark for mark in clause.marks if mark.kind in "ACNUOK" and not mark.place]
        if not content or content[0].kind not in "AN":
            return []
        parts = [mark for mark in content if mark.kind == "C" and mark.key != "vehicle"]
        if parts:
            return parts[:1]
    return []


def _with_verbs(clause: Clause, groups: list[Group], memory: Memory) -> Iterator[Pair]:
    for at, group in enumerate(groups):
        if group.verbs:
            parts = _parts_of(groups, at, memory)
            yield from done_to(clause, group.marks, parts, memory)
            memory.waiting = []
            memory.verbs = [mark for mark in group.marks if mark.kind == "A"]
    for group in groups:
        if not group.verbs:
            yield from fitted_new(group.marks, groups)
            if group.along and not group.taken:  # "refitted w/ gasket"
                yield from (
                    Pair(one.key, "replace", one.why, one, one) for one in group.marks if one.key == "gasket_seal"
                )
    last = groups[-1]
    _, *tail = clause.marks[clause.marks.index(last.marks[-1]) :]
    if not last.verbs and not last.taken and not last.condition and all(mark.kind in "fni" for mark in tail):
        memory.waiting = [mark for mark in last.marks if mark.kind == "C" and not mark.new]


def _parts_of(groups: list[Group], at: int, memory: Memory) -> list[Mark]:
    """The parts of the verbs at `at`: of their clause, and of a list that was waiting for a verb."""
    left = groups[at - 1] if at else None
    right = groups[at + 1] if at + 1 < len(groups) else None
    chosen = _choose(groups, at, left, right)
    parts = [mark for one in chosen for mark in one.marks]
    if left is None and right in chosen and at + 2 < len(groups):
        parts = _shared(parts, groups[at + 2])
    elif left is not None and chosen == [left] and left.taken and _shared(parts, groups[at]) != parts:
        parts = parts[-1:]
    if chosen and chosen == [left] and left is not None and at == 1 and left.whole:
        parts = [*memory.focus, *parts]  # "housing & coolant replaced"
    if right in chosen and right is not None and right.joined and left is None and _all_nouns(groups[at].marks):
        parts = [*memory.focus, *parts]  # "pump leaking, new one and coolant"
    for one in chosen:
        one.taken = True
    if chosen:
        memory.prefix = left not in chosen
    if right is not None and right.along and left is None:  # "replaced c/w gasket"
        parts = [*memory.focus, *parts]
    if not parts or memory.prefix or all(part.key in FLUIDS for part in parts):
        return parts
    return [*memory.waiting, *parts]


def _all_nouns(verbs: list[Mark]) -> bool:
    return all(mark.form == "noun" for mark in verbs)


def _choose(groups: list[Group], at: int, left: Group | None, right: Group | None) -> list[Group]:
    """The parts that a group of verbs takes: those after it, before it, or both."""
    verbs = groups[at].marks
    sides = [one for one in (left, right) if one is not None]
    if all(mark.kind == "O" for mark in verbs):  # a verdict follows its part, but for "no fault with egr"
        forward = verbs[-1].words.split(" ")[-1] in _WITH and right is not None
        return [one for one in sides if one is (right if forward else left)]
    renews = any(mark.kind == "A" and mark.key == "replace" for mark in verbs)
    if right is not None and (right.along or (left is None and right.joined)) and not renews:  # "cleaned & new gasket"
        return [one for one in sides if one is left]
    if left is None or right is None or right.along:
        return sides
    if right.joined and at + 2 >= len(groups) and not left.taken:  # "egr replaced and gasket"
        return sides if all(mark.kind != "A" or mark.key in ("replace", "clean") for mark in verbs) else [left]
    return [right] if left.taken or _looks_ahead(verbs, left, ends=at + 2 >= len(groups)) else [left]


def _looks_ahead(verbs: list[Mark], left: Group, *, ends: bool) -> bool:
    """Whether verbs between two parts belong to the second: an order "replace egr", or a part said to be at fault."""
    first = next((mark for mark in verbs if mark.kind in "AN"), verbs[0])
    ordered = first.kind == "A" and first.form == "base" and not _noun(first, left)
    last = verbs[-1]
    return ordered or (ends and (left.condition or (last.kind == "A" and last.form == "base")))


def _noun(verb: Mark, left: Group) -> bool:
    """ "egr clean", "dpf regen": the part right before makes the verb a noun."""
    return verb.gap == Gap.SOFT and bool(left.marks) and left.marks[-1].last == verb.first - 1


def _shared(parts: list[Mark], after: Group) -> list[Mark]:
    """Of parts between two verbs the last belongs to the second: "replaced egr and throttle cleaned"."""
    verb = after.marks[0]
    close = verb.kind == "A" and verb.gap == Gap.SOFT and parts[-1].last == verb.first - 1
    return parts[:-1] if len(parts) > 1 and close else parts


def _remember(clause: Clause, parts: list[Mark], memory: Memory) -> None:
    """What the next verb without a part would mean."""
    real = [part for part in parts if part.key != "vehicle"]
    found_in = any(mark.kind == "N" for mark in clause.marks) and all(part.key in FLUIDS for part in real)
    if real and found_in and memory.focus:  # "oil found inside"
        return
    if real:
        solid = [part for part in real if part.key not in FLUIDS]  # "manifold has oil pooled in it"
        group = _together(clause, (solid or real)[-1])
        memory.focus = [part for part in group if part.why != "negated"]
    elif any(mark.kind == "U" and before.kind != "W" for before, mark in pairwise([clause.marks[0], *clause.marks])):
        memory.focus = []  # but not so after "freed with penetrating oil"
    elif not memory.focus or any(mark.kind == "K" for mark in clause.marks):
        places = [mark for mark in clause.marks if mark.kind == "C" and mark.place and mark.key != "vehicle"]
        memory.focus = places[:1] or memory.focus


def _together(clause: Clause, last: Mark) -> list[Mark]:
    """The last part with those that are joined to it."""
    if not any(mark.kind == "J" or mark.gap == Gap.AND for mark in clause.marks):
        return [last]
    group = [last]
    for mark in reversed(clause.marks[: clause.marks.index(last)]):
        if mark.kind == "C" and not mark.place:
            group.insert(0, mark)
        elif mark.kind in "ANOKxX":
            break
    return group
