"""The further questions of the page on component life: one is shown at a time, for each takes a screen."""

from collections.abc import Callable, Sequence
from typing import Any

import streamlit as st

from fleetlens.findings.b_lives import b_lives
from fleetlens.findings.columns import COLUMNS
from fleetlens.findings.fates import fate_curves, fates
from fleetlens.findings.finding import Finding
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.life_fit import cumulative_hazards, life_fit, probability_points
from fleetlens.findings.lives import LIFE_KEYS
from fleetlens.output import life_charts
from fleetlens_dashboard import choices, show, tables
from fleetlens_dashboard.record import answer

Panel = Callable[..., None]
NONE = "nothing more"


def further(component: str, by: Sequence[str], at: Sequence[float], **asked: Any) -> None:
    """Offer the further questions, and answer the one that is chosen."""
    show.section("More about these lives")
    panel = choices.one_of("Show", "more", list(PANELS))
    if panel != NONE:
        PANELS[panel](component, list(by), tuple(at), **asked)


def _fates(component: str, by: list[str], at: tuple[float, ...], **asked: Any) -> None:
    finding = answer(fates, component, by, at=at, **asked)
    show.chart(life_charts.fates, answer(fate_curves, component, by, **asked), by)
    _table(finding, "fates")


def _comparison(component: str, by: list[str], at: tuple[float, ...], **asked: Any) -> None:
    if not by:
        show.nothing("Split by something above to compare its groups.")
        return
    within = choices.split_by("within", [key for key in LIFE_KEYS if key not in by], (), "Only within the same")
    finding = answer(compared_lives, component, by, within, **asked)
    _table(finding, "comparison")
    if len(by) == 1 and finding.rows[by[0]].drop_nulls().len() > 1:
        _difference(component, by[0], [str(name) for name in finding.rows[by[0]].drop_nulls()], at, **asked)


def _difference(component: str, key: str, names: list[str], at: tuple[float, ...], **asked: Any) -> None:
    show.section("Two groups by distance")
    with st.container(horizontal=True, vertical_alignment="bottom"):
        label = COLUMNS[key].label
        first = choices.one_of(f"{label}: first", "first_group", names)
        second = choices.one_of(f"{label}: second", "second_group", names, first=1)
    if first == second:
        show.nothing("Choose two different groups.")
        return
    _table(answer(two_groups, component, key, first, second, at=at, **asked), "difference")


def _fit(component: str, by: list[str], _: tuple[float, ...], **asked: Any) -> None:
    finding = answer(life_fit, component, by, **asked)
    show.chart(life_charts.probability_plot, answer(probability_points, component, by, **asked), by)
    _table(finding, "fit")


def _hazard(component: str, by: list[str], _: tuple[float, ...], **asked: Any) -> None:
    finding = answer(cumulative_hazards, component, by, **asked)
    show.chart(life_charts.cumulative_hazard, finding, by)
    _table(finding, "hazard")


def _b_lives(component: str, by: list[str], _: tuple[float, ...], **asked: Any) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        shares = st.multiselect(
            "Share failed", SHARES, default=["10 %", "50 %"], key="shares", bind="query-params", placeholder="10 %"
        )
        shape = st.number_input(
            "Shape", min_value=0.1, max_value=20.0, value=None, step=0.5, key="shape", placeholder="fitted",
            bind="query-params",
        )  # fmt: skip
        taken = _shape_of(component, by, **asked) if shape is None else None
    told = [float(share.removesuffix(" %")) / 100 for share in shares or ["10 %"]]
    _table(answer(b_lives, component, by, told, shape=shape, shape_from=taken, **asked), "b_lives")


def _shape_of(component: str, by: list[str], **asked: Any) -> dict[str, str] | None:
    """The group whose shape all take; None where none is chosen, or where there isn't one key to choose by."""
    if len(by) != 1:
        return None
    rows = answer(life_fit, component, by, **asked).rows
    names = [str(name) for name in rows.filter(rows["shape"].is_not_null())[by[0]].drop_nulls()]
    chosen = choices.one_or_none("or the shape of", "shape_of", names, placeholder="each its own")
    return {by[0]: chosen} if chosen else None


def _table(finding: Finding, key: str) -> None:
    """The rows with what is said of them."""
    tables.table(finding, key)
    show.downloads(finding, key)
    show.notes("Mind", finding)
    show.sentences([finding.method, *(told for told in finding.assumed if "shape" in told)])


SHARES = ["0.1 %", "1 %", "5 %", "10 %", "25 %", "50 %", "63.2 %", "90 %"]
PANELS: dict[str, Panel] = {
    NONE: lambda *_, **__: None,
    "what becomes of the parts": _fates,
    "whether the groups fail alike": _comparison,
    "by when any share has failed": _b_lives,
    "whether one Weibull describes them": _fit,
    "cumulative hazard": _hazard,
}
