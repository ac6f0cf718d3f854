"""Actions: what was done to a component, and which questions each action counts for."""

from dataclasses import dataclass
from functools import cache
from typing import Literal, cast

from fleetlens.vocabulary import lists

__all__ = [
    "BEGAN_AS",
    "DISABLING",
    "FAULT_REASONS",
    "LIFE_STARTING",
    "REPAIRING",
    "Action",
    "LifeEffect",
    "actions",
    "done_actions",
]

LifeEffect = Literal["none", "partial", "renew"]

# The rules of classification. A fault job is one opened for one of these reasons.
FAULT_REASONS = ("breakdown", "defect", "warranty")
# An action that mends something.
REPAIRING = ("clean", "replace", "repair", "adjust", "software")
# An action that starts a new life of the component, the strongest renewal first; and what that life began as.
LIFE_STARTING = ("replace", "repair", "clean")
BEGAN_AS = {"replace": "replaced", "repair": "repaired", "clean": "cleaned"}
# Removing or mapping out a component: its life is censored, the vehicle flagged; never a repair.
DISABLING = ("disable",)


@dataclass(frozen=True, slots=True)
class Action:
    """An action of our list.

    `verbs` are the ways a job line writes it; `counts_as_done` is False for work advised, quoted, declined, undone or
    unstated.
    """

    name: str
    verbs: tuple[str, ...]
    life_effect: LifeEffect
    counts_as_done: bool
    note: str


@cache
def actions() -> dict[str, Action]:
    """The actions of our list by name."""
    return {
        row["action"]: Action(
            name=row["action"],
            verbs=tuple(filter(None, row["verbs"].split("|"))),
            life_effect=cast(LifeEffect, row["life_effect"]),
            counts_as_done=row["counts_as_done"] == "yes",
            note=row["note"],
        )
        for row in lists.rows("actions")
    }


def done_actions() -> tuple[str, ...]:
    """Names of the actions that say something was done."""
    return tuple(action.name for action in actions().values() if action.counts_as_done)
