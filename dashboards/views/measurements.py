"""What checks and measurements showed, against their limits and on the way to a failure."""

from functools import partial

import streamlit as st

from fleetlens.findings.drift import WITHIN_KM, drift, drift_by_distance, drift_rows
from fleetlens.findings.measurements import check_rows, measurements
from fleetlens.output import life_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Measurements",
    "What did the checks show against the limits that came with the job, and how do values move before a failure?",
)
component = choices.component_or_all()
filters = choices.filters(component)
show.filtered(filters)

finding = answer(measurements, filters=filters)
row = tables.table(finding, "figures", choose=True, empty="No check is recorded for this choice.")
show.downloads(finding)
show.notes("Mind", finding)
show.section("Values on the way to a failure")
within = st.number_input(
    "Within km of the failure", 1_000, 1_000_000, int(WITHIN_KM), 5_000, key="within", bind="query-params", width=320
)
drifts = answer(drift, within_km=float(within), filters=filters)
values = answer(drift_rows, within_km=float(within), filters=filters)
stretches = answer(drift_by_distance, within_km=float(within), filters=filters)
if drifts.rows.is_empty():
    show.nothing("No value was measured on a part that failed later.")
else:
    names = {f"{one['check']} of {one['component']}": one for one in drifts.rows.iter_rows(named=True)}
    chosen = names[choices.one_of("Measurement", "measurement", list(names))]
    mine = tables.matching(stretches, chosen, ["component", "check", "unit"])
    points = tables.matching(values, chosen, ["component", "check", "unit"])
    show.chart(lambda one, _: life_charts.drift(one, points.rows), mine)
    tables.table(drifts, "drifts")
    show.downloads(drifts, "drifts")
    show.notes("What the drift says", drifts)
    show.sentences([drifts.method, *(str(count) for count in drifts.excluded)])
    show.section("The values before the failures")
    tables.table(points, "values", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(values, "values")
tables.behind("checks", partial(answer, check_rows, filters=filters), row, ["check", "unit"])
show.evidence(finding)
