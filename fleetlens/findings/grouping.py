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


def named(row: dict[str, object], keys: list[str]) -> str:
    """The group of a row in words: egr_valve, multi-drop, model not recorded."""
    return ", ".join(str(row[key]) if row[key] not in (None, "") else f"{key} not recorded" for key in keys)
