"""A governing word in its place, and what it finds when it looks back."""

from dataclasses import dataclass

from fleetlens.intake.lines.clauses import Clause
from fleetlens.intake.lines.hints import blame
from fleetlens.intake.lines.mark import Mark
from fleetlens.intake.lines.tokens import Gap

__all__ = ["LIST_KINDS", "Word", "look_back"]

LIST_KINDS = "CfnJiW"


@dataclass(frozen=True, slots=True)
class Word:
    """A governing word in its place: clause number `at`, and the marks to its left and right in that clause."""

    found: list[Clause]
    at: int
    mark: Mark
    left: list[Mark]
    right: list[Mark]

    @property
    def clause(self) -> Clause:
        return self.found[self.at]

    @property
    def before(self) -> Clause | None:
        return self.found[self.at - 1] if self.at else None

    @property
    def following(self) -> list[Clause]:
        return self.found[self.at + 1 :]


def look_back(word: Word, why: str) -> None:
    """The clause before, and where that only goes on with a list, what the list began with."""
    for clause in reversed(word.found[: word.at]):
        verbs = clause.having("A")
        blame((one for one in verbs if one.form != "past"), why)
        if verbs:
            return
        blame(clause.having("C"), why)
        if clause.gap != Gap.COMMA or not all(one.kind in LIST_KINDS for one in clause.marks):
            return
