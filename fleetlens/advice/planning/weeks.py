"""The weeks of a plan: their open days, and the hours and vehicles they have room for."""

from dataclasses import dataclass
from datetime import date, timedelta

from fleetlens.errors import FleetlensError
from fleetlens.store.preferences import WEEKDAYS, Workshop

__all__ = ["Week", "weeks"]

_MOST = 52


@dataclass(frozen=True, slots=True)
class Week:
    """A week by its Monday, with the days of it on which planned work is done."""

    monday: date
    open_days: tuple[date, ...]
    hours: float
    visits: int

    @property
    def last_day(self) -> date:
        """Its Sunday."""
        return self.monday + timedelta(days=6)


def weeks(first: date, count: int, workshop: Workshop) -> tuple[Week, ...]:
    """The `count` weeks from the one that holds `first`, of which only the days from `first` on are open.

    Raises FleetlensError for a count outside 1 to 52.
    """
    if not 1 <= count <= _MOST:
        raise FleetlensError(f"a plan of {count} weeks can't be", do=f"plan 1 to {_MOST} weeks")
    monday = first - timedelta(days=first.weekday())
    return tuple(_week(monday + timedelta(weeks=number), first, workshop) for number in range(count))


def _week(monday: date, first: date, workshop: Workshop) -> Week:
    days = (monday + timedelta(days=number) for number in range(7))
    open_days = tuple(
        day
        for day in days
        if day >= first and WEEKDAYS[day.weekday()] not in workshop.closed_weekdays and day not in workshop.closed_days
    )
    return Week(monday, open_days, workshop.hours_a_day * len(open_days), workshop.bays * len(open_days))
