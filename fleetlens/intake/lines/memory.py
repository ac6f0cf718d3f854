"""What the reading of a line keeps in mind from clause to clause, and the pairs that it makes."""

from dataclasses import dataclass, field

from fleetlens.intake.lines.mark import Mark

__all__ = ["FLUIDS", "Memory", "Pair"]

FLUIDS = {"coolant", "engine_oil", "reductant_fluid"}


@dataclass(frozen=True, slots=True)
class Pair:
    """A component and an action, the marks that gave them, and why it wasn't done ("" where it was)."""

    component: str
    action: str
    why: str
    verb: Mark
    part: Mark | None


@dataclass(slots=True)
class Memory:
    """What a verb without a part of its own may mean.

    `focus`: the parts named last. `waiting`: parts of a list that its verb follows. `ahead`: the parts of the verbs
    that come next. `named`: all parts so far. `verbs`: the verbs used last, and `prefix` whether they stood before
    their parts. `emptied`: whether something was drained or replaced, so that filling it is renewing. `ill`: whether
    the clause before said that something was wrong. `unsaid`: parts of a list that nothing has been said of yet.
    `fine`: the components of which the line has said that they are in order.
    """

    focus: list[Mark] = field(default_factory=list)
    waiting: list[Mark] = field(default_factory=list)
    ahead: list[Mark] = field(default_factory=list)
    named: list[Mark] = field(default_factory=list)
    verbs: list[Mark] = field(default_factory=list)
    prefix: bool = False
    emptied: bool = False
    ill: bool = False
    unsaid: list[Mark] = field(default_factory=list)
    fine: set[str] = field(default_factory=set)
