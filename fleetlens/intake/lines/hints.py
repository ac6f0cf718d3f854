"""What a clause tells by its form: work for a purpose, of another year, by somebody else, as found, or to come."""

from collections.abc import Iterable

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.speech import by_others
from fleetlens.intake.lines.tokens import Gap

__all__ = ["blame", "fitted_back", "hint", "sent_away"]

_WHEN = {"before", "prior to", "during"}
_AFTER = {"after", "following"}
_AT_LARGE = {"repair", "repairing", "inspect", "test", "fitting"}  # "ok after repairs" speaks of all the work
_MONTHS = {
    *("jan", "feb", "mar", "apr", "jun", "jul", "aug", "sep", "sept", "oct", "nov", "dec", "january", "february"),
    *("march", "april", "june", "july", "august", "september", "october", "november", "december"),
}
_YES = {"yes", "y", "yep", "yeah", "agreed"}
_OFF = {
    "removed",
    "remove",
    "rem",
    "stripped",
    "strip",
    "dismantled",
    "sent",
    "took",
    "taken",
    "extracted",
    "off",
    "out",
}
_COMES = {"arrive", "arrives", "arrived", "available", "stock", "time", "in", "back", "next", "ready", "part", "parts"}
_AWAY = {"removed", "remove", "sent away", "sent out", "sent off", "sent to", "sent for", "sent", "away", "off", "out"}
_WORK_TO = {"labour", "labor", "time", "work", "managed", "able", "had", "hours", "hrs", "hour"}


def hint(clause: Clause, before: Clause | None) -> None:
    """Write into the marks of a clause, and of the one before, why what they name wasn't done, or that it was."""
    _purpose(clause)
    _found_so(clause)
    _dated(clause)
    by_others(clause)
    _found_clean(clause, before)
    _last_done(clause)
    _when_it_comes(clause)
    if before is not None and before.asked and clause.marks[0].words in _YES:
        for mark in before.having("A"):
            mark.why = "" if mark.why == "asked" else mark.why
    loose = sum(one.kind == "x" for one in clause.marks)
    if before is not None and loose <= 1 and all(one.kind in "Dfnix" for one in clause.marks):
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
    done = purpose = after = when = False
    for mark in clause.marks:
        if mark.kind == "P" and mark.words in _AFTER:
            after = True
            _object_of_noun(clause, mark)
        if mark.kind == "P" and mark.words == "for":
            purpose = done or any(one.words == "too" for one in clause.marks)
        elif mark.kind == "P" and mark.words in _WHEN:
            purpose = when = True
        elif mark.kind == "P":
            purpose = False
        elif mark.kind == "A":
            large = after and (mark.words in _AT_LARGE or mark.key in ("inspect", "repair"))
            early = purpose and when
            road = mark.key == "road_test" and not early
            if (large or purpose) and not road and (mark.form == "base" or mark.key == "regenerate"):
                mark.why = mark.why or "asked"
            done = True


def _object_of_noun(clause: Clause, when: Mark) -> None:
    """ "learnt after battery change": what was changed, not where."""
    after = clause.marks[clause.marks.index(when) + 1 :]
    part, verb = after[0] if after else None, after[1] if len(after) > 1 else None
    if part is None or verb is None or part.kind != "C" or verb.kind != "A":
        return
    if verb.form == "base" and verb.gap == Gap.SOFT and not verb.target:
        verb.target = part.key


def _dated(clause: Clause) -> None:
    """Work with a bare year or a month after it is of that time."""
    for at, mark in enumerate(clause.marks):
        if mark.words in _MONTHS and at and clause.marks[at - 1].words in ("in", "since", "last", "during"):
            verb = next((one for one in reversed(clause.marks[:at]) if one.kind == "A"), None)
            if verb is not None and verb.form == "past":
                verb.why = verb.why or "last time"
        if mark.kind == "n" and len(mark.words) == 4 and mark.words[:2] in ("19", "20") and mark.words.isdigit():
            verb = next((one for one in reversed(clause.marks[:at]) if one.kind not in "Pfx"), None)
            if verb is not None and verb.kind == "A" and verb.form == "past":
                verb.why = verb.why or "last time"


def _found_clean(clause: Clause, before: Clause | None) -> None:
    """ "air filter checked, clean": a verdict."""
    content = [one for one in clause.marks if one.kind not in "fi"]
    if len(content) == 1 and content[0].words == "clean" and content[0].kind == "A" and before is not None:
        checks = before.having("AN")
        if checks and clause.gap in (Gap.COMMA, Gap.DASH) and all(one.key == "inspect" for one in checks):
            content[0].kind, content[0].key, content[0].form = "O", "", ""


def _last_done(clause: Clause) -> None:
    """ "last cleaned in spring", "since last egr clean"."""
    for at, mark in enumerate(clause.marks):
        if mark.words == "last" and mark.kind in "xf":
            after = clause.marks[at + 1 : at + 3]
            verb = next((one for one in after if one.kind == "A"), None)
            if verb is not None and (verb is after[0] or verb.form == "base"):
                verb.why = verb.why or "last time"


def _when_it_comes(clause: Clause) -> None:
    """ "fit turbo when it arrives"."""
    for at, mark in enumerate(clause.marks):
        if mark.words in ("when", "once") and _COMES & {one.words for one in clause.marks[at + 1 : at + 4]}:
            blame((one for one in clause.marks[:at] if one.kind == "A" and one.form == "base"), "deferred")


def sent_away(found: list[Clause]) -> None:
    """ "ecu away for repair", of which nothing says that it came back, isn't repaired yet."""
    marks = [mark for clause in found for mark in clause.marks]
    for at, mark in enumerate(marks):
        if mark.words != "for" and not mark.words.endswith(" for"):
            continue
        near = marks[max(0, at - 2) : at + 1]
        away = any(one.words in _AWAY or one.words.startswith("sent ") for one in near)
        verb = next((one for one in marks[at + 1 : at + 3] if one.kind == "A"), None)
        if away and verb is not None and verb.form != "past":
            rest = marks[marks.index(verb) + 1 :]
            came = (
                one.kind in "AND" or one.words in ("back", "returned", "fitted")
                for before, one in zip([verb, *rest], rest, strict=False)
                if before.kind != "G"
            )
            if not any(came):
                verb.why = verb.why or "deferred"


def fitted_back(found: list[Clause]) -> None:
    """ "removed, cleaned and fitted": fitted alone, of a part that was off and worked on, is fitted back."""
    off = worked = False
    for clause in found:
        for mark in clause.marks:
            if mark.kind == "P" and mark.words in _OFF:
                off = True
            elif mark.kind == "N":
                off = off or mark.words.split(" ")[0] in _OFF
                worked = worked and not mark.words.startswith("suppl")
            elif mark.kind == "A" and mark.words in ("fitted", "fit"):
                if off and worked and not any(one.kind in "CUTR" and not one.place for one in clause.marks):
                    mark.kind, mark.key = "N", ""
            elif mark.kind == "A" and mark.key in ("clean", "repair", "inspect"):
                worked = True
            elif mark.kind in "KTR" or (mark.kind == "A" and mark.key == "replace"):
                worked = False
            if mark.kind == "C" and mark.new:
                worked = False


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
            if mark.why in ("advised", "quoted", "deferred", "last time", "asked"):
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
