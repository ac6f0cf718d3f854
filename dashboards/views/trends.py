"""Whether faults come more often than they did, what changed, and where."""

from functools import partial

import streamlit as st

from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.trends import TREND_KEYS, changed_rates, rates_by_group, rates_by_period, trend_rows
from fleetlens.output import code_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

OF = {"episodes of codes": "codes", "failures of components": "failures"}
show.head(
    "Trends",
    "Does it get worse, what changed, and where? Rates are per 100,000 km, so that more driving isn't more trouble; "
    "limits tell a change from chance.",
)
with st.container(horizontal=True, vertical_alignment="bottom"):
    of = OF[choices.one_of("Rate of", "of", list(OF))]
    every = choices.one_of("By", "every", ("month", "quarter"))
    if of == "codes":
        component, known = None, answer(recurring_codes).rows["code"].to_list()
        codes = choices.some_of("Codes", "codes", known, placeholder="all codes together")
    else:
        component, codes = choices.component_or_all(), []
filters = choices.filters(component)
show.filtered(filters)

asked = {"codes": tuple(codes), "filters": filters}
finding = answer(rates_by_period, of, every, **asked)

show.chart(code_charts.rates_by_period, finding)
show.notes("What it says", finding)
row = tables.table(finding, "periods", choose=True, leave_out=["starts_on"])
show.downloads(finding)
tables.behind("jobs", partial(answer, trend_rows, of, every, **asked), row, ["period"])

show.section("What changed")
changed = answer(changed_rates, of, every, **asked)
show.chart(code_charts.changed_rates, changed, height="content")
show.sentences(changed.notes)
tables.table(changed, "changes")
show.downloads(changed, "changes")
show.basis(changed)

show.section("Where")
by = choices.split_by("by", TREND_KEYS, default=("depot",), label="Compare")
if by:
    groups = answer(rates_by_group, of, by, **asked)
    show.chart(code_charts.rates_by_group, groups, by, height="content")
    show.sentences(groups.notes)
    tables.table(groups, "groups")
    show.downloads(groups, "groups")
    show.basis(groups)
show.evidence(finding)
