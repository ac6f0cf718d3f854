"""Short words of two meanings, settled by the words around: clr, ic, pcv, charge, ground, head, replacement."""

from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["settle_doubles"]

_RENEWED = {"reconditioned": "repair", "refurbished": "repair", "exch": "replace"}
_DISTANCE = {"mile", "miles", "mls", "km", "kms"}
_MOVES = {"took", "taken", "take", "drove", "out", "ran", "run", "drive", "round"}
_LEAK_BACK = ("leak back", "leak off", "leakback", "leakoff", "back leak", "backleak")
_SMALL = {"1", "in", "off", "out"}
_NOUNS = {"control": "inspect", "change of": "replace", "exchange of": "replace"}
_LAMPS = {"light", "lamp", "mil", "eml", "lights"}
_SOAKED = {"in", "overnight", "for", "and", "with", "then", "clean", "off", "over", "out", "through"}
_REBUILT = {"rebuilt", "overhauled", "refurbished", "refurb", "reconditioned"}
_DASH_WORDS = {"odo", "odometer", "display", "dash", "clock", "speedo", "speedometer", "mileage"}
_FUEL_WORDS = {"rail", "fuel", "hp", "diesel", "prv", "scv"}
_OIL_WORDS = {"breather", "crankcase", "oil", "ccv"}
_COOLER_WORDS = {"leaking", "leak", "leaks", "coolant", "pressure", "blocked", "split", "cracked", "flushed"}
_ADJECTIVES = {"correct", "good", "sound", "normal", "healthy", "perfect", "tight"}
_WATER_WORDS = {"water", "drained", "fuel", "diesel", "bowl"}
_PAYERS = {"customer", "account", "client", "to account", "owner"}
_BATTERY_WORDS = {"battery", "batt", "bat", "batty", "overnight"}


def settle_doubles(marks: list[Mark], words: set[str]) -> None:
    """Give each doubtful mark the one meaning that its neighbours, or any of the line's `words`, speak for."""
    cooler = False
    for at, mark in enumerate(marks):
        before = marks[at - 1] if at and mark.gap == Gap.SOFT else None
        after = marks[at + 1] if at + 1 < len(marks) and marks[at + 1].gap == Gap.SOFT else None
        cooler = cooler or (mark.key == "egr_cooler" and mark.words != "clr")
        if mark.words == "clr":
            _settle_clr(mark, before, after, cooler)
        elif mark.kind == "C":
            _settle_part(mark, marks[max(0, at - 2) : at + 3], before, after, words)
        elif mark.kind == "A":
            _settle_verb(mark, before, after, words)
            _settle_rebuilt(mark, marks[at + 1 : at + 6])
            _settle_state(mark, before, after)
            if mark.words.startswith("plugged") and any(one.kind in "CUNH" for one in marks[:at]):
                mark.kind, mark.key = "N", ""  # a plug put back
        elif mark.words in _NOUNS and mark.kind in "xX":
            _settle_noun(mark, marks[at + 1 : at + 4], before)
        elif mark.words in _DISTANCE and at and marks[at - 1].kind == "n":
            _settle_distance(mark, _sentence(marks, at))
        elif mark.words in _SMALL and before is not None:
            _settle_small(mark, before, marks, at)
        elif mark.kind in "ORH":
            _settle_word(mark, before, after, words)


def _settle_noun(mark: Mark, after: list[Mark], before: Mark | None) -> None:
    """ "change of oil made", "control of the brakes": such a noun is work where a part follows."""
    rest = [one for one in after if one.kind not in "fR" and one.words != "of"]
    of = mark.words.endswith(" of") or (bool(after) and after[0].words == "of")
    if of and rest and rest[0].kind in "CH" and (before is None or before.kind not in "CMHG"):
        mark.kind, mark.key, mark.form = "A", _NOUNS[mark.words], "base"


def _settle_small(mark: Mark, before: Mark, marks: list[Mark], at: int) -> None:
    """ "new 1 in", "clutch and flywheel in, ...", "manifold off and ...": a thing, fitted, taken off."""
    if mark.words == "1":
        if before.words == "new" and _ends_in(marks, at):
            mark.kind = "T"
    elif not _ends(marks, at):
        return
    elif mark.words == "in" and before.kind == "C" and _solid(before):
        mark.kind, mark.key, mark.form = "A", "replace", "past"
    elif mark.words != "in" and before.kind in "CUM":
        mark.kind, mark.key = "N", ""


def _ends_in(marks: list[Mark], at: int) -> bool:
    """Whether no part follows that a number could count."""
    return at + 1 == len(marks) or marks[at + 1].gap != Gap.SOFT or marks[at + 1].kind not in "CHUxM"


def _solid(part: Mark) -> bool:
    return part.key not in ("vehicle", "coolant", "engine_oil", "reductant_fluid", "wiring", "connector")


def _ends(marks: list[Mark], at: int) -> bool:
    """Whether the thought ends here: with the line, a sign, or an "and"."""
    return at + 1 == len(marks) or marks[at + 1].gap != Gap.SOFT or marks[at + 1].kind == "J"


