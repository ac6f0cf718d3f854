"""The pages about repairs and money show what the Python call says."""

from pathlib import Path

import pytest
from dashboards.house import Open, texts

from fleetlens.findings.campaign import campaign
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.cost import costs
from fleetlens.findings.filters import Filters
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.warranty import Term, Terms, warranty_claims, warranty_totals
from fleetlens.store.reader import open_store


def test_comebacks_are_compared_and_workshops_judged(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        compared = comeback_differences(snapshot, "egr_valve", ("checks_after",))
        funnel = comeback_funnel(snapshot, "egr_valve")
    app = open_app("sample", "comebacks", component="egr_valve", split="Checks after the repair")
    tables = [frame.value for frame in app.dataframe]
    assert tables[1]["expected_within"].tolist() == pytest.approx(compared.rows["expected_within"].to_list())
    assert tables[2]["standing"].tolist() == funnel.rows["standing"].to_list()
    assert all(note in texts(app) for note in (*compared.notes, *funnel.notes))
    assert "Technician" not in app.multiselect(key="split").options


def test_cost_is_that_of_the_python_call(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = costs(snapshot, "code", downtime_rate=20.0, filters=Filters(component=("egr_valve",)))
    app = open_app("sample", "cost", each="Code", component="egr_valve", downtime_rate="20")
    table = app.dataframe[0].value
    assert table["code"].tolist() == called.rows["code"].to_list()
    assert table["total_cost"].tolist() == called.rows["total_cost"].to_list()
    assert all(sentence in texts(app) for sentence in called.assumed)


def test_warranty_shows_totals_and_each_failure(open_app: Open, stores: dict[str, Path]) -> None:
    terms = Terms(Term(36, 60_000.0))
    with open_store(stores["sample"]) as snapshot:
        totals = warranty_totals(snapshot, terms=terms).rows
        claims = warranty_claims(snapshot, terms=terms).rows
    app = open_app("sample", "warranty", months="36", term_km="60000")
    first, second = (frame.value for frame in app.dataframe[:2])
    assert first["fitted"].tolist() == totals["fitted"].to_list()
    assert second["fail_job_id"].tolist() == claims["fail_job_id"].head(200).to_list()


def test_a_campaign_is_checked_with_its_pitfalls(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = campaign(snapshot, "egr_valve", Treatment("egr_valve", "clean"), days=200)
    app = open_app(
        "sample",
        "campaign_check",
        component="egr_valve",
        around="200",
        treated_by="an action on the component",
        treated_action="clean",
    )
    assert app.dataframe[0].value["side"].tolist() == called.rows["side"].to_list()
    assert all(note in texts(app) for note in called.notes)
    assert any("Regression to the mean" in note for note in called.notes)
