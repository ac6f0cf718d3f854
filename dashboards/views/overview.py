"""The fleet at a glance: how much was observed, and which components fail."""

import streamlit as st

from fleetlens.advice.headlines import headlines
from fleetlens.findings.fleet import overview
from fleetlens.output import charts
from fleetlens.output.words import say
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head("Overview", "What did this fleet run, what failed on it, and what stands out?")
filters = choices.filters()
show.filtered(filters)

fleet = answer(overview, filters)
told = answer(headlines, filters)

counts = (
    ("Vehicles", say(fleet.vehicles)),
    ("Jobs", say(fleet.jobs)),
    ("Jobs for a fault", say(fleet.fault_jobs)),
    ("Distance observed (km)", say(fleet.km, "km")),
)
with st.container(horizontal=True):
    for label, value in counts:
        st.metric(label, value, border=True, width="content")
st.text(f"Record: {fleet.period}")
show.section("What stands out")
show.sentences(told)
show.section("Failing components")
show.chart(lambda finding, _: charts.failures(finding), fleet.components, height="content")
tables.table(fleet.components, "components", open_in={"component": "component_life"}, filters=filters)
show.downloads(fleet.components)
show.evidence(fleet.components)
