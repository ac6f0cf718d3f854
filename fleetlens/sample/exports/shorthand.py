"""Workshop shorthand: what an invented hand writes about the lines of a job, in words that tell what was done."""

from collections.abc import Mapping, Sequence
from typing import Any

from fleetlens.sample.exports.histories import one_of

__all__ = ["PARTS", "written"]

PARTS: dict[str, tuple[str, ...]] = {
    "air_filter": ("air filter",),
    "alternator": ("alternator", "alt"),
    "battery": ("battery", "batt"),
    "boost_hose": ("boost hose", "turbo hose"),
    "brakes": ("frt brake pads", "front brakes", "brake discs & pads"),
    "dpf": ("dpf", "particulate filter"),
    "dpf_pressure_pipes": ("dpf pressure pipes",),
    "dpf_pressure_sensor": ("dpf pressure sensor", "dpf diff press sensor"),
    "egr_actuator": ("egr motor", "egr actuator"),
    "egr_cooler": ("egr cooler", "egr clr"),
    "egr_solenoid": ("egr solenoid", "egr vac solenoid"),
    "egr_valve": ("egr valve", "egr vlv", "egr"),
    "egt_sensor": ("egt sensor", "exhaust temp sensor"),
    "engine_ecu": ("ecu", "engine ecu"),
    "engine_oil": ("oil", "engine oil"),
    "fuel_filter": ("fuel filter", "diesel filter"),
    "glow_plug": ("glow plug", "heater plug"),
    "intake_manifold": ("inlet manifold", "inlet man", "intake manifold"),
    "maf_sensor": ("maf", "air mass meter"),
    "oil_filter": ("filter", "oil filter"),
    "turbo_vanes": ("turbo vanes", "vgt vanes"),
    "wiring": ("loom", "engine harness", "wiring"),
}
_VERBS: dict[str, tuple[str, ...]] = {
    "adjust": ("adjusted", "re-secured"),
    "charge": ("charged", "put on charge"),
    "clean": ("cleaned", "cleaned out", "removed, cleaned & refitted", "clnd"),
    "inspect": ("checked ok", "chkd, ok"),
    "regenerate": ("forced regen", "regen done"),
    "relearn": ("relearn done", "adapted"),
    "repair": ("repaired", "rep'd"),
    "replace": ("replaced", "renewed", "new fitted", "repl"),
    "software": ("software updated", "reflashed"),
}
_CAUSES = {
    "ash loading": "full of ash",
    "broken tip": "tip broken",
    "carbon build-up": "heavy carbon",
    "carbon under seat": "carboned up",
    "cell down": "dead cell",
    "chafed through": "chafed thro",
    "clip cracked the end": "end cracked",
    "corroded splice": "corroded",
    "cracked, leaking coolant": "cracked & leaking",
    "failed load test": "failed load test",
    "flap shaft worn": "shaft worn",
    "internal short": "short circuit",
    "melted core": "melted",
    "no charge": "no output",
    "offset at rest": "reading high",
    "open circuit": "o/c",
    "perished": "perished",
    "plugged solid": "blocked solid",
    "position sensor dead": "position sensor dead",
    "regulator fault": "regulator u/s",
    "scored disc": "scored",
    "seat burnt": "seat burnt",
    "soot fouling": "sooted up",
    "split": "split",
    "sticking shaft, carbon": "sticking, carbon",
    "substrate cracked": "cracked",
    "unison ring worn": "ring worn",
    "vanes stuck, soot": "stuck, sooted",
    "worn motor gears": "gears worn",
    "worn to limit": "worn out",
}
_SCANS = ("scanned, {} stored", "plugged in, {} logged", "codes read: {}", "diag: {}")
_NO_CODES = ("scanned, no codes", "diag carried out, no codes stored", "live data checked, no codes")
_BARE_CODES = ("{} stored", "eml on, {}", "{} in memory")
_WITH_CAUSE = ("{part} {cause}, {verb}", "found {part} {cause}. {verb}", "{part} {verb} - {cause}")
_WITHOUT = ("{part} {verb}", "{verb} {part}")
_ENDS = {
    "clear_codes": ("codes cleared", "c/codes", "cleared codes"),
    "road_test": ("rt ok", "road tested ok", "r/t fine"),
}
_NOTHING = ("nff", "no fault found", "could not fault")
_ADVICE = (
    "adv {part} sooting up, clean at next service",
    "{part} getting sooty, recommend clean",
    "{part} needs cleaning soon - adv'd driver",
)
_SAFETY = ("safety insp carried out", "pmi done", "safety inspection")
_SERVICE = ("service carried out", "serviced", "interval service")
_ASIDES = (
    "adv o/s/f tyre 3mm",
    "cust declined wiper blades",
    "inv P2002 sent to office",
    "o/n 40417 - part no 0281006",
    "key on hook 14, bay 2",
    "did not replace battery, tests ok",
    "quoted rear doors hinge, awaiting auth",
    "no P0401 now",
    "collected 16:30 by driver",
    "ref card 3/7, job sheet B1042",
)
ASIDES_SHARE = 6
"""One job in so many has a line that tells of nothing done."""


