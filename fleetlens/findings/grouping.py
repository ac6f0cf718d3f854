"""By what an answer is split: the keys a user may name."""

from collections.abc import Sequence

from fleetlens.errors import FleetlensError


def chosen(by: Sequence[str], allowed: tuple[str, ...]) -> list[str]:
    """The keys of `by`, each once, in the order given; "component" goes without saying.

    Raises FleetlensError for a key that isn't allowed.
    """
    for key in by:
        if key not in (*allowed, "component"):
            raise FleetlensError(f"can't split by {key!r}", do=f"one or more of: {', '.join(allowed)}")
    return [key for key in dict.fromkeys(by) if key != "component"]


def places(values: Sequence[object], key: str, names: Sequence[str], what: str) -> list[int]:
    """Where each of `names` stands among the groups' `values` of the key.

    Raises FleetlensError for one that no `what` (such as "life") has.
    """
    known = [None if value is None else str(value) for value in values]
    for name in names:
        if name not in known:
            told = ", ".join(sorted(value for value in known if value))
            raise FleetlensError(f"no {what} has {key} {name!r}", do=f"one of: {told}" if told else "another component")
    return [known.index(name) for name in names]


def named(row: dict[str, object], keys: list[str]) -> str:
    """The group of a row in words: egr_valve, multi-drop, model not recorded."""
    return ", ".join(str(row[key]) if row[key] not in (None, "") else f"{key} not recorded" for key in keys)
