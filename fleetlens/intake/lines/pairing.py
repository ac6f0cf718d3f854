"""Verbs joined to their parts: inside a clause by order and nearness, over clauses by lists and by what was last named."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["FLUIDS", "Pair", "pairs"]

FLUIDS = {"coolant", "engine_oil", "reductant_fluid"}
_SEALS = {"gasket_seal", "injector_seal", "oil_filter", "fuel_filter", "air_filter", *FLUIDS}
_LEARNS = {
    *("egr_valve", "throttle_body", "swirl_flap_actuator", "turbo_actuator", "dpf_pressure_sensor", "nox_sensor"),
    *("injector", "engine_ecu", "instrument_cluster", "fuel_pressure_regulator", "egr_cooler_bypass", "egr_actuator"),
    *("accelerator_pedal", "dpf", "reductant_pump", "reductant_injector", "reductant_tank", "maf_sensor"),
}
_DIRT = {"carbon", "blocked", "ash", "contaminated"}


@dataclass(frozen=True, slots=True)
class Pair:
    """A component and an action, the marks that gave them, and why it wasn't done ("" where it was)."""

    component: str
    action: str
    why: str
    verb: Mark
    part: Mark | None


@dataclass(slots=True)
class _Group:
    """Parts or verbs that stand together in a clause."""

    verbs: bool
    marks: list[Mark]
    joined: bool = False
    along: bool = False
    taken: bool = False
    condition: bool = False


@dataclass(slots=True)
class _Memory:
    """What a verb without a part of its own may mean."""

    focus: list[Mark] = field(default_factory=list)
    waiting: list[Mark] = field(default_factory=list)
    verbs: list[Mark] = field(default_factory=list)
    prefix: bool = False
    named: list[Mark] = field(default_factory=list)
    emptied: bool = False
    ahead: list[Mark] = field(default_factory=list)


def pairs(found: list[Clause]) -> list[Pair]:
    """The pairs of all clauses, in order, work not done included."""
    made: list[Pair] = []
    memory = _Memory()
    for at, clause in enumerate(found):
        made += _of_clause(clause, memory, found, at)
    return made


