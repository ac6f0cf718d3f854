"""Who spoke and who worked: what customers and drivers said, and what others did."""

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["by_others", "settle_speech"]

_PEOPLE = {
    *("customer", "driver", "owner", "operator", "client", "manager", "office", "controller", "they", "he", "she"),
    *("someone", "somebody", "user", "hirer", "keeper", "seller", "drv", "drvr", "hire"),
}
_FIRMS = {
    *("dealer", "dealership", "garage", "agent", "mechanic", "workshop", "seller", "vendor", "depot", "roadside"),
    *("party", "breakdown", "recovery", "installer", "mate", "friend", "neighbour", "previous owner"),
}
_SAYS = {
    *("says", "said", "saying", "states", "stated", "stating", "reports", "reported", "reporting", "complains"),
    *("complained", "complaining", "claims", "claimed", "claiming", "thinks", "thought", "reckons", "reckoned"),
    *("believes", "believed", "suspects", "suspected", "mentioned", "mentions", "notes", "noticed", "noted", "told"),
    *("tells", "insists", "insisted", "feels", "felt", "swears", "swore", "complaint", "concern", "comments"),
    *("explained", "explains", "commented", "moans", "moaned", "adamant", "convinced", "certain"),
}
_BETWEEN = 3  # small words between who and what
_FAR = 4
_TOGETHER = {"us", "me"}  # "customer road tested with us"
_WANTS = {"wanted", "wants", "hoped", "hoping", "wished", "wishes", "expects", "expected"}
_TELLS = {"told", "asked", "tell", "ask", "informed", "instructed", "warned", "requested"}
_BEFORE = {"old", "original", "originals", "own"}
_BACK = {"back", "refitted", "refit", "reinstalled", "refitting", "put", "fitted", "gone", "went"}
_ASKED = _PEOPLE | _FIRMS | {"store", "supplier"}
_WITH = {"with", "w"}
_READER = {"reader", "app", "scanner", "phone", "dash"}


def settle_speech(marks: list[Mark]) -> None:
    """Make "driver is saying" one mark of a claim."""
    for at, mark in enumerate(marks):
        if mark.kind in "xf" and _who(mark) in _PEOPLE:
            for one in marks[at + 1 : at + 1 + _BETWEEN]:
                if one.gap != Gap.SOFT or one.kind not in "xf":
                    break
                if one.words in _SAYS or one.words in _READER or one.words in _WANTS:
                    mark.kind, mark.key = "G", "request" if one.words in _WANTS else "claim"
                    one.kind = "f"
                    break
            if at and marks[at - 1].words in _TELLS and _goes_on(marks, at):
                marks[at - 1].kind, marks[at - 1].key = "G", "advise"
        elif mark.kind in "xf" and mark.words in _BEFORE:
            _put_back(marks, at)
        elif mark.kind == "A" and mark.form == "base" and _with_whom(marks, at):
            mark.kind, mark.key = "x", ""  # "check with dealer"


def _with_whom(marks: list[Mark], at: int) -> bool:
    beside = {one.words for one in marks[at + 1 : at + 2]}
    return bool(_WITH & beside) and any(_who(one) in _ASKED for one in marks[at + 2 : at + 5])


def _goes_on(marks: list[Mark], at: int) -> bool:
    """Whether "told driver" says what: "told driver to do a regen"."""
    after = marks[at + 1 : at + 2]
    return bool(after) and after[0].gap == Gap.SOFT and (after[0].kind in "CAGf" or after[0].words in ("to", "that"))


def _put_back(marks: list[Mark], at: int) -> None:
    """ "old turbo back on", "original one refitted": what was fitted in its place was a trial."""
    for one in marks[at + 1 : at + 4]:
        if one.gap != Gap.SOFT:
            return
        if one.kind == "N" and one.words.split(" ")[0] in _BACK:
            marks[at].kind, marks[at].key = "G", "undo"
            return
        if one.kind not in "CTHUf":
            return


def by_others(clause: Clause) -> None:
    """ "customer fitted own sensor", "dealer has replaced it", "done by their mechanic", "customer to fit"."""
    if _TOGETHER & {mark.words for mark in clause.marks}:
        return
    for at, mark in enumerate(clause.marks):
        if mark.kind not in "xfG" or _who(mark) not in _PEOPLE | _FIRMS:
            continue
        before = [one.words for one in clause.marks[max(0, at - _BETWEEN) : at]]
        if "by" not in before:
            _blame(_work_of(clause, at))
        elif not any(one.words.startswith("request") for one in clause.marks[at + 1 : at + 2]):
            _blame([one for one in clause.marks[:at] if one.kind == "A"])


def _work_of(clause: Clause, at: int) -> list[Mark]:
    """The verbs that the one at `at` is the subject of: right after a customer, some words further after a garage."""
    firm = _who(clause.marks[at]) in _FIRMS
    did = False
    for step, one in enumerate(clause.marks[at + 1 : at + 2 + _FAR]):
        did = did or one.kind == "D"
        rest = clause.marks[at + 2 + step :]
        if one.kind == "A" and (one.form == "past" or did or one.words == "fit"):
            return [one, *_joined(rest)]
        if one.kind == "P" and one.words == "to":
            verb = next((other for other in rest if other.kind not in "fD"), None)
            return [verb] if verb is not None and verb.kind == "A" and verb.form == "base" else []
        passed = one.kind in ("fxCDPi" if firm else "f") or (one.kind == "G" and one.key == "history")
        if not passed:
            return []
    return []


def _who(mark: Mark) -> str:
    return mark.words.rsplit(" ", 1)[-1].removesuffix("s")


def _joined(rest: list[Mark]) -> list[Mark]:
    joined: list[Mark] = []
    linked = False
    for one in rest:
        if one.kind == "A" and linked:
            joined.append(one)
        elif one.kind not in "JfCnim":
            break
        linked = one.kind == "J"
    return joined


def _blame(verbs: list[Mark]) -> None:
    for verb in verbs:
        verb.why = verb.why or "others"
