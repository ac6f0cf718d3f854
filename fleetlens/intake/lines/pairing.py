"""Verbs joined to their parts: in a clause by order and nearness, over clauses by lists and by what was named last."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.memory import FLUIDS, Memory, Pair
from fleetlens.intake.lines.targets import done_to, fits
from fleetlens.intake.lines.tokens import Gap

__all__ = ["pairs"]

_WITH = {"with", "in", "from", "at", "on", "to"}


@dataclass(slots=True)
class _Group:
    """Parts or verbs that stand together in a clause."""

    verbs: bool
    marks: list[Mark]
    joined: bool = False
    along: bool = False
    taken: bool = False
    condition: bool = False


def pairs(found: list[Clause]) -> list[Pair]:
    """The pairs of all clauses, in order, work not done included."""
    made: list[Pair] = []
    memory = Memory()
    for at, clause in enumerate(found):
        made += _of_clause(clause, memory, found, at)
    return made


def _of_clause(clause: Clause, memory: Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    groups = _groups(clause)
    memory.ahead = _named_next(found, at)
    if any(mark.words == "both" for mark in clause.marks) and not clause.having("C"):
        two = {mark.key: mark for mark in memory.named if not mark.place and mark.key != "vehicle"}
        memory.focus = list(two.values())[-2:]
    parts = [mark for mark in clause.marks if mark.kind == "C" and not mark.place]
    said = any(mark.kind == "G" and mark.key == "claim" for mark in clause.marks)
    if not any(group.verbs for group in groups):
        yield from _no_verb(clause, groups, memory, found, at)
    else:
        yield from _with_verbs(clause, groups, memory)
    memory.named += clause.having("C")
    memory.ill = bool(clause.having("K"))
    if not said:
        _remember(clause, parts, memory)


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


def _groups(clause: Clause) -> list[_Group]:
    groups: list[_Group] = []
    joint = along = False
    for mark in clause.marks:
        if mark.kind in "CU" and not mark.place:
            joined = joint or mark.gap == Gap.AND
            if groups and not groups[-1].verbs:
                groups[-1].marks.append(mark)
            else:
                groups.append(_Group(False, [mark], joined, along))
            joint = along = False
        elif mark.kind in "ANO":
            if groups and groups[-1].verbs:
                groups[-1].marks.append(mark)
            else:
                groups.append(_Group(True, [mark]))
            joint = along = False
        elif mark.kind in "JW":
            joint = True
            along = along or mark.kind == "W"
        elif mark.kind == "K" and groups and not groups[-1].verbs:
            groups[-1].condition = True
        elif mark.kind in "xX" and groups and not groups[-1].verbs:
            groups[-1].condition = groups[-1].condition or mark.kind == "X"
    return groups


def _with_verbs(clause: Clause, groups: list[_Group], memory: Memory) -> Iterator[Pair]:
    for at, group in enumerate(groups):
        if group.verbs:
            parts = _parts_of(groups, at, memory)
            yield from done_to(clause, group.marks, parts, memory)
            memory.waiting = []
            memory.verbs = [mark for mark in group.marks if mark.kind == "A"]
    for group in groups:
        if not group.verbs:
            yield from _fitted_new(group.marks, groups)
            if group.along and not group.taken:  # "refitted w/ gasket"
                yield from (
                    Pair(one.key, "replace", one.why, one, one) for one in group.marks if one.key == "gasket_seal"
                )
    last = groups[-1]
    _, *tail = clause.marks[clause.marks.index(last.marks[-1]) :]
    if not last.verbs and not last.taken and not last.condition and all(mark.kind in "fni" for mark in tail):
        memory.waiting = [mark for mark in last.marks if mark.kind == "C" and not mark.new]


def _parts_of(groups: list[_Group], at: int, memory: Memory) -> list[Mark]:
    """The parts of the verbs at `at`: of their clause, and of a list that was waiting for a verb."""
    left = groups[at - 1] if at else None
    right = groups[at + 1] if at + 1 < len(groups) else None
    chosen = _choose(groups, at, left, right)
    parts = [mark for one in chosen for mark in one.marks]
    if left is None and right in chosen and at + 2 < len(groups):
        parts = _shared(parts, groups[at + 2])
    elif left is not None and chosen == [left] and left.taken and _shared(parts, groups[at]) != parts:
        parts = parts[-1:]
    for one in chosen:
        one.taken = True
    if chosen:
        memory.prefix = left not in chosen
    if right is not None and right.along and left is None:  # "replaced c/w gasket"
        parts = [*memory.focus, *parts]
    if not parts or memory.prefix or all(part.key in FLUIDS for part in parts):
        return parts
    return [*memory.waiting, *parts]


def _choose(groups: list[_Group], at: int, left: _Group | None, right: _Group | None) -> list[_Group]:
    """The parts that a group of verbs takes: those after it, before it, or both."""
    verbs = groups[at].marks
    sides = [one for one in (left, right) if one is not None]
    if all(mark.kind == "O" for mark in verbs):  # a verdict follows its part, but for "no fault with egr"
        return [one for one in sides if one is (right if verbs[-1].words.split(" ")[-1] in _WITH else left)]
    renews = any(mark.kind == "A" and mark.key == "replace" for mark in verbs)
    if right is not None and (right.along or (left is None and right.joined)) and not renews:  # "cleaned & new gasket"
        return [one for one in sides if one is left]
    if left is None or right is None or right.along:
        return sides
    if right.joined and at + 2 >= len(groups) and not left.taken:  # "egr replaced and gasket"
        return sides if all(mark.kind != "A" or mark.key in ("replace", "clean") for mark in verbs) else [left]
    return [right] if left.taken or _looks_ahead(verbs, left, ends=at + 2 >= len(groups)) else [left]


def _looks_ahead(verbs: list[Mark], left: _Group, *, ends: bool) -> bool:
    """Whether verbs between two parts belong to the second: an order "replace egr", or a part said to be at fault."""
    first = next((mark for mark in verbs if mark.kind in "AN"), verbs[0])
    ordered = first.kind == "A" and first.form == "base" and not _noun(first, left)
    last = verbs[-1]
    return ordered or (ends and (left.condition or (last.kind == "A" and last.form == "base")))


def _noun(verb: Mark, left: _Group) -> bool:
    """ "egr clean", "dpf regen": the part right before makes the verb a noun."""
    return verb.gap == Gap.SOFT and bool(left.marks) and left.marks[-1].last == verb.first - 1


def _shared(parts: list[Mark], after: _Group) -> list[Mark]:
    """Of parts between two verbs the last belongs to the second: "replaced egr and throttle cleaned"."""
    verb = after.marks[0]
    close = verb.kind == "A" and verb.gap == Gap.SOFT and parts[-1].last == verb.first - 1
    return parts[:-1] if len(parts) > 1 and close else parts


def _no_verb(clause: Clause, groups: list[_Group], memory: Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    """Parts alone: new ones were fitted; bare ones belong to the list before or after them."""
    parts = [mark for group in groups for mark in group.marks if mark.kind == "C"]
    for group in groups:
        yield from _fitted_new(group.marks, groups)
    if parts and parts[0].new and not clause.having("K"):  # "new turbo, gaskets, oil"
        first = parts[0]
        memory.verbs, memory.prefix = [replace(first, kind="A", key="replace", form="past", target="")], True
    bare = [part for part in parts if not part.new and not part.why and part.key != "vehicle"]
    listed = bool(bare) and all(mark.kind in "CUfniJWxTRm" for mark in clause.marks)
    listed = listed and all(_counts(mark.words) for mark in clause.having("n"))  # 40 % is a reading
    listed = listed and sum(mark.kind == "x" for mark in clause.marks) == 0 and not clause.asked
    described = at > 0 and clause.gap in (Gap.DASH, Gap.COLON) and found[at - 1].marks[-1].kind == "Z"  # "P0489 - egr"
    if not listed or described or (clause.gap in (Gap.STOP, Gap.QUESTION) and not _verb_next(found, at)):
        memory.waiting = []
        return
    following = found[at + 1] if at + 1 < len(found) else None
    if following is not None and following.gap in (Gap.DASH, Gap.COLON) and not following.having("CU"):
        memory.waiting = bare if following.having("A") else []  # "map - replaced"
        return
    ahead = _ends_in_verb(found, at, any(verb.key == "replace" for verb in memory.verbs))
    if memory.verbs and clause.gap in (Gap.COMMA, Gap.AND, Gap.SEMICOLON) and (memory.prefix or not ahead):
        for verb in memory.verbs:
            carries = verb.key not in ("relearn", "top_up", "drain") and (verb.key != "inspect" or memory.prefix)
            if not verb.target and carries:
                for part in bare:
                    sealed = part.key == "gasket_seal" and verb.key in ("clean", "repair")  # "egr cleaned, gasket"
                    action = "replace" if sealed else verb.key
                    if fits(action, part):
                        yield Pair(part.key, action, verb.why or part.why, verb, part)
        return
    memory.waiting += bare


def _counts(number: str) -> bool:
    return number.lstrip("0123456789.,x") in ("", "x", "l", "ltr", "ltrs", "off")


def _verb_next(found: list[Clause], at: int) -> bool:
    return at + 1 < len(found) and found[at + 1].gap in (Gap.COMMA, Gap.DASH, Gap.COLON, Gap.AND)


def _ends_in_verb(found: list[Clause], at: int, renewing: bool) -> bool:
    """Whether the list goes on to a clause that names parts and then the verb: "air filter, fuel filter renewed"."""
    for clause in found[at + 1 :]:
        if clause.gap not in (Gap.COMMA, Gap.AND, Gap.DASH):
            return False
        kinds = [mark.kind for mark in clause.marks if mark.kind in "CUAN" and not mark.place]
        if "A" in kinds or "N" in kinds:
            verbs = clause.having("A")
            if renewing and all(mark.key == "inspect" for mark in verbs):
                return False
            return kinds[0] in "CU" and any(mark.key == "replace" or mark.form == "past" for mark in verbs)
        if not kinds:
            return False
    return False


def _fitted_new(marks: list[Mark], groups: list[_Group]) -> Iterator[Pair]:
    """ "new gasket" says that one was fitted, unless it says that it wasn't."""
    verbs = [mark for group in groups if group.verbs for mark in group.marks if mark.kind == "A"]
    for part in marks:
        if part.kind == "C" and part.new and part.key != "vehicle":
            why = part.why or next((verb.why for verb in verbs if verb.why and verb.key == "replace"), "")
            yield Pair(part.key, "replace", why, part, part)


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
    elif any(mark.kind == "U" for mark in clause.marks):
        memory.focus = []
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
