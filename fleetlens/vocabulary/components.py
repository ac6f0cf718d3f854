"""Components: their names, labels and systems, from our list."""

from dataclasses import dataclass
from functools import cache

from fleetlens.vocabulary import lists

__all__ = ["Component", "carbon_prone", "components", "label", "system"]


@dataclass(frozen=True, slots=True)
class Component:
    """A component of our list; `carbon_prone` says whether soot or carbon builds up on it."""

    name: str
    label: str
    system: str
    carbon_prone: bool
    usual_actions: tuple[str, ...]
    synonyms: tuple[str, ...]


@cache
def components() -> dict[str, Component]:
    """The components of our list by name."""
    return {
        row["component"]: Component(
            name=row["component"],
            label=row["label"],
            system=row["system"],
            carbon_prone=row["carbon_prone"] == "yes",
            usual_actions=tuple(row["usual_actions"].split("|")),
            synonyms=tuple(row["synonyms"].split("|")),
        )
        for row in lists.rows("components")
    }


def label(component: str) -> str:
    """The name of `component` for people; its own spelling where it isn't in our list."""
    known = components().get(component)
    return known.label if known else component


def system(component: str) -> str | None:
    """The system that `component` belongs to; None where it isn't in our list."""
    known = components().get(component)
    return known.system if known else None


def carbon_prone(component: str) -> bool | None:
    """Whether soot or carbon builds up on `component`; None where it isn't in our list."""
    known = components().get(component)
    return known.carbon_prone if known else None
