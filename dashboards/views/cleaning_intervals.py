"""How often to clean, when to replace instead, and whether a schedule pays at all."""

from functools import partial

import streamlit as st

from fleetlens.advice.cost_curves import cost_curves
from fleetlens.advice.costs import Given
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.policies import POLICY_KEYS, policies
from fleetlens.findings.lives import LIFE_KEYS, life_rows
from fleetlens.output import advice_charts, charts
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head("Cleaning intervals", "Does it pay to clean a component on a schedule, and after how many km?")
wanted = preferences.read(place())
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("by", LIFE_KEYS, default=("model",))
given = Given(**choices.prices())
filters, unknown_start = choices.filters(), choices.unknown_start()
show.filtered(filters)

asked = {"given": given, "preferences": wanted, "filters": filters, "unknown_start": unknown_start}
finding = answer(cleaning_intervals, component, by, **asked)
lives = partial(answer, life_rows, component, filters=filters, unknown_start=unknown_start)
currency = wanted.money.currency or "currency"

show.section("One interval")
row = tables.table(tables.first(finding, ["component", *by, "verdict"]), "groups", choose=True)
show.downloads(finding)
show.cautions(finding)
show.notes("Why", finding)
show.section("What an interval costs")
show.chart(partial(charts.cost_curve, currency=currency), answer(cost_curves, component, by, **asked), by)

show.section("First cleaning, next cleanings, replacing")
st.text("Cleaned parts live by their own life: the first interval, the next ones, and after how many to replace.")
keys = [key for key in by if key in POLICY_KEYS]
policy = answer(policies, component, keys, **asked).finding
tables.table(policy, "policies")
show.downloads(policy, "policies")
show.chart(partial(advice_charts.policy_costs, currency=currency), policy, keys, height="content")
show.notes("Why this policy", policy)
tables.behind("lives", lives, row, by)
show.evidence(finding)
show.basis(policy)
