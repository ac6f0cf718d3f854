"""Whether following the advice would have paid on this fleet's own past."""

import streamlit as st

from fleetlens.advice.backtesting.backtest import backtest, last_year
from fleetlens.advice.policies import POLICY_KEYS
from fleetlens.findings.evidence import period
from fleetlens.output import backtest_chart
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head(
    "Back test", "Fitted on what was known then: did what happened since bear the advice out, and would it have paid?"
)
record = answer(period)
day = last_year(record)
if day is None:
    show.nothing("The record is too short to try anything on it.")
    st.stop()
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("by", POLICY_KEYS, default=())
with st.container(horizontal=True, vertical_alignment="bottom"):
    until = st.date_input(
        "Known until", value=day, min_value=record.start, max_value=record.end, key="until",
        format="YYYY-MM-DD",
    )  # fmt: skip
    months = st.number_input("Months after it", 1, 120, 12, key="months", bind="query-params")
filters, unknown_start = choices.filters(), choices.unknown_start()
show.filtered(filters)

made = answer(
    backtest,
    until,
    months=int(months),
    component=component,
    by=tuple(by),
    filters=filters,
    unknown_start=unknown_start,
    preferences=preferences.read(place()),
)
show.notes("What it says", made.summary)
tables.table(tables.first(made.summary, ["component", *by, "outcome"]), "summary")
show.downloads(made.summary)
show.section("By risk")
show.chart(backtest_chart.calibration, made.calibration, height=360)
show.cautions(made.summary)
show.section("The parts behind the figures")
if choices.behind("Show all parts"):
    tables.table(made.parts, "parts", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(made.parts, "parts")
show.evidence(made.summary)