def _of_clause(clause: Clause, memory: _Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    groups = _groups(clause)
    memory.ahead = _named_next(found, at)
    parts = [mark for mark in clause.marks if mark.kind == "C" and not mark.place]
    said = any(mark.kind == "G" and mark.key == "claim" for mark in clause.marks)
    if not any(group.verbs for group in groups):
        yield from _no_verb(clause, groups, memory, found, at)
    else:
        yield from _with_verbs(clause, groups, memory)
    memory.named += clause.having("C")
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


def _with_verbs(clause: Clause, groups: list[_Group], memory: _Memory) -> Iterator[Pair]:
    for at, group in enumerate(groups):
        if not group.verbs:
            continue
        left = groups[at - 1] if at else None
        right = groups[at + 1] if at + 1 < len(groups) else None
        chosen = _choose(groups, at, left, right)
        parts = [mark for one in chosen for mark in one.marks]
        if right is not None and at + 2 < len(groups) and right in chosen and left is None:
            parts = _shared(parts, groups[at + 2])
        elif left is not None and chosen == [left] and left.taken:
            parts = parts[-1:] if _shared(parts, group) != parts else parts
        for one in chosen:
            one.taken = True
        if right in chosen and left not in chosen:
            memory.prefix = True
        elif left in chosen:
            memory.prefix = False
        if right is not None and right.along and left is None:  # "replaced c/w gasket"
            parts = [*memory.focus, *parts]
        waiting = [] if memory.prefix or not parts or (right in chosen and left not in chosen) else memory.waiting
        yield from _joined(clause, group.marks, [*waiting, *parts], memory)
        memory.waiting = []
        memory.verbs = [mark for mark in group.marks if mark.kind == "A"]
    for group in groups:
        if not group.verbs:
            yield from _fitted_new(group.marks, groups)
            if not group.taken and group is groups[-1]:
                memory.waiting = [
                    mark for mark in group.marks if mark.kind == "C" and not mark.new and not group.condition
                ]


def _choose(groups: list[_Group], at: int, left: _Group | None, right: _Group | None) -> list[_Group]:
    """The parts that a group of verbs takes: those after it, before it, or both."""
    verbs = groups[at].marks
    if all(mark.kind == "O" for mark in verbs):
        return [left] if left else []
    renews = any(mark.kind == "A" and mark.key == "replace" for mark in verbs)
    if right is not None and right.along:
        return [one for one in (left, right) if one is not None and (one is left or renews)]
    if left is None and right is not None and right.joined and not renews:  # "cleaned and new gasket"
        return []
    if left is None or right is None:
        return [one for one in (left, right) if one is not None]
    first = next((mark for mark in verbs if mark.kind in "AN"), verbs[0])
    last = verbs[-1]
    if right.joined and at + 2 >= len(groups) and not left.taken:  # "egr replaced and gasket"
        return [left, right] if all(mark.kind != "A" or mark.key in ("replace", "clean") for mark in verbs) else [left]
    if left.taken or (first.kind == "A" and first.form == "base" and not _noun(first, left)):
        return [right]
    if left.condition and at + 2 >= len(groups):  # "cooler leaking replaced cooler"
        return [right]
    if at + 2 >= len(groups) and last.kind == "A" and last.form == "base":
        return [right]
    return [left]


def _noun(verb: Mark, left: _Group) -> bool:
    """ "egr clean", "dpf regen": the part right before makes the verb a noun."""
    return verb.gap == Gap.SOFT and bool(left.marks) and left.marks[-1].last == verb.first - 1


def _shared(parts: list[Mark], after: _Group) -> list[Mark]:
    """Of parts between two verbs the last belongs to the second: "replaced egr and throttle cleaned"."""
    verb = after.marks[0]
    close = verb.kind == "A" and verb.gap == Gap.SOFT and parts[-1].last == verb.first - 1
    return parts[:-1] if len(parts) > 1 and close else parts


def _joined(clause: Clause, verbs: list[Mark], parts: list[Mark], memory: _Memory) -> Iterator[Pair]:
    acts = [mark for mark in verbs if mark.kind == "A"]
    verdicts = [mark for mark in verbs if mark.kind == "O"]
    if not acts and verdicts and not any(mark.kind == "N" for mark in verbs) and not (clause.turn and not parts):
        acts = verdicts[:1]
    for verb in acts:
        action = "inspect" if verb.kind == "O" else verb.key
        target = verb.target
        own = [part for part in parts if part.kind == "C" and not (part.key == "vehicle" and target != "vehicle")]
        if verb.kind == "A" and action == "clear_codes":
            yield from _cleared(clause, verb, own)
        elif verb.kind == "A" and target and action != "inspect":
            yield Pair(target, action, verb.why or _blocked(own, target), verb, None)
        elif verb.words in ("reset", "re set"):
            yield from _reset(clause, verb, own, memory)
        elif target in ("vehicle", "engine", "injector"):
            yield Pair(target, "inspect", verb.why, verb, None)
        else:
            yield from _done_to(clause, verb, action, own, parts, memory)


def _blocked(parts: list[Mark], target: str) -> str:
    return next((part.why for part in parts if part.key == target and part.why), "")


def _cleared(clause: Clause, verb: Mark, parts: list[Mark]) -> Iterator[Pair]:
    """Codes are cleared; a pipe is cleared of what blocks it; a pipe may be clear."""
    others = [part for part in parts if part.key != "vehicle"]
    coded = any(mark.kind == "Z" or mark.key == "vehicle" or mark.words == "fault" for mark in clause.marks)
    if others and not coded and verb.words in ("clear", "clears", "cleared", "clearing"):
        if any(mark.kind == "K" and mark.key in _DIRT for mark in clause.marks):
            for part in others:
                yield Pair(part.key, "clean", verb.why or part.why, verb, part)
            return
        if verb.words == "clear" and others[0].first < verb.first:
            for part in others:
                yield Pair(part.key, "inspect", verb.why or part.why, verb, part)
            return
    yield Pair("vehicle", "clear_codes", verb.why or _blocked(parts, "vehicle"), verb, None)


_COUNTED = {"ash", "soot", "counter", "value", "adaptation", "adaption", "parameter", "adaptive", "learn", "offset"}


def _reset(clause: Clause, verb: Mark, own: list[Mark], memory: _Memory) -> Iterator[Pair]:
    """A lamp or a code is cleared, a counter or a learnt value set back, an arm put in its place."""
    if any(mark.key == "vehicle" for mark in clause.marks):
        yield Pair("vehicle", "clear_codes", verb.why, verb, None)
        return
    parts = own or memory.focus
    counted = any(_COUNTED & set(mark.words.split()) or mark.key in ("ash", "relearn") for mark in clause.marks)
    if counted or any(part.key in ("dpf", "engine_ecu") or part.key.endswith("_sensor") for part in parts):
        own = _learning(clause, verb, own, memory)
        for part in own:
            yield Pair(part.key, "relearn", verb.why or part.why, verb, part)
        return
    for part in parts:
        if _fits("adjust", part, clause):
            yield Pair(part.key, "adjust", verb.why or part.why, verb, part)


def _done_to(
    clause: Clause, verb: Mark, action: str, own: list[Mark], parts: list[Mark], memory: _Memory
) -> Iterator[Pair]:
    if action == "relearn":
        own = _learning(clause, verb, own, memory)
    elif not own and not parts:
        own = _meant(clause, verb, action, memory)
    if action in ("clean", "repair", "adjust", "lubricate"):  # "wiped out air box & new element"
        own = [part for part in own if not part.new]
    own = [part for part in own if _fits(action, part, clause)]
    if verb.words.startswith(("refill", "re fill", "fill")):
        own = [part for part in own or memory.focus if part.key in FLUIDS or part.key == "reductant_tank"]
        action = "replace" if memory.emptied or any(part.new for part in own) else "top_up"
    elif action in ("drain", "replace") and not verb.why:
        memory.emptied = True
    if verb.words.startswith(("refill", "re fill", "fill")) or action in ("drain", "top_up"):
        own = [replace(part, key="reductant_fluid") if part.key == "reductant_tank" else part for part in own]
    if verb.kind == "O" and "leak" in verb.words:  # what leaks is a pipe, not the fluid in it
        own = [part for part in own if part.key not in FLUIDS]
    if action == "inspect" and verb.target and not own:
        yield Pair(verb.target, "inspect", verb.why, verb, None)
    for part in own:
        yield Pair(part.key, action, verb.why or part.why, verb, part)
    if (
        not own
        and not parts
        and action == "inspect"
        and not verb.target
        and _whole_vehicle(clause, verb)
        and not memory.focus
    ):
        yield Pair("vehicle", "inspect", verb.why, verb, None)


def _whole_vehicle(clause: Clause, verb: Mark) -> bool:
    return verb.kind == "A" and all(mark.kind in "AfiOJDX" for mark in clause.marks) and verb.words != "test"


def _meant(clause: Clause, verb: Mark, action: str, memory: _Memory) -> list[Mark]:
    """The parts of a verb that stands alone: the place named after it, else what was named last."""
    places = [mark for mark in clause.marks if mark.kind == "C" and mark.place]
    loose = any(mark.kind == "F" or (mark.kind == "x" and mark.words in _FASTENERS) for mark in clause.marks)
    if verb.target and not memory.focus:
        return places
    if loose and action not in ("adjust", "repair"):
        return []
    after = [mark for mark in places if mark.first > verb.first]
    if after and (verb.kind == "O" or _reaches(clause, verb, after[0])):
        return after
    if verb.kind == "O" and places and not memory.focus:
        return places
    if verb.target:
        return []
    chosen = [*memory.waiting, *memory.focus] or (memory.ahead if verb.kind == "A" else [])
    return list({id(part): part for part in chosen}.values())


_FASTENERS = {"clip", "jubilee", "jubilee clip", "clamp", "bolt", "nut", "stud", "screw", "hose clip", "band clamp"}


def _reaches(clause: Clause, verb: Mark, part: Mark) -> bool:
    """Whether the place after a verb is what it was done to: "repair to wiring", "tested at egr plug"."""
    between = [mark for mark in clause.marks if verb.last < mark.first < part.first]
    if any(mark.kind in "AN" for mark in between):
        return False
    where = next((mark.words for mark in between if mark.kind == "P"), "")
    if where in ("to", "of", "on") or (where in ("from", "off") and verb.key == "clean"):
        return True
    return (verb.key == "inspect" and where in ("at", "in", "for", "from") and len(between) > 1) or where == "in"


def _learning(clause: Clause, verb: Mark, own: list[Mark], memory: _Memory) -> list[Mark]:
    """What learns: the part named with the verb, the filter whose ash counter is set back, or the part just fitted."""
    words = verb.words.split(" ")
    learns = [part for part in own if part.key not in _SEALS]
    if "ash" in words or any(mark.key == "ash" or mark.words == "ash" for mark in clause.marks):
        return [Mark("C", "dpf", verb.first, verb.last, verb.start, verb.end, verb.gap)]
    if learns:
        return learns
    places = [mark for mark in clause.marks if mark.kind == "C" and mark.place and mark.key in _LEARNS]
    if places:
        return places[:1]
    focus = [part for part in memory.focus if part.key in _LEARNS]
    if focus:
        return focus
    last = next((part for part in reversed(memory.named) if part.key in _LEARNS), None)
    if last is not None:
        return [last]
    return [part for part in memory.focus if part.key not in _SEALS]


def _fits(action: str, part: Mark, clause: Clause) -> bool:
    key = part.key
    if key == "vehicle":
        return action == "inspect" and part.words in ("vehicle", "van", "veh")
    if part.fastened and action not in ("adjust", "repair", "inspect"):
        return False
    if action == "top_up":
        return key in FLUIDS or key == "reductant_tank"
    if action == "drain":
        return key in FLUIDS or key in ("fuel_filter", "reductant_tank", "fuel_tank")
    if action in ("clean", "repair", "lubricate", "adjust") and key in FLUIDS:
        return False
    if action == "inspect" and key == "gasket_seal":
        return True
    del clause
    return True


def _no_verb(clause: Clause, groups: list[_Group], memory: _Memory, found: list[Clause], at: int) -> Iterator[Pair]:
    """Parts alone: new ones were fitted; bare ones belong to the list before or after them."""
    parts = [mark for group in groups for mark in group.marks if mark.kind == "C"]
    for group in groups:
        yield from _fitted_new(group.marks, groups)
    bare = [part for part in parts if not part.new and not part.why and part.key != "vehicle"]
    listed = bool(bare) and all(mark.kind in "CUfniJWxTRm" for mark in clause.marks)
    listed = listed and all(mark.words.isalnum() for mark in clause.marks if mark.kind == "n")  # 40 % is a reading
    listed = listed and sum(mark.kind == "x" for mark in clause.marks) == 0 and not clause.asked
    if not listed or (clause.gap in (Gap.STOP, Gap.QUESTION) and not _verb_next(found, at)):
        memory.waiting = []
        return
    ahead = _ends_in_verb(found, at, any(verb.key == "replace" for verb in memory.verbs))
    if memory.verbs and clause.gap in (Gap.COMMA, Gap.AND, Gap.SEMICOLON) and (memory.prefix or not ahead):
        for verb in memory.verbs:
            if not verb.target and verb.key not in ("relearn", "top_up", "drain", "inspect"):
                for part in bare:
                    if _fits(verb.key, part, clause):
                        yield Pair(part.key, verb.key, verb.why or part.why, verb, part)
        return
    memory.waiting += bare


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


def _remember(clause: Clause, parts: list[Mark], memory: _Memory) -> None:
    """What the next verb without a part would mean."""
    others = [mark for mark in clause.marks if mark.kind == "U"]
    real = [part for part in parts if part.key != "vehicle"]
    found_in = any(mark.kind == "N" for mark in clause.marks) and all(part.key in FLUIDS for part in real)
    if real and found_in and memory.focus:  # "oil found inside"
        return
    if real:
        solid = [part for part in real if part.key not in FLUIDS]  # "manifold has oil pooled in it"
        last = (solid or real)[-1]
        group = [last]
        for mark in reversed(clause.marks[: clause.marks.index(last)]):
            if mark.kind == "C" and not mark.place:
                group.insert(0, mark)
            elif mark.kind in "ANOKxX":
                break
        together = any(mark.kind == "J" or mark.gap == Gap.AND for mark in clause.marks)
        memory.focus = group if together else [last]
        denied = [part for part in memory.focus if part.why == "negated"]
        if denied:
            memory.focus = [part for part in memory.focus if part not in denied]
    elif others:
        memory.focus = []
    elif places := [mark for mark in clause.marks if mark.kind == "C" and mark.place and mark.key != "vehicle"]:
        if not memory.focus or any(mark.kind == "K" for mark in clause.marks):
            memory.focus = places[:1]
