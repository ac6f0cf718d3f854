"""What people have decided about a plan: tasks pinned to a week, dates agreed already, vehicles or parts left out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from fleetlens.errors import FleetlensError

__all__ = ["AGREED", "EXCLUDE", "PIN", "Wish", "matching", "parse", "wishes_of"]

PIN, AGREED, EXCLUDE = "pin", "agreed", "exclude"
_KINDS = (PIN, AGREED, EXCLUDE)


@dataclass(frozen=True, slots=True)
class Wish:
    """What is wished of some tasks: `pin` holds whatever it costs, `agreed` gives way where moving it saves more than
    it costs, `exclude` leaves them out.

    Without a component it means every task of the vehicle, without a position every such part. `monday` names the week
    (null for `exclude`).
    """

    kind: str
    vehicle_id: str
    component: str | None = None
    position: str | None = None
    monday: date | None = None

    def __str__(self) -> str:
        return ":".join(part for part in (self.vehicle_id, self.component, self.position) if part)


def parse(kind: str, text: str) -> Wish:
    """A wish written as VEHICLE, VEHICLE:COMPONENT or VEHICLE:COMPONENT:POSITION, with =DATE unless it excludes.

    Any day of the week names it. Raises FleetlensError with the form that is wanted.
    """
    what, _, day = text.partition("=")
    names = [name.strip() for name in what.split(":")]
    form = "V000012:egr_valve" if kind == EXCLUDE else "V000012:egr_valve=2026-12-07"
    if not names[0] or len(names) > 3 or (kind == EXCLUDE) == bool(day.strip()):
        raise FleetlensError(f"{text!r} can't be read as what to {kind}", do=f"write for example {form}")
    vehicle_id, component, position = (*names, "", "")[:3]
    return Wish(kind, vehicle_id, component or None, position or None, _monday(day, text) if day else None)


def wishes_of(rows: pl.DataFrame, where: str, kind: str | None = None) -> tuple[Wish, ...]:
    """The wishes in a table with vehicle_id and, as known, component, position, week_from and wish.

    A plan that was exported is such a table: with `kind` "agreed" each of its rows is. Rows without a week wish
    nothing, unless they exclude. Raises FleetlensError with `where`, the row and the column for what can't be.
    """
    if "vehicle_id" not in rows.columns:
        raise FleetlensError("there is no column 'vehicle_id'", where=where, do="give the columns of an exported plan")
    found = []
    for number, row in enumerate(rows.iter_rows(named=True), 2):
        at = f"{where}, row {number}"
        word = str(row.get("wish") or kind or PIN).strip().lower()
        if word not in _KINDS:
            raise FleetlensError(
                f"a wish can't be {word!r}", where=f"{at}, column wish", do=f"one of: {', '.join(_KINDS)}"
            )
        day = row.get("week_from")
        if not row["vehicle_id"] or (word != EXCLUDE and day in (None, "")):
            continue
        monday = None if word == EXCLUDE else _monday(day, f"{at}, column week_from")
        component, position = (str(row.get(name) or "").strip() or None for name in ("component", "position"))
        found.append(Wish(word, str(row["vehicle_id"]).strip(), component, position, monday))
    return tuple(found)


def _monday(day: object, where: str) -> date:
    try:
        found = day if isinstance(day, date) else date.fromisoformat(str(day).strip()[:10])
    except ValueError:
        raise FleetlensError(f"{day!r} is no date", where=where, do="write it as 2026-12-07") from None
    return found - timedelta(days=found.weekday())


def matching(wish: Wish, tasks: pl.DataFrame) -> Sequence[int]:
    """The rows of `tasks` (vehicle_id, component, position) that the wish is about."""
    about = pl.col("vehicle_id") == wish.vehicle_id
    if wish.component is not None:
        about &= pl.col("component") == wish.component
    if wish.position is not None:
        about &= pl.col("position") == wish.position
    return tasks.with_row_index("row").filter(about)["row"].to_list()
