"""How often to clean, and whether a schedule pays at all."""

from functools import partial

import streamlit as st

from fleetlens.advice.cost_curves import cost_curves
from fleetlens.advice.costs import Given
from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.findings.lives import LIFE_KEYS, life_rows
from fleetlens.output import charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head("Cleaning intervals", "Does it pay to clean a component on a schedule, and after how many km?")
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("by", LIFE_KEYS, default=("model",))
with st.container(horizontal=True, vertical_alignment="bottom"):
    given = Given(
        clean=choices.amount("Price of a planned cleaning", "clean_price"),
        failure=choices.amount("Price of a failure", "failure_price"),
        downtime_rate=choices.amount("Price of an hour of downtime", "downtime_rate", blank="as set, else none"),
    )
filters, unknown_start = choices.filters(), choices.unknown_start()
show.filtered(filters)

asked = {"filters": filters, "unknown_start": unknown_start}
finding = answer(cleaning_intervals, component, by, given=given, **asked)
curves = answer(cost_curves, component, by, given=given, **asked)
lives = partial(answer, life_rows, component, **asked)

row = tables.table(tables.first(finding, ["component", *by, "verdict"]), "groups", choose=True)
show.downloads(finding)
show.cautions(finding)
show.notes("Why", finding)
show.section("What an interval costs")
show.chart(charts.cost_curve, curves, by)
tables.behind("lives", lives, row, by)
show.evidence(finding)
