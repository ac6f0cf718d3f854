"""What repairs and upkeep cost, and how long vehicles are off the road."""

from functools import partial

import streamlit as st

from fleetlens.findings.cost import COST_KEYS, cost_rows, costs
from fleetlens.output import repair_charts
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head("Cost", "What do components, codes and vehicles cost, and how long do they keep a vehicle off the road?")
money = preferences.read(place()).money
with st.container(horizontal=True, vertical_alignment="bottom"):
    by = choices.one_key("Cost of each", "each", COST_KEYS, default="component")
    component = choices.component_or_all()
    rate = choices.amount("Cost of an hour of downtime", "downtime_rate", blank="as the preferences say")
filters = choices.filters(component)
show.filtered(filters)

rate = money.downtime_rate if rate is None else rate
finding = answer(costs, by, downtime_rate=rate, currency=money.currency, filters=filters)
name = finding.rows.columns[0]

show.chart(repair_charts.costs, finding, (name,), height="content")
row = tables.table(finding, "groups", choose=True, open_in={"vehicle_id": "vehicle_history"})
show.downloads(finding)
tables.behind("jobs", partial(answer, cost_rows, by, filters), row, (name,))
show.evidence(finding)
