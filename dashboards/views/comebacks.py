"""Whether repairs held."""

from functools import partial

import streamlit as st

from fleetlens.findings.comebacks import COMEBACK_KEYS, comebacks, repair_rows
from fleetlens.output import charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head("Comebacks", "Did the repairs hold, or did the vehicle come back with the same fault?")
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("split", COMEBACK_KEYS, default=("action",))
with st.container(horizontal=True, vertical_alignment="bottom"):
    days, km = choices.window()
filters = choices.filters()
show.filtered(filters)

finding = answer(comebacks, component, by, days=days, km=km, filters=filters)
repairs = partial(answer, repair_rows, component, days, km, filters)

show.chart(charts.comeback_shares, finding, by)
row = tables.table(finding, "groups", choose=True)
show.downloads(finding)
show.notes("Mind", finding)
tables.behind("repairs", repairs, row, by)
show.evidence(finding)
