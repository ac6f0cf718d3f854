"""What a fault code turned out to be on this fleet, what told it apart, and which remedy held."""

from functools import partial

import streamlit as st

from fleetlens.advice.bench import cause_split
from fleetlens.findings.causes import cause_rows
from fleetlens.findings.codes import recurring_codes
from fleetlens.output import life_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

show.head(
    "Causes",
    "What did this code turn out to be on our vehicles, which checks told it apart, and which remedy held? "
    "Set a model on the left, and its few jobs lean on those of the other models.",
)
known = answer(recurring_codes).rows["code"].to_list()
if not known:
    show.nothing("No job in this store logged a code yet.")
    st.stop()
codes = choices.some_of("Codes", "codes", known, placeholder=f"{known[0]}, the commonest") or known[:1]
filters = choices.filters()
show.filtered(filters)

finding = answer(cause_split, codes, "causes", filters)
checks = answer(cause_split, codes, "checks", filters)
remedies = answer(cause_split, codes, "remedies", filters)

show.chart(lambda causes, _: life_charts.cause_shares(causes), finding, height="content")
row = tables.table(
    finding, "causes", choose=True, empty="No cause was confirmed at the fault jobs kept with this code."
)
show.downloads(finding)
show.notes("Mind", finding)
show.section("Checks that told the causes apart")
tables.table(checks, "checks", empty="No check is recorded at the jobs of a confirmed cause.")
show.downloads(checks, "checks")
show.section("Remedies, and whether they held")
tables.table(remedies, "remedies", empty="No repair followed a confirmed cause.")
show.downloads(remedies, "remedies")
tables.behind("jobs", partial(answer, cause_rows, codes, filters), row, ["cause"])
show.evidence(finding)
show.cautions(finding)
