"""The dashboard: the router, and the frame around its pages. Run by `fleetlens dashboard`."""

import streamlit as st
from fleetlens_dashboard import frame, show

from fleetlens.errors import FleetlensError

# An emoji is drawn by the browser itself; any other sign in the tab would be fetched from outside.
st.set_page_config(page_title="fleetlens", page_icon="🚚", layout="wide")
page = st.navigation(
    [
        st.Page("pages/overview.py", title="Overview", icon=":material/dashboard:", default=True),
        st.Page("pages/recurring_codes.py", title="Recurring codes", icon=":material/repeat:"),
        st.Page("pages/component_life.py", title="Component life", icon=":material/timeline:"),
        st.Page("pages/comebacks.py", title="Comebacks", icon=":material/undo:"),
        st.Page("pages/cleaning_intervals.py", title="Cleaning intervals", icon=":material/event_repeat:"),
        st.Page("pages/vehicle_history.py", title="Vehicle history", icon=":material/history:"),
        st.Page("pages/data_check.py", title="Data check", icon=":material/fact_check:"),
    ]
)
frame.draw()
try:
    page.run()
except FleetlensError as error:
    show.problem(error)
