"""Charts of repairs and money by their specification: units, intervals, a second mark beside colour, and a sentence."""

from collections.abc import Iterator
from typing import Any

import pytest

from fleetlens.findings.campaign import campaign
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.cost import costs
from fleetlens.findings.finding import Finding
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.warranty import warranty_totals
from fleetlens.intake.load import load
from fleetlens.output import repair_charts
from fleetlens.output.descriptions import describe
from fleetlens.sample import make_sample
from fleetlens.store.reader import open_store

BY = {"differences": ("checks_after",), "funnel": ("workshop",), "costs": ("model",), "claims": ("part_grade",)}
DRAW = {
    "differences": repair_charts.comeback_differences,
    "funnel": repair_charts.comeback_funnel,
    "costs": repair_charts.costs,
    "claims": repair_charts.claims,
    "campaign": repair_charts.campaign,
}
AXES = {
    "differences": "Share that came back, less that of all others",
    "funnel": "Share of repairs that came back",
    "costs": "Cost per 1,000 km (currency)",
    "claims": "Labour and parts of the failing jobs (currency)",
    "campaign": "Failures per 100,000 km",
}


@pytest.fixture(scope="module")
def findings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Finding]]:
    place = tmp_path_factory.mktemp("drawn")
    load([make_sample(place / "tables", vehicles=60, seed=7).folder], place / "store")
    with open_store(place / "store") as snapshot:
        yield {
            "differences": comeback_differences(snapshot, by=("checks_after",)),
            "funnel": comeback_funnel(snapshot),
            "costs": costs(snapshot, "model"),
            "claims": warranty_totals(snapshot),
            "campaign": campaign(snapshot, "egr_valve", Treatment("egr_valve", "clean")),
        }


def parts(spec: Any) -> Iterator[dict[str, Any]]:
    if isinstance(spec, dict):
        yield spec
        for inner in spec.values():
            yield from parts(inner)
    elif isinstance(spec, list):
        for inner in spec:
            yield from parts(inner)


@pytest.mark.parametrize("name", DRAW)
def test_a_chart_says_its_unit_and_stands_on_the_pages_ground(name: str, findings: dict[str, Finding]) -> None:
    spec = DRAW[name](findings[name], BY.get(name, ())).to_dict()
    assert AXES[name] in [part.get("title") for part in parts(spec)]
    assert spec["config"]["background"] == "transparent"


@pytest.mark.parametrize("name", ["differences", "costs", "campaign"])
def test_a_chart_draws_its_intervals(name: str, findings: dict[str, Finding]) -> None:
    layers = DRAW[name](findings[name], BY.get(name, ())).to_dict()["layer"]
    fields = [part.get("field") for layer in layers if layer["mark"]["type"] == "rule" for part in parts(layer)]
    assert {"low", "high"} <= set(fields)


@pytest.mark.parametrize("name", ["funnel", "campaign"])
def test_colour_has_a_second_mark_beside_it(name: str, findings: dict[str, Finding]) -> None:
    point = DRAW[name](findings[name], BY.get(name, ())).to_dict()["layer"][-1]["encoding"]
    assert point["color"]["field"] == point["shape"]["field"]


def test_each_has_a_sentence_with_its_main_figures(findings: dict[str, Finding]) -> None:
    told = {name: describe(finding, BY.get(name, ())) for name, finding in findings.items()}
    assert "with 95 % intervals: " in told["differences"]
    assert f"{findings['funnel'].rows.height} groups against the limits" in told["funnel"]
    assert "highest " in told["costs"]
    assert "parts fitted" in told["claims"]
    assert "treated " in told["campaign"]
