"""Why a task stands in the plan, in a sentence."""

from datetime import timedelta
from typing import Any

from fleetlens.store.preferences import Preferences

__all__ = ["reason"]


def reason(row: dict[str, Any], wanted: Preferences) -> str:
    """The sentence for one planned task; `row` has what Plan.tasks holds, and `visits`, the vehicle's tasks in it."""
    said = [_age(row), _chance(row)]
    if row["wish"]:
        said.append("pinned to this week")
    elif row["saving"] > 0:
        said.append(f"expected to save {row['saving']:,.0f}{_currency(wanted)}")
    service = row["next_service_on"]
    if service and service < row["week_from"] + timedelta(days=7):
        said.append(f"rides on the service due {'since' if service < row['week_from'] else 'on'} {service}")
    if row["visits"] > 1:
        said.append(f"one visit for {row['visits']} tasks")
    if row["advised_on"]:
        said.append(f"advised on {row['advised_on']} already")
    return "; ".join(said) + "."


def _age(row: dict[str, Any]) -> str:
    what = "Replace" if row["action"] == "replace" else "Clean"
    if row["overdue"]:
        return f"{what}: {row['age_km']:,.0f} km old and overdue, as its policy says {row['due_age']:,.0f} km"
    spread = f" ({row['due_low']} to {row['due_high']})" if row["due_low"] and row["due_high"] else ""
    return f"{what}: {row['age_km']:,.0f} km old, due at {row['due_age']:,.0f} km, about {row['due_on']}{spread}"


def _chance(row: dict[str, Any]) -> str:
    chance, service = row["chance_before_service"], row["next_service_on"]
    if chance is None:
        return f"its service has been due since {service}" if service else "when it is next serviced isn't known"
    share = f"{chance:.0%}" if chance >= 0.01 else "below 1 %"
    return f"chance of failing before the service of {service}: {share}"


def _currency(wanted: Preferences) -> str:
    return f" {wanted.money.currency}" if wanted.money.currency else ""
