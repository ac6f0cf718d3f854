"""How far a component runs before it fails."""

from functools import partial

import streamlit as st

from fleetlens.findings.lives import LIFE_KEYS, component_lives, life_rows, survival_curves
from fleetlens.output import charts
from fleetlens_dashboard import choices, life_panels, show, tables
from fleetlens_dashboard.record import answer

show.head("Component life", "How far does a component run before it fails, and does it wear out or fail by chance?")
with st.container(horizontal=True, vertical_alignment="bottom"):
    component = choices.component()
    by = choices.split_by("by", LIFE_KEYS, default=("model",))
    at = choices.distances()
asked = {"filters": choices.filters(), "unknown_start": choices.unknown_start()}
show.filtered(choices.filters())

finding = answer(component_lives, component, by, at=at, **asked)
curves = answer(survival_curves, component, by, **asked)
lives = partial(answer, life_rows, component, **asked)

show.chart(charts.survival, curves, by)
figures = tables.first(finding, ["component", *by, "lives", "failures", "median_km", "b10_km"])
row = tables.table(figures, "groups", choose=True, leave_out=["survival"])
show.downloads(finding)
show.notes("What the shape says", finding)
show.section("Share surviving by distance")
tables.table(tables.only(finding, ["component", *by, "survival"]), "shares")
tables.behind("lives", lives, row, by)
show.evidence(finding)
life_panels.further(component, by, at, **asked)
