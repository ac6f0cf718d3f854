"""The dashboard: the router, and the frame around its pages. Run by `fleetlens dashboard`.

The pages stand in `views/`: Streamlit would run a file of a folder called `pages/` by itself, without this frame, where
the first address that a fresh server gets is that of the page.
"""

import streamlit as st

from fleetlens.errors import FleetlensError
from fleetlens_dashboard import frame, show

# An emoji is drawn by the browser itself; any other sign in the tab would be fetched from outside.
st.set_page_config(page_title="fleetlens", page_icon="🚚", layout="wide")
page = st.navigation(
    {
        "": [
            st.Page("views/overview.py", title="Overview", icon=":material/dashboard:", default=True),
        ],
        "What goes wrong": [
            st.Page("views/recurring_codes.py", title="Recurring codes", icon=":material/repeat:"),
            st.Page("views/trends.py", title="Trends", icon=":material/trending_up:"),
            st.Page("views/codes_together.py", title="Codes together", icon=":material/join_inner:"),
            st.Page("views/component_life.py", title="Component life", icon=":material/timeline:"),
            st.Page("views/repeat_failures.py", title="Repeat failures", icon=":material/repeat_one:"),
            st.Page("views/causes.py", title="Causes", icon=":material/troubleshoot:"),
            st.Page("views/measurements.py", title="Measurements", icon=":material/speed:"),
        ],
        "After the repair": [
            st.Page("views/comebacks.py", title="Comebacks", icon=":material/undo:"),
            st.Page("views/warranty.py", title="Warranty", icon=":material/verified_user:"),
            st.Page("views/cost.py", title="Cost", icon=":material/payments:"),
            st.Page("views/campaign_check.py", title="Campaign check", icon=":material/campaign:"),
        ],
        "What to do": [
            st.Page("views/cleaning_intervals.py", title="Cleaning intervals", icon=":material/event_repeat:"),
            st.Page("views/clean_or_replace.py", title="Clean or replace", icon=":material/build:"),
            st.Page("views/cleaning_plan.py", title="Cleaning plan", icon=":material/calendar_month:"),
            st.Page("views/back_test.py", title="Back test", icon=":material/history_toggle_off:"),
        ],
        "The record": [
            st.Page("views/vehicle_history.py", title="Vehicle history", icon=":material/history:"),
            st.Page("views/bring_in_data.py", title="Bring in data", icon=":material/upload_file:"),
            st.Page("views/data_check.py", title="Data check", icon=":material/fact_check:"),
        ],
    },
    expanded=True,
)
frame.draw()
try:
    page.run()
except FleetlensError as error:
    show.problem(error)