def _settle_word(mark: Mark, before: Mark | None, after: Mark | None, words: set[str]) -> None:
    """ "correct valve ordered", "two reconditioned", "all four exch", "drained water from filter"."""
    named = before is not None and before.kind in "CHTU"
    if mark.kind == "O" and mark.words in _ADJECTIVES:
        if not named and after is not None and after.kind in "CHTU":
            mark.kind = "x"
    elif mark.kind == "R" and mark.words in _RENEWED and (after is None or after.kind in "JD"):
        mark.kind, mark.key, mark.form = "A", _RENEWED[mark.words], "past"
    elif mark.words == "filter" and (before is None or before.kind not in "CMU") and _of_fuel(words):
        mark.kind, mark.key, mark.words = "C", "fuel_filter", "fuel filter"


def _of_fuel(words: set[str]) -> bool:
    return bool(words & _WATER_WORDS) and "oil" not in words


def _sentence(marks: list[Mark], at: int) -> list[Mark]:
    start = next((index for index in range(at, 0, -1) if marks[index].gap >= Gap.SEMICOLON), 0)
    return marks[start : at + 3]


def _settle_distance(mark: Mark, around: list[Mark]) -> None:
    """ "took it out for 12 miles"."""
    if _MOVES & {word for one in around for word in one.words.split(" ")} and not any(
        one.key == "road_test" for one in around
    ):
        mark.kind, mark.key, mark.form, mark.target = "A", "road_test", "past", "vehicle"


def _settle_clr(mark: Mark, before: Mark | None, after: Mark | None, named: bool) -> None:
    """The cooler where the line names it, where something is wrong with it, or after "egr"; else "clear"."""
    codes = after is not None and (after.kind == "Z" or after.key == "vehicle")
    wrong = after is not None and after.kind in "KOA" and after.words.split()[0] in _COOLER_WORDS
    beside = before is not None and before.kind == "C" and before.key.startswith("egr")
    if not codes and (wrong or beside or named):
        mark.kind, mark.key, mark.form, mark.target = "C", "egr_cooler", "", ""
    else:
        mark.kind, mark.key, mark.form, mark.target = "A", "clear_codes", "base", "vehicle"


def _settle_part(mark: Mark, around: list[Mark], before: Mark | None, after: Mark | None, words: set[str]) -> None:
    word = mark.words
    if word.endswith(_LEAK_BACK) and after is not None and (after.kind == "O" or after.words == "all"):
        mark.kind, mark.key, mark.form, mark.target = "A", "inspect", "base", "injector"  # "leak back all ok"
    elif (
        word == "code"
        and after is not None
        and after.kind in "CH"
        and not (before is not None and before.kind in "AOG")
    ):
        mark.kind, mark.key, mark.form = "A", "relearn", "base"  # "code sensor to ecu"
    elif word in ("ic", "i c") and words & _DASH_WORDS:
        mark.key = "instrument_cluster"
    elif word == "pcv" and words & _FUEL_WORDS:
        mark.key = "fuel_pressure_regulator"
    elif word == "pcv valve" and words & _OIL_WORDS and not words & _FUEL_WORDS:
        mark.key = "crankcase_breather"
    elif word in ("ground", "earth", "gnd"):  # "5v and ground at the plug" is a circuit measured
        if any(one.kind == "E" or one.words.endswith("v") for one in around):
            mark.kind = "x"
    elif word == "head" and (after is None or after.kind != "A"):
        mark.kind = "x"
    elif word == "charging" and "battery" in words and after is not None and after.words == "up":
        mark.kind, mark.key = "A", "charge"


def _settle_verb(mark: Mark, before: Mark | None, after: Mark | None, words: set[str]) -> None:
    word = mark.words
    if word == "wiped" and before is not None and before.kind == "Z":
        mark.key, mark.target = "clear_codes", "vehicle"
    elif word == "replacement" and after is not None and after.kind in "CHT":
        if before is None or before.kind != "C":
            mark.kind = "R"
    elif word in ("chgd", "chg") and words & {"battery", "batt", "bat"} and words & {"night", "overnight", "hrs"}:
        mark.key, mark.target = "charge", "battery"
    elif mark.key == "charge" and (not words & _BATTERY_WORDS or (after is not None and after.words in _PAYERS)):
        mark.kind = "x"


def _settle_state(mark: Mark, before: Mark | None, after: Mark | None) -> None:
    """What only tells of a state: "light flash", "cleared itself", "oil soaked"; "soaked overnight" is work."""
    lamp = mark.key == "software" and before is not None and before.words.split(" ")[-1] in _LAMPS
    itself = after is not None and after.words in ("itself", "themselves")
    soaked = mark.words == "soaked" and (after is None or after.words not in _SOAKED)
    turned = (
        mark.words.startswith("change") and after is not None and after.words in ("to", "from")
    )  # "code changes to"
    if lamp or itself or soaked or (turned and before is not None and before.key == "vehicle"):
        mark.kind, mark.key, mark.form, mark.target = "x", "", "", ""


def _settle_rebuilt(mark: Mark, rest: list[Mark]) -> None:
    """ "rebuilt turbo fitted": which one was fitted, not what was done to it."""
    named = bool(rest) and rest[0].kind == "C" and rest[0].gap == Gap.SOFT
    if mark.key == "repair" and mark.words in _REBUILT and named:
        fitted = (one for one in rest[1:] if one.kind == "A" and one.gap == Gap.SOFT)
        if any(one.key == "replace" for one in fitted):
            mark.kind, mark.key, mark.form = "R", "", ""
