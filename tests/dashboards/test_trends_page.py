"""The pages on trends and on codes together: what the Python call says, and the jobs behind each figure."""

from pathlib import Path

import pytest
from dashboards.house import Open, texts

from fleetlens.findings.filters import Filters
from fleetlens.findings.forerunners import forerunner_rows, forerunners
from fleetlens.findings.together import codes_together
from fleetlens.findings.trends import changed_rates, rates_by_group, rates_by_period
from fleetlens.store.reader import open_store


def frames(app, *names):
    """The tables of the page that hold these columns."""
    return [table.value for table in app.dataframe if set(names) <= set(table.value.columns)]


def test_trends_of_codes_are_those_of_the_python_call(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        called = rates_by_period(snapshot, every="quarter", codes=("P0401",))
        changed = changed_rates(snapshot, every="quarter", codes=("P0401",))
    app = open_app("sample", "trends", every="quarter", codes="P0401")
    assert not app.exception
    (periods,) = frames(app, "period", "signal")
    assert periods["period"].tolist() == called.rows["period"].to_list()
    assert periods["rate_per_100k_km"].tolist() == pytest.approx(called.rows["rate_per_100k_km"].to_list())
    (changes,) = frames(app, "code", "change_12m")
    assert changes["latest_12m"].tolist() == changed.rows["latest_12m"].to_list()
    said = texts(app)
    assert all(note in said for note in (*called.notes, *changed.notes))
    assert called.method in said


def test_trends_of_failures_and_the_groups_where(open_app: Open, stores: dict[str, Path]) -> None:
    egr = Filters(component=("egr_valve",))
    with open_store(stores["sample"]) as snapshot:
        called = rates_by_period(snapshot, "failures", filters=egr)
        groups = rates_by_group(snapshot, "failures", ("duty",), filters=egr)
    app = open_app("sample", "trends", of="failures of components", component="egr_valve", by="Duty")
    assert not app.exception
    (periods,) = frames(app, "period", "signal")
    assert periods["failures"].tolist() == called.rows["failures"].to_list()
    (standing,) = frames(app, "duty", "standing")
    assert standing["duty"].tolist() == groups.rows["duty"].to_list()
    assert standing["standing"].tolist() == groups.rows["standing"].to_list()
    assert all(note in texts(app) for note in groups.notes)


def test_the_jobs_behind_the_trend_are_shown_on_request(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        episodes = rates_by_period(snapshot, codes=("P0401",)).rows["episodes"].sum()
    app = open_app("sample", "trends", codes="P0401", rows="true")
    (jobs,) = frames(app, "job_id", "period")
    assert len(jobs) == episodes
    assert set(jobs["code"]) == {"P0401"}


def test_each_chart_has_its_sentence(open_app: Open) -> None:
    for page, count in (("trends", 3), ("codes_together", 2)):
        app = open_app("sample", page)
        charts = app.get("vega_lite_chart")
        assert len(charts) == count
        assert all(chart.proto.alt in texts(app) for chart in charts)


def test_pairs_and_signs_are_those_of_the_python_call(open_app: Open, stores: dict[str, Path]) -> None:
    with open_store(stores["sample"]) as snapshot:
        pairs = codes_together(snapshot, join_days=14)
        ahead = forerunners(snapshot, "egr_valve", km=3000.0)
        behind = forerunner_rows(snapshot, "egr_valve", km=3000.0)
    app = open_app("sample", "codes_together", join_days="14", before="egr_valve", ahead_km="3000", rows="true")
    assert not app.exception
    (shown,) = frames(app, "code", "with_code")
    assert shown["lift"].tolist() == pytest.approx(pairs.rows["lift"].head(200).to_list())
    (signs,) = frames(app, "sign", "times")
    assert signs["sign"].tolist() == ahead.rows["sign"].to_list()
    assert signs["Preceded by it"][0] == f"{ahead.rows['preceded'][0]} of {ahead.rows['happenings'][0]}"
    (jobs,) = frames(app, "sign_job_id")
    assert jobs["sign_job_id"].tolist() == behind.rows["sign_job_id"].head(200).to_list()
    assert all(note in texts(app) for note in (*pairs.notes, *ahead.notes))


def test_recurring_codes_say_what_changed(open_app: Open) -> None:
    app = open_app("sample", "recurring_codes")
    assert "were screened at once for a change" in texts(app)
    assert "change" in app.dataframe[0].value.columns
