"""Whether a campaign changed the failure rate."""

import streamlit as st

from fleetlens.findings.campaign import campaign, campaign_failures, campaign_vehicles
from fleetlens.output import repair_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Campaign check",
    "Did a cleaning campaign, or a change of part, fuel, software or workshop, change the failure rate?",
)
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    days = choices.days_around()
treatment = choices.treatment()
filters = choices.filters()
show.filtered(filters)

asked = (component, treatment)
finding = answer(campaign, *asked, days=days, filters=filters)

show.chart(repair_charts.campaign, finding, height=360)
show.sentences(finding.notes[:1])
tables.table(finding, "groups")
show.downloads(finding)
show.section("What can mislead here")
show.sentences(finding.notes[1:])
show.section("The vehicles and failures behind it")
if choices.behind("Show the vehicles", "vehicles_behind"):
    vehicles = answer(campaign_vehicles, *asked, days=days, filters=filters)
    tables.table(vehicles, "vehicles", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(vehicles, "vehicles")
if choices.behind("Show the failures"):
    failures = answer(campaign_failures, *asked, days=days, filters=filters)
    tables.table(failures, "failures", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(failures, "failures")
show.evidence(finding)
