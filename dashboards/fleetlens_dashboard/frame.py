"""The frame around every page: which record it shows, whether a newer one is there, and the filters."""

import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens.findings.evidence import period
from fleetlens.store.reader import current
from fleetlens_dashboard import choices, show
from fleetlens_dashboard.record import answer, open_live, place

LOOK_EVERY_S = 10


def draw() -> None:
    """The sidebar: store, snapshot, period and filters; over the page what a narrow screen must show too."""
    with st.sidebar:
        try:
            snapshot = open_live()
            st.text(f"Store: {place().resolve().name}\nSnapshot: {snapshot.name}\nRecord: {answer(period)}")
            st.markdown("**Vehicles counted**")
            in_vain = choices.filter_widgets()
        except FleetlensError:
            st.text(f"Store: {place()}\nno record yet")  # the page says what is wrong and what to do
            return
    _tell_new(snapshot.name)
    _watch(snapshot.name)
    for sentence in in_vain:
        show.in_vain(sentence)


def _tell_new(name: str) -> None:
    """Say once that a run shows newer data than the one before."""
    seen = st.session_state.get("snapshot_seen")
    if seen not in (None, name):
        told = "New data loaded" if _newer(name, seen) else "Back to earlier data"
        st.success(f"{told}: {name}", icon=":material/refresh:")
    st.session_state["snapshot_seen"] = name


@st.fragment(run_every=LOOK_EVERY_S)
def _watch(shown: str) -> None:
    """Look for a newer snapshot now and then. Figures don't change under a reader's eyes: he asks for them."""
    try:
        newest = current(place())
    except FleetlensError as error:
        show.problem(error)
        return
    if newest not in (None, shown):
        what = "newer" if _newer(newest, shown) else "earlier"  # earlier: a load was undone
        st.info(f"{what.capitalize()} data is here: {newest}", icon=":material/update:")
        if st.button(f"Show the {what} data"):
            st.rerun()


def _newer(name: str, other: str) -> bool:
    """Whether the snapshot `name` was made after the other; their numbers may have more digits one day."""
    return (len(name), name) > (len(other), other)
