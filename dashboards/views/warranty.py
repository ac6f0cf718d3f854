"""Which parts failed inside their own term."""

import streamlit as st

from fleetlens.findings.warranty import WARRANTY_KEYS, Term, Terms, warranty_claims, warranty_totals
from fleetlens.output import repair_charts
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head("Warranty", "Which parts failed inside their own term, and what would a claim rest on?")
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component_or_all()
    by = choices.split_by("by", WARRANTY_KEYS, default=("part_grade",))
with st.container(horizontal=True, vertical_alignment="bottom"):
    months, km = choices.term()
filters = choices.filters()
show.filtered(filters)

terms = Terms.preferred(preferences.read(place()), Term(months, km))
finding = answer(warranty_totals, component, by, terms, filters)
claims = answer(warranty_claims, component, terms, filters)

show.chart(repair_charts.claims, finding, by, height="content")
row = tables.table(finding, "groups", choose=True)
show.downloads(finding)
show.notes("Mind", finding)
show.section("The failures, each with its evidence")
tables.table(
    claims if row is None else tables.matching(claims, row, ("component", *by)),
    "claims",
    open_in={"vehicle_id": "vehicle_history"},
    empty="No part that a job fitted failed inside its term.",
)
show.downloads(claims, "claims")
show.evidence(finding)
