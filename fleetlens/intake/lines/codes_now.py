"""Which codes of a line were read on this visit, and which are absent, only told of, or of another visit."""

from collections.abc import Sequence

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.found import Found
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["read_now"]

_IS_ABSENT = (
    *("not present", "not stored", "not logged", "not there", "not found", "no longer present", "no longer stored"),
    *("absent", "none", "none present", "none stored", "no longer there"),
    *("no longer logged", "not recorded", "not showing", "no longer showing", "not seen", "not set"),
    *("isnt present", "is not present", "wasnt present", "was not present", "wasnt there"),
    *("isnt there", "not in memory", "not evident", "no longer", "not in ecu", "not confirmed"),
)
_DID_NOT_RETURN = (
    *("not returned", "not come back", "has not returned", "did not return", "didnt return", "hasnt returned"),
    *(
        "gone",
        "has gone",
        "have gone",
        "did not come back",
        "didnt come back",
        "hasnt come back",
        "has not come back",
        "never came back",
        "not reappeared",
        "did not reappear",
        "not back",
    ),
)
# "his own reader shows P0420": what the driver's tool said is hearsay.
_THEIRS, _TOOLS = {"his", "her", "their", "own", "customer", "driver", "mate"}, {"app", "reader", "phone"}


def read_now(codes: Sequence[Found], parted: list[Clause]) -> tuple[Found, ...]:
    """The codes that were read on this visit, each once."""
    left_out: list[tuple[int, int]] = []
    worked = told = False
    for number, clause in enumerate(parted):
        told = told and clause.gap in (Gap.COLON, Gap.COMMA, Gap.DASH)
        for at, mark in enumerate(clause.marks):
            worked = worked or (mark.kind == "A" and not mark.why)
            after = parted[number + 1] if number + 1 < len(parted) else None
            if mark.kind == "Z" and (told or _absent(clause, at, after, worked=worked)):
                left_out.append((mark.start, mark.end))
        told = told or _only_complaint(clause, parted[number + 1 : number + 2])
    kept: dict[str, Found] = {}
    for code in codes:
        if not any(start <= code.start < end for start, end in left_out):
            kept.setdefault(code.code, code)
    return tuple(kept.values())


def _only_complaint(clause: Clause, after: list[Clause]) -> bool:
    """ "customer states: P0401 keeps coming"."""
    said = any(mark.kind == "G" and mark.key == "claim" for mark in clause.marks)
    return said and all(mark.kind in "Gfx" for mark in clause.marks) and bool(after) and after[0].gap == Gap.COLON


def _absent(clause: Clause, at: int, after: Clause | None, *, worked: bool) -> bool:
    """Whether a code is only said to be absent, was looked for, told by somebody, or belongs to another visit."""
    left, right = clause.marks[:at], clause.marks[at + 1 :]
    following = [mark for mark in right if mark.kind not in "Jn" or mark.words == "none"][:5]
    if not right and after is not None and after.gap in (Gap.COMMA, Gap.DASH, Gap.COLON, Gap.PAREN):
        following = after.marks[:4] if not any(mark.kind == "Z" for mark in after.marks) else []
    words = " ".join(mark.words for mark in following if mark.words not in ("is", "now", "was"))
    if words.startswith(_IS_ABSENT) or (not worked and words.startswith(_DID_NOT_RETURN)):
        return True
    beside = {word for mark in clause.marks for word in mark.words.split(" ")}
    if any(mark.kind == "G" and mark.key in ("claim", "if") for mark in left) or (beside & _THEIRS and beside & _TOOLS):
        return True
    return _looked_for(left) or _denied(left) or _of_another_visit(left, right)


def _looked_for(left: list[Mark]) -> bool:
    """ "checked for P0401"."""
    before = [mark for mark in left if mark.kind not in "fn"]
    return len(before) > 1 and before[-1].words == "for" and before[-2].key in ("inspect", "diagnose")


def _denied(left: list[Mark]) -> bool:
    """ "no P0401 or P0404"."""
    for mark in reversed(left):
        if mark.kind == "G" and mark.key == "negated" and mark.words in ("no", "not", "without", "zero"):
            return True
        if mark.kind not in "ZJfnx" and mark.key != "vehicle":
            return False
    return False


def _of_another_visit(left: list[Mark], right: list[Mark]) -> bool:
    """ "P0401 last visit", unless a verb stands between: "P0101 maf cleaned last visit"."""
    for marks in (right, left[::-1]):
        nearest = next((mark for mark in marks if mark.kind in "ANO" or mark.key == "history"), None)
        if nearest is not None and nearest.kind == "G":
            return marks is right or nearest.words != "already"
    return False
