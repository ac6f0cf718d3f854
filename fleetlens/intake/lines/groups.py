"""The marks of a clause in groups: parts that stand together, verbs that stand together."""

from dataclasses import dataclass

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["Group", "groups_of"]


@dataclass(slots=True)
class Group:
    """Parts or verbs that stand together in a clause."""

    verbs: bool
    marks: list[Mark]
    joined: bool = False
    along: bool = False
    taken: bool = False
    condition: bool = False
    whole: bool = False


def _of_last_part(clause: Clause, mark: Mark) -> bool:
    """Whether a clause begins with "housing and ...", "unit & ...": of the part named last."""
    before = [one for one in clause.marks[: clause.marks.index(mark)] if one.kind not in "fnJ"]
    return bool(before) and all(one.kind in "iT" for one in before)


def groups_of(clause: Clause) -> list[Group]:
    groups: list[Group] = []
    joint = along = False
    for mark in clause.marks:
        if mark.kind in "CU" and not mark.place:
            joined = joint or mark.gap == Gap.AND
            if groups and not groups[-1].verbs:
                groups[-1].marks.append(mark)
            else:
                groups.append(Group(False, [mark], joined, along, whole=joined and _of_last_part(clause, mark)))
            joint = along = False
        elif mark.kind in "ANO":
            if groups and groups[-1].verbs:
                groups[-1].marks.append(mark)
            else:
                groups.append(Group(True, [mark]))
            joint = along = False
        elif mark.kind in "JW":
            joint = True
            along = along or mark.kind == "W"
        elif mark.kind == "R" and mark.gap == Gap.AND:  # "cleaned + new gasket"
            joint = True
        elif mark.kind == "K" and groups and not groups[-1].verbs:
            groups[-1].condition = True
        elif mark.kind in "xX" and groups and not groups[-1].verbs:
            groups[-1].condition = groups[-1].condition or mark.kind == "X"
    return groups
