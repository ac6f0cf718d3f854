"""Clean or replace a part now, or leave it."""

from functools import partial

import streamlit as st

from fleetlens.advice.choose import choose, running_parts
from fleetlens.advice.costs import Given
from fleetlens.advice.options import OPTIONS
from fleetlens.advice.policies import POLICY_KEYS
from fleetlens.findings.lives import life_rows
from fleetlens.output import advice_charts
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head(
    "Clean or replace", "What does it cost to leave, clean or replace this part now, and at which price does that turn?"
)
wanted = preferences.read(place())
with st.container(horizontal=True, vertical_alignment="bottom"):
    vehicle = choices.vehicle()
    parts = answer(running_parts, vehicle) if vehicle else None
    known = [] if parts is None else parts["component"].unique().sort().to_list()
    component = choices.one_of("Component", "component", known) if known else None
    places = [] if parts is None else [each for at, each in parts.rows() if at == component and each]
    position = choices.one_of("Position", "position", places) if len(places) > 1 else None
if vehicle is None:
    show.nothing("Choose a vehicle to see what its parts would cost. The filters of vehicles don't hold on this page.")
    st.stop()
if component is None:
    show.nothing("No part is known to run on this vehicle: it has left, has no odometer, or no job names a component.")
    st.stop()
with st.container(horizontal=True, vertical_alignment="bottom"):
    ruled_out = choices.some_of("Doesn't apply", "rule_out", OPTIONS, "all options do")
    horizon = choices.amount("Distance still to run (km)", "horizon_km", f"{wanted.plan.horizon_km:,.0f}, as set")
    by = choices.split_by("by", POLICY_KEYS, default=("model",), label="Lives of the same")
given = Given(**choices.prices())
unknown_start = choices.unknown_start()

finding = answer(
    choose,
    vehicle,
    component,
    position,
    rule_out=tuple(ruled_out),
    horizon_km=horizon,
    by=tuple(by),
    unknown_start=unknown_start,
    preferences=wanted,
    given=given,
)
show.sentences(finding.notes)
if finding.rows["expected_cost"].count():
    draw = partial(advice_charts.option_costs, currency=wanted.money.currency or "currency")
    show.chart(draw, finding, height="content")
tables.table(finding, "options")
show.downloads(finding)
show.cautions(finding)
show.section("The lives behind the figures")
if choices.behind("Show all lives of this component"):
    lives = answer(life_rows, component, unknown_start=unknown_start)
    tables.table(lives, "lives", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(lives, "lives")
show.evidence(finding)
