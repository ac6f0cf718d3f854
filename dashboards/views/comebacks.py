"""Whether repairs held."""

from functools import partial

import streamlit as st

from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.comebacks import COMEBACK_KEYS, comebacks, repair_rows
from fleetlens.output import charts, repair_charts
from fleetlens.store import preferences
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer, place

show.head("Comebacks", "Did the repairs hold, or did the vehicle come back with the same fault?")
people = {"technicians": preferences.read(place()).people.name_technicians}
allowed = (*COMEBACK_KEYS, "technician") if people["technicians"] else COMEBACK_KEYS
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("split", allowed, default=("action",))
with st.container(horizontal=True, vertical_alignment="bottom"):
    days, km = choices.window()
filters = choices.filters()
show.filtered(filters)

asked = {"days": days, "km": km, "filters": filters, **people}
finding = answer(comebacks, component, by, **asked)
repairs = partial(answer, repair_rows, component, days, km, filters, **people)

show.chart(charts.comeback_shares, finding, by)
row = tables.table(finding, "groups", choose=True)
show.downloads(finding)
show.notes("Mind", finding)
if by:
    show.section("Each group against all others")
    compared = answer(comeback_differences, component, by, **asked)
    show.chart(repair_charts.comeback_differences, compared, by, height="content")
    show.sentences(compared.notes)
    tables.table(compared, "differences")
    show.downloads(compared, "differences")
    show.basis(compared)
show.section("Who lies outside chance")
kind = choices.one_key("Judge by", "judge", allowed, default="workshop")
funnel = answer(comeback_funnel, component, (kind,), **asked)
show.chart(repair_charts.comeback_funnel, funnel, (kind,), height="content")
show.sentences(funnel.notes)
tables.table(funnel, "funnel")
show.downloads(funnel, "funnel")
show.basis(funnel)
tables.behind("repairs", repairs, row, by)
show.evidence(finding)
