"""The record in use: the store's live snapshot, and answers remembered until the next load."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import streamlit as st

from fleetlens.store.reader import Snapshot, current, open_store

T = TypeVar("T")
IN_USE = "snapshot_in_use"


def place() -> Path:
    """The folder of the store: what FLEETLENS_STORE names, else fleet-store in the folder of the server."""
    return Path(os.environ.get("FLEETLENS_STORE") or "fleet-store")


def open_live() -> Snapshot:
    """The live snapshot, opened once for all who look at it; the whole run of a page is about this one.

    Raises FleetlensError where there is no store or nothing in it.
    """
    st.session_state.pop(IN_USE, None)
    store = str(place())
    name = current(place())
    snapshot = _opened(store, name)
    if snapshot.name != name:  # a load went live in between; its name is its own key
        _opened.clear(store, name)
        snapshot = _opened(store, snapshot.name)
    st.session_state[IN_USE] = snapshot
    return snapshot


def answer(question: Callable[..., T], *given: Any, **choices: Any) -> T:
    """What `question` says of the snapshot of this run with these choices, remembered for each snapshot.

    Raises FleetlensError as open_live and the question do.
    """
    snapshot = st.session_state.get(IN_USE) or open_live()
    name = f"{question.__module__}.{question.__qualname__}"
    found: T = _answer(str(snapshot.path), name, given, choices, _question=question, _snapshot=snapshot)
    return found


# The connection isn't closed by hand: an older snapshot may still be answering someone, and goes with its last user.
@st.cache_resource(max_entries=2, show_spinner=False)
def _opened(store: str, name: str | None) -> Snapshot:  # noqa: ARG001 - the name is part of the key
    return open_store(Path(store))


@st.cache_data(max_entries=64, max_size="500MB", show_spinner="Counting…")
def _answer(
    snapshot: str,  # noqa: ARG001 - the first two are part of the key
    question: str,  # noqa: ARG001
    given: tuple[Any, ...],
    choices: dict[str, Any],
    *,
    _question: Callable[..., Any],
    _snapshot: Snapshot,
) -> Any:
    return _question(_snapshot, *given, **choices)