def written(number: int, codes: Sequence[str], lines: Sequence[Mapping[str, Any]]) -> list[str]:
    """The lines that the hand writes for the job with this number; what is done stays, its order nearly."""
    told = _scan(number, codes, lines)
    told += _looked_at(number, lines)
    told += _serviced(number, lines)
    for place, line in enumerate(lines):
        if line["component"] == "vehicle" or _consumable(line) or line["action"] == "inspect":
            continue
        told.append(_work(line, number, place))
    ends = [
        one_of(_ENDS[line["action"]], "end", number, at) for at, line in enumerate(lines) if line["action"] in _ENDS
    ]
    if any(line["action"] == "no_fault_found" for line in lines):
        told.append(one_of(_NOTHING, "nothing", number))
    if ends:
        told.append(", ".join(ends))
    if one_of(tuple(range(ASIDES_SHARE)), "aside", number) == 0:
        told.append(one_of(_ASIDES, "which aside", number))
    return told


def _scan(number: int, codes: Sequence[str], lines: Sequence[Mapping[str, Any]]) -> list[str]:
    scanned = any((line["component"], line["action"]) == ("vehicle", "diagnose") for line in lines)
    told = one_of((" + ", ", ", " & "), "codes joined", number).join(codes)
    if not codes:
        return [one_of(_NO_CODES, "no codes", number)] if scanned else []
    return [one_of(_SCANS if scanned else _BARE_CODES, "scan", number).format(told)]


def _looked_at(number: int, lines: Sequence[Mapping[str, Any]]) -> list[str]:
    """Inspections: the vehicle in a line of its own, the parts in a list with one verb."""
    looked = [line["component"] for line in lines if line["action"] == "inspect"]
    parts = [_part(name, number, place) for place, name in enumerate(looked) if name != "vehicle"]
    listed = [f"{', '.join(parts[:-1])} & {parts[-1]}" if len(parts) > 1 else parts[0]] if parts else []
    return [
        *([one_of(_SAFETY, "safety", number)] if "vehicle" in looked else []),
        *(f"{words} {one_of(_VERBS['inspect'], 'inspected', number)}" for words in listed),
    ]


def _serviced(number: int, lines: Sequence[Mapping[str, Any]]) -> list[str]:
    """The oil and the filters of a service, in one line."""
    parts = [_part(line["component"], number, place) for place, line in enumerate(lines) if _consumable(line)]
    if not parts:
        return []
    verb = one_of(("changed", "renewed", "replaced"), "service verb", number)
    return [f"{one_of(_SERVICE, 'service', number)}: {', '.join(parts[:-1])} & {parts[-1]} {verb}"]


def _consumable(line: Mapping[str, Any]) -> bool:
    return line["action"] == "replace" and line["component"] in (
        "engine_oil",
        "oil_filter",
        "air_filter",
        "fuel_filter",
    )


def _work(line: Mapping[str, Any], number: int, place: int) -> str:
    part = _part(line["component"], number, place)
    if line["action"] == "advise":
        return one_of(_ADVICE, "advice", number, place).format(part=part)
    if line["position"]:
        part = f"{part} {one_of(('cyl', 'no.'), 'cylinder', number, place)} {line['position'][-1]}"
    verb = one_of(_VERBS[line["action"]], "verb", number, place)
    if not line["cause"]:
        return one_of(_WITHOUT, "form", number, place).format(part=part, verb=verb)
    form = one_of(_WITH_CAUSE, "form", number, place)
    return form.format(part=part, verb=verb, cause=_CAUSES[line["cause"]])


def _part(component: str, number: int, place: int) -> str:
    return one_of(PARTS[component], "part", number, place)
