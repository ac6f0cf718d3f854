"""Which codes are logged together, and what goes before a failure."""

from functools import partial

import streamlit as st

from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.forerunners import forerunner_rows, forerunners
from fleetlens.findings.together import codes_together, together_rows
from fleetlens.output import code_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Codes together",
    "Which codes come together more often than chance, and which come ahead of a failure? Neither says that one is "
    "the cause of the other: a weak battery sets many codes at once.",
)
known = answer(recurring_codes).rows["code"].to_list()
with st.container(horizontal=True, vertical_alignment="bottom"):
    codes = choices.some_of("Codes", "codes", known, placeholder="all pairs")
    join_days = choices.join_days()
filters = choices.filters()
show.filtered(filters)

asked = {"join_days": join_days, "filters": filters}
finding = answer(codes_together, tuple(codes), **asked)

show.chart(code_charts.pairs, finding, height="content")
show.sentences(finding.notes)
pair = tables.table(finding, "pairs", choose=True)
show.downloads(finding)
if pair is not None:
    show.section("The jobs of the pair")
    both = answer(together_rows, (pair["code"], pair["with_code"]), **asked)
    tables.table(both, "jobs", open_in={"vehicle_id": "vehicle_history"})
    show.downloads(both, "jobs")

show.section("What goes before a failure")
with st.container(horizontal=True, vertical_alignment="bottom"):
    before = choices.ahead_of(known)
    window = choices.look_back()
ahead = answer(forerunners, before, filters=filters, **window)
show.chart(code_charts.forerunners, ahead, height="content")
show.sentences(ahead.notes)
sign = tables.table(ahead, "signs", choose=True, empty="Nothing went before within the window.")
show.downloads(ahead, "signs")
rows = partial(answer, forerunner_rows, before, filters=filters, **window)
tables.behind("signs before", rows, sign, ["sign_is", "sign"])
show.basis(ahead)
show.evidence(finding)
