"""What the planner changes in the table of a plan, kept for this session: pins and tasks left out."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from fleetlens.advice.planning.wishes import EXCLUDE, PIN, Wish

__all__ = ["changed", "forget", "held"]

_HELD = "plan_wishes"
_Key = tuple[str, str, str]


def held() -> tuple[Wish, ...]:
    """The wishes so far, in the order of their vehicles."""
    kept: dict[_Key, Wish] = st.session_state.setdefault(_HELD, {})
    return tuple(kept[key] for key in sorted(kept))


def forget() -> None:
    """Drop all wishes."""
    st.session_state[_HELD] = {}


def changed(rows: pl.DataFrame, edits: Mapping[int, Mapping[str, Any]]) -> None:
    """Take over what was changed in the rows of a plan: `week_from`, `pin` and `leave_out` by row number.

    A task whose week is changed is pinned to it; taking the pin away lets it move again.
    """
    kept: dict[_Key, Wish] = st.session_state.setdefault(_HELD, {})
    for number, edit in edits.items():
        row = rows.row(number, named=True)
        key = (row["vehicle_id"], row["component"], row["position"])
        week = _day(edit.get("week_from", row["week_from"]))
        if edit.get("leave_out"):
            kept[key] = Wish(EXCLUDE, *key)
        elif edit.get("pin", "week_from" in edit or row["wish"] == PIN):
            kept[key] = Wish(PIN, *key, monday=week)
        else:
            kept.pop(key, None)


def _day(value: date | str) -> date:
    return value if isinstance(value, date) else date.fromisoformat(value[:10])
