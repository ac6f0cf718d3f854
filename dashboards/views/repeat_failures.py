"""How often a component fails on one vehicle, and whether it comes ever more often."""

from functools import partial

import streamlit as st

from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.recurrence import recurrence_difference, recurrent_failures
from fleetlens.findings.vehicle_failures import VEHICLE_KEYS, failure_rows
from fleetlens.output import life_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Repeat failures",
    "How often does a component fail on the same vehicle, and does it come ever more often as the vehicle runs?",
)
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("by", VEHICLE_KEYS, default=())
filters = choices.filters()
show.filtered(filters)

finding = answer(failure_trends, component, filters, by=by)
curves = answer(recurrent_failures, component, filters, by=by)

show.chart(life_charts.mean_failures, curves, by)
show.downloads(curves, "curves")
shown = tables.first(finding, ["component", *by, "vehicles", "failures", "trend", "growth"])
row = tables.table(shown, "groups", choose=True)
show.downloads(finding)
show.notes("Mind", finding)
if len(by) == 1 and len(names := [str(name) for name in finding.rows[by[0]].drop_nulls()]) > 1:
    show.section("Two groups by distance")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        first = choices.one_of(f"{COLUMNS[by[0]].label}: first", "first_group", names)
        second = choices.one_of(f"{COLUMNS[by[0]].label}: second", "second_group", names, first=1)
    if first == second:
        show.nothing("Choose two different groups.")
    else:
        difference = answer(recurrence_difference, component, by[0], first, second, filters=filters)
        tables.table(difference, "difference")
        show.downloads(difference, "difference")
tables.behind("failures", partial(answer, failure_rows, component, filters, by=by), row, by)
show.evidence(finding)
