"""The words of an invented fleet office that writes English: what it calls reasons, parts and work."""

from fleetlens.vocabulary.components import label

__all__ = ["ACTIONS", "REASONS", "component"]

REASONS = {
    "breakdown": "Stopped on road",
    "defect": "Driver's report",
    "scheduled": "Due by distance",
    "inspection": "Half-year look",
    "campaign": "Model action",
    "warranty": "Maker pays",
}
ACTIONS = {
    "adjust": "Set",
    "advise": "Told, not done",
    "charge": "Charged up",
    "clean": "Cleaned out",
    "clear_codes": "Codes wiped",
    "diagnose": "Traced",
    "inspect": "Looked at",
    "no_fault_found": "Nothing wrong",
    "regenerate": "Burnt off",
    "relearn": "Taught again",
    "repair": "Mended",
    "replace": "New one in",
    "road_test": "Driven",
    "software": "Program renewed",
}


def component(key: str) -> str:
    """What the office calls a component: our label, and the van for the vehicle as a whole."""
    return "Whole van" if key == "vehicle" else label(key)
