"""A line's marks parted into clauses: stretches with one thought, in which a verb finds its part."""

from dataclasses import dataclass, field

from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["Clause", "clauses"]

_HEADINGS = {"advise", "quote", "decline", "defer", "undone", "offer", "claim", "request", "credit"}
_SAYS_MORE = {"advise", "quote", "offer", "claim", "modal", "request", "if"}
_ITSELF = {"it", "them"}
_BETWEEN_NUMBERS = {"with", "over", "round", "between", "from", "sides", "across"}


@dataclass(slots=True)
class Clause:
    """Marks that belong together, what stands before them, and whether a question mark ends them."""

    marks: list[Mark]
    gap: Gap
    asked: bool = False
    turn: bool = False
    kinds: set[str] = field(default_factory=set)

    def having(self, kinds: str) -> list[Mark]:
        """The marks of any of these kinds."""
        return [mark for mark in self.marks if mark.kind in kinds]


def clauses(marks: list[Mark], asked: bool) -> list[Clause]:
    """The clauses of a line; `asked` tells whether a question mark ends it."""
    made: list[Clause] = []
    now: list[Mark] = []
    gap, turn = Gap.STOP, False
    for at, mark in enumerate(marks):
        heading = mark.gap == Gap.COLON and bool(now) and all(map(_heads, now))  # "cleaned: egr, throttle"
        cut = _cut(marks, at, now) if at and not heading else None
        if cut is not None:
            if now:
                made.append(Clause(now, gap, turn=turn))
                now = []
            if mark.gap == Gap.QUESTION and made:
                made[-1].asked = True
            gap = cut if made else gap
            turn = mark.kind == "B"
        if mark.kind != "B":
            now.append(mark)
        else:
            turn = True
    if now:
        made.append(Clause(now, gap, turn=turn))
    if made and asked:
        made[-1].asked = True
    for clause in made:
        _settle_swap(clause)
    return made


def _heads(mark: Mark) -> bool:
    return mark.kind in "AfniTD" or (mark.kind == "G" and mark.key in _HEADINGS)


def _cut(marks: list[Mark], at: int, now: list[Mark]) -> Gap | None:
    """What parts a new clause that starts here from the one before; None where none starts."""
    mark = marks[at]
    if mark.gap >= Gap.COMMA:
        return mark.gap
    if mark.kind == "B" or (now and (_advice_after_work(marks, at, now) or _begins_anew(marks, at, now))):
        return Gap.COMMA
    return None


def _advice_after_work(marks: list[Mark], at: int, now: list[Mark]) -> bool:
    mark = marks[at]
    if mark.kind != "G" or mark.key not in _SAYS_MORE or any(one.kind == "G" for one in now):
        return False
    done = any(one.kind == "A" and one.form == "past" for one in now)
    return done and any(one.kind in "AC" for one in _rest(marks, at))


def _begins_anew(marks: list[Mark], at: int, now: list[Mark]) -> bool:
    """Whether a joined verb with a part of its own starts here: "egr stuck and replaced hose"."""
    mark = marks[at]
    if (
        mark.kind not in "AN"
        or not (mark.gap == Gap.AND or now[-1].kind == "J")
        or not any(one.kind == "C" or _ITSELF & set(one.words.split(" ")) for one in now)
    ):
        return False
    for one in _rest(marks, at):
        if one.kind in "CU" and not one.place:
            return True
        if one.kind in "PG" or (one.kind in "AN" and not _near(marks, at, one)):
            return False
    return False


def _near(marks: list[Mark], at: int, other: Mark) -> bool:
    """Whether only joining words stand between: "cleaned and refitted egr"."""
    return all(one.kind in "JfiD" for one in marks[at + 1 : marks.index(other)])


def _rest(marks: list[Mark], at: int) -> list[Mark]:
    rest = []
    for one in marks[at + 1 :]:
        if one.gap >= Gap.COMMA or one.kind == "B":
            break
        rest.append(one)
    return rest


def _settle_swap(clause: Clause) -> None:
    """A part swapped for a new one is replaced; one swapped with another to prove a fault isn't."""
    for at, mark in enumerate(clause.marks):
        if mark.kind == "G" and mark.key == "swap":
            rest = clause.marks[at + 1 :]
            if any(one.kind == "R" or one.new for one in rest):
                mark.kind, mark.key, mark.form = "A", "replace", "past"
                continue
            about = any(one.kind == "W" or one.words in _BETWEEN_NUMBERS or one.key == "trial" for one in rest)
            numbers = sum(one.kind == "n" for one in rest) > 1
            both = about or numbers
            mark.kind, mark.key, mark.form = ("N", "", "") if both else ("A", "replace", "past")
