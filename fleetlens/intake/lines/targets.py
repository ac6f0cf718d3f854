"""What an action is done to: its own parts, the place after it, what was named last, or what it always means."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.memory import FLUIDS, Memory, Pair
from fleetlens.vocabulary.components import components

__all__ = ["done_to", "fits"]

_FILLED = ("refill", "re fill", "fill")
_FILLABLE = {*FLUIDS, "reductant_tank"}
_SEALS = {"gasket_seal", "injector_seal", "oil_filter", "fuel_filter", "air_filter", *FLUIDS}
# What a control unit can learn again (common practice, no source).
_LEARNS = {
    *("egr_valve", "throttle_body", "swirl_flap_actuator", "turbo_actuator", "dpf_pressure_sensor", "nox_sensor"),
    *("injector", "engine_ecu", "instrument_cluster", "fuel_pressure_regulator", "egr_cooler_bypass", "egr_actuator"),
    *("pm_sensor", "exhaust_pressure_sensor", "scr_catalyst", "battery", "clutch", "glow_plug_module"),
    *("accelerator_pedal", "dpf", "reductant_pump", "reductant_injector", "reductant_tank", "maf_sensor"),
}
# Why a part named before wasn't worked on, which a verb told as done takes back: "turbo quoted, approved, fitted".
_WORK = {"replace", "repair", "clean", "adjust", "lubricate"}
_TALK = {"advised", "quoted", "deferred", "declined", "asked"}
_FIXED = {"fixed", "rectified", "sorted", "mended"}
# What reads through a pipe is what learns again once the pipe is put right.
_READ_BY = {"dpf_pressure_pipes": "dpf_pressure_sensor", "exhaust_pressure_pipe": "exhaust_pressure_sensor"}
_DISABLED = {"doc", "throttle_body", "crankcase_breather", "lambda_sensor", "pm_sensor", "exhaust_pressure_sensor"}
_WHOLE_DOES = {"run", "runs", "pull", "pulls", "drive", "drives", "start", "starts"}
_COUNTERS = {"dpf", "engine_ecu", "scr_catalyst"}
_PLACED = {"gap", "clearance", "arm", "tension", "rod", "preload", "stop"}
_DIRT = {"carbon", "blocked", "ash", "contaminated"}
_COUNTED = {"ash", "soot", "counter", "value", "adaptation", "adaption", "parameter", "adaptive", "learn", "offset"}
_INJECTOR_CODES = {"injector", "injectors", "iqa", "ima", "isa", "trim"}
_FASTENERS = {"clip", "jubilee", "jubilee clip", "clamp", "bolt", "nut", "stud", "screw", "hose clip", "band clamp"}


def done_to(clause: Clause, verbs: list[Mark], parts: list[Mark], memory: Memory) -> Iterator[Pair]:
    """The pairs of verbs that stand together, with the `parts` that the clause gives them (none: they stand alone)."""
    for verb in _acts(clause, verbs, parts, memory):
        action = "inspect" if verb.kind == "O" else verb.key
        target = verb.target
        if verb.words.startswith("programm") and _given_its_data(clause, parts, memory):
            action, target = "relearn", ""  # "mileage programmed in"
        own = [
            part
            for part in parts
            if part.kind == "C" and (part.key != "vehicle" or target == "vehicle" or action == "inspect")
        ]
        foreign = not own and any(part.kind == "U" for part in parts)
        if foreign and action in ("relearn", "software"):
            continue  # "coded spare key"
        if action in ("clear_codes", "no_fault_found") or verb.words in ("reset", "re set"):
            yield from _of_the_vehicle(clause, verb, own, memory)
        elif verb.kind == "A" and target and action != "inspect":
            yield Pair(target, action, verb.why or _blocked(own, target), verb, None)
        elif target in ("vehicle", "engine", "injector") and not (own and verb.words.endswith(" over")):
            yield Pair(target, "inspect", verb.why, verb, None)
        elif verb.words in _FIXED and not own and memory.verbs:
            continue  # "replaced map, fixed": the fault is
        else:
            yield from _Act(clause, verb, action, memory).pairs(own, any(part.key != "vehicle" for part in parts))


def _acts(clause: Clause, verbs: list[Mark], parts: list[Mark], memory: Memory) -> list[Mark]:
    """The verbs that act; where none does, the first verdict, unless it only speaks of what was put right."""
    acts = [mark for mark in verbs if mark.kind == "A"]
    verdicts = [mark for mark in verbs if mark.kind == "O"]
    if not verdicts or (acts and not all(mark.why == "negated" for mark in acts)):
        return acts
    if acts:  # "not cleaned as ok"
        return [*acts, verdicts[0]]
    if not parts and verdicts[0].words.split(" ")[0] in _WHOLE_DOES:
        return []  # "egr refitted, runs ok" speaks of the vehicle
    put_right = clause.turn and memory.ill and not parts
    return [] if put_right or any(mark.kind == "N" for mark in verbs) else verdicts[:1]


def _of_the_vehicle(clause: Clause, verb: Mark, own: list[Mark], memory: Memory) -> Iterator[Pair]:
    """What mostly is done to the vehicle as a whole, and to a part only where the words say so."""
    if verb.key == "clear_codes":
        yield from _cleared(clause, verb, own)
    elif verb.key != "no_fault_found":
        yield from _reset(clause, verb, own, memory)
    elif memory.focus and _of_the_part(clause, verb):
        yield from (Pair(part.key, "inspect", verb.why, verb, part) for part in memory.focus)
    else:
        yield Pair("vehicle", "no_fault_found", verb.why or _blocked(own, "vehicle"), verb, None)


def _given_its_data(clause: Clause, parts: list[Mark], memory: Memory) -> bool:
    own = [part for part in parts if part.kind == "C" and part.key != "vehicle"] or memory.focus
    control = any(mark.key == "engine_ecu" or mark.words in ("software", "file") for mark in clause.marks)
    return bool(own) and not control and all(part.key in _LEARNS - {"engine_ecu"} for part in own)


def _of_the_part(clause: Clause, verb: Mark) -> bool:
    """ "ecu sent off, returned no fault found"."""
    before = [mark for mark in clause.marks if mark.first < verb.first and mark.kind != "f"]
    return bool(before) and all(mark.words.split(" ")[0] in ("returned", "back", "came", "returns") for mark in before)


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
    if others or verb.words != "clear" or not any(mark.kind == "U" for mark in clause.marks):
        yield Pair("vehicle", "clear_codes", verb.why or _blocked(parts, "vehicle"), verb, None)


def _reset(clause: Clause, verb: Mark, own: list[Mark], memory: Memory) -> Iterator[Pair]:
    """A lamp or a code is cleared, a counter or a learnt value set back, an arm put in its place."""
    if any(mark.key == "vehicle" for mark in clause.marks):
        yield Pair("vehicle", "clear_codes", verb.why, verb, None)
        return
    parts = own or memory.focus
    counted = any(_COUNTED & set(mark.words.split()) or mark.key in ("ash", "relearn") for mark in clause.marks)
    placed = any(_PLACED & set(mark.words.split()) for mark in clause.marks)
    counts = any(part.key in _COUNTERS or part.key.endswith("_sensor") for part in parts)
    if counted or (counts and not placed):
        own = _learning(clause, verb, own, memory)
        for part in own:
            yield Pair(part.key, "relearn", verb.why or part.why, verb, part)
        return
    for part in parts:
        if fits("adjust", part):
            yield Pair(part.key, "adjust", verb.why or part.why, verb, part)


@dataclass(frozen=True, slots=True)
class _Act:
    """One verb in its clause, on its way to its parts."""

    clause: Clause
    verb: Mark
    action: str
    memory: Memory

    def pairs(self, own: list[Mark], given: bool) -> Iterator[Pair]:
        """Its pairs; `own` are the parts that it was given, if it was `given` any."""
        verb, action = self.verb, self.action
        recalled = action != "relearn" and not own and not given
        if action == "relearn":
            own = _learning(self.clause, verb, own, self.memory)
        elif recalled:
            own = _meant(self.clause, verb, action, self.memory)
        if action in ("clean", "repair", "adjust", "lubricate"):  # "wiped out air box & new element"
            own = [part for part in own if not part.new]
        own = [part for part in own if fits(action, part)]
        if verb.words.startswith(_FILLED):
            own = [part for part in own or self.memory.focus if part.key in _FILLABLE]
            action = "replace" if self.memory.emptied or any(part.new for part in own) else "top_up"
        elif action == "top_up" and not own:
            own = self._fluid()
        elif action in ("drain", "replace", "clean") and not verb.why:
            self.memory.emptied = True
        for part in own:
            yield from self._pair(part, action, recalled=recalled)
        if not own and action == "inspect":
            yield from self._inspected_at_large(given)

    def _fluid(self) -> list[Mark]:
        """ "water pump leaking, topped up": the fluid of the system that the line speaks of."""
        last = next((part for part in reversed(self.memory.named) if part.kind == "C"), None)
        known = components().get(last.key) if last is not None else None
        fluid = {"cooling": "coolant", "reductant": "reductant_fluid"}.get(known.system if known else "")
        return [replace(last, key=fluid, why="")] if last is not None and fluid else []

    def _pair(self, part: Mark, action: str, *, recalled: bool) -> Iterator[Pair]:
        """A pair; of a part `recalled` from an earlier clause, what was only said there no longer counts."""
        verb, key = self.verb, part.key
        if key == "reductant_tank" and (verb.words.startswith(_FILLED) or action in ("drain", "top_up")):
            key = "reductant_fluid"  # of a tank, its fluid
        if verb.kind == "O":
            if "leak" in verb.words and key in FLUIDS:
                return  # what leaks is a pipe, not the fluid in it
            self.memory.fine.add(key)
        talk = recalled and (part.why == "credited" or (verb.form == "past" and part.why in _TALK))
        yield Pair(key, action, verb.why or ("" if talk else part.why), verb, part)

    def _inspected_at_large(self, given: bool) -> Iterator[Pair]:
        """A test that names its own object, or "checked, all ok" where nothing has been named yet."""
        verb = self.verb
        bare = not given and not self.memory.focus and verb.kind == "A" and verb.words != "test"
        look = "x" if verb.words in ("check", "inspection") else ""  # "annual check"
        if verb.target:
            yield Pair(verb.target, "inspect", verb.why, verb, None)
        elif bare and all(mark.kind in "AfiOJDX" + look for mark in self.clause.marks):
            yield Pair("vehicle", "inspect", verb.why, verb, None)


def _meant(clause: Clause, verb: Mark, action: str, memory: Memory) -> list[Mark]:
    """The parts of a verb that stands alone: the place named after it, else what was named last."""
    whole = any(mark.words == "all" for mark in clause.marks)
    if whole and memory.unsaid and (verb.kind == "O" or verb.form == "past"):
        return memory.unsaid  # "alt 14.4 V, starter 180 A, all in spec"
    places = [mark for mark in clause.marks if mark.kind == "C" and mark.place]
    loose = any(mark.kind == "F" or (mark.kind == "x" and mark.words in _FASTENERS) for mark in clause.marks)
    if loose and action not in ("adjust", "repair"):
        return []
    after = [mark for mark in places if mark.first > verb.first]
    if after and (verb.kind == "O" or _reaches(clause, verb, after[0])):
        return after
    if verb.target or (verb.kind == "O" and places and not memory.focus):
        return [] if verb.target and memory.focus else places
    chosen = [*memory.waiting, *memory.focus] or (memory.ahead if verb.kind == "A" else []) or places
    if action in _WORK and chosen and all(part.key in memory.fine for part in chosen):
        chosen = memory.focus = _at_fault(memory) or chosen
    return list({id(part): part for part in chosen}.values())


def _at_fault(memory: Memory) -> list[Mark]:
    """ "pump weak, relay ok, replaced": the part named last of which nothing says that it is in order."""
    ill = (one for one in reversed(memory.named) if not one.place and one.key not in {*memory.fine, "vehicle"})
    return [one for one in ill if one.kind == "C"][:1]


def _reaches(clause: Clause, verb: Mark, part: Mark) -> bool:
    """Whether the place after a verb is what it was done to: "repair to wiring", "tested at egr plug"."""
    between = [mark for mark in clause.marks if verb.last < mark.first < part.first]
    if any(mark.kind in "AN" for mark in between):
        return False
    where = next((mark.words for mark in between if mark.kind == "P"), "")
    if where in ("to", "of", "on") or (where in ("from", "off") and verb.key in ("clean", "drain")):
        return True
    return (verb.key == "inspect" and where in ("at", "in", "for", "from") and len(between) > 1) or where == "in"


def _learning(clause: Clause, verb: Mark, own: list[Mark], memory: Memory) -> list[Mark]:
    """What learns: the part named with the verb, the filter whose ash counter is set back, or the part just fitted."""
    words = verb.words.split(" ")
    learns = [part for part in own if part.key not in _SEALS]
    ash = "ash" in words or any(mark.key == "ash" or mark.words == "ash" for mark in clause.marks)
    if ash or (_INJECTOR_CODES & set(words) and not own):
        return [Mark("C", "dpf" if ash else "injector", verb.first, verb.last, verb.start, verb.end, verb.gap)]
    if learns:
        return learns
    places = [mark for mark in clause.marks if mark.kind == "C" and mark.place and mark.key in _LEARNS]
    if places:
        return places[:1]
    focus = [replace(part, key=_READ_BY.get(part.key, part.key)) for part in memory.focus]
    focus = [part for part in focus if part.key in _LEARNS]
    if focus:
        return focus
    last = next((part for part in reversed(memory.named) if part.key in _LEARNS and not part.place), None)
    if last is not None:
        return [last]
    return [part for part in memory.focus if part.key not in _SEALS]


def fits(action: str, part: Mark) -> bool:
    """Whether an action can be done to a part: only fluids are topped up, a new clip is no new hose."""
    key = part.key
    if key == "vehicle":
        return action == "inspect" and part.words in ("vehicle", "van", "veh")
    if part.fastened and action not in ("adjust", "repair", "inspect"):
        return False
    if action == "disable":  # a pipe blanked is a repair of another kind
        return key in _DISABLED or key.startswith(("egr_", "dpf", "scr_", "nox_", "reductant_", "swirl_"))
    if action == "top_up":
        return key in FLUIDS or key == "reductant_tank"
    if action == "drain":
        return key in FLUIDS or key in ("fuel_filter", "reductant_tank", "fuel_tank")
    return not (action in ("clean", "repair", "lubricate", "adjust") and (key in FLUIDS or key == "gasket_seal"))
