"""Comebacks compared, claims, cost and campaigns: outside checks on extracted rows, small stories, and invariances."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from findings.direct import snapshot_of
from findings.test_rules import END, FIRST, VAN, did, job
from lifelines import KaplanMeierFitter
from lifelines.statistics import multivariate_logrank_test
from polars.testing import assert_frame_equal
from scipy.stats import binom

from fleetlens.findings.campaign import campaign, campaign_vehicles
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.comeback_funnel import comeback_funnel
from fleetlens.findings.comebacks import comebacks, repair_rows
from fleetlens.findings.cost import cost_rows, costs
from fleetlens.findings.filters import Filters
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.warranty import Term, Terms, warranty_claims, warranty_totals
from fleetlens.intake.load import load
from fleetlens.sample import make_sample
from fleetlens.store.reader import Snapshot, open_store


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_sample(tmp_path_factory.mktemp("fleet"), vehicles=80, seed=3).folder


@pytest.fixture(scope="module")
def sample(tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    store = tmp_path_factory.mktemp("store") / "s"
    load([tables], store)
    with open_store(store) as snapshot:
        yield snapshot


@pytest.fixture(scope="module")
def twice(tables: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    """The fleet beside a copy of itself under other names, rows in another order."""
    folder, store = tmp_path_factory.mktemp("twice"), tmp_path_factory.mktemp("store") / "t"
    for path in tables.glob("*.csv"):
        rows = pl.read_csv(path, infer_schema=False)
        keys = [key for key in ("vehicle_id", "job_id") if key in rows.columns]
        both = pl.concat([rows, rows.with_columns(pl.col(key) + "-copy" for key in keys)]) if keys else rows
        both.sample(fraction=1.0, shuffle=True, seed=5).write_csv(folder / path.name)
    load([folder], store)
    with open_store(store) as snapshot:
        yield snapshot


def test_the_tests_of_groups_are_those_of_lifelines(sample: Snapshot) -> None:
    repairs = repair_rows(sample).rows.with_columns(pl.col("workshop").fill_null(""))
    told = comeback_differences(sample, by=("workshop",))
    there = multivariate_logrank_test(repairs["followed_days"], repairs["workshop"], repairs["kind"].is_not_null())
    assert any(
        f"chi-squared {there.test_statistic:.1f} on {there.degrees_of_freedom} df" in note for note in told.notes
    )
    for row in told.rows.head(3).rows(named=True):
        mine = repairs["workshop"] == (row["workshop"] or "")
        shares = []
        for part in (repairs.filter(mine), repairs.filter(~mine)):
            curve = KaplanMeierFitter().fit(part["followed_days"], part["kind"].is_not_null())
            shares.append(1 - float(curve.predict(90)))
        assert row["share_difference"] == pytest.approx(shares[0] - shares[1])


def test_comebacks_expected_add_up_to_those_seen_within_each_mix(sample: Snapshot) -> None:
    rows = comeback_differences(sample, by=("checks_after",)).rows
    assert rows["expected_comebacks"].sum() == pytest.approx(rows["comebacks"].sum())
    assert rows["expected_within"].sum() == pytest.approx(rows["comebacks"].sum())


def test_the_funnel_has_the_limits_of_scipys_binomial(sample: Snapshot) -> None:
    told = comeback_funnel(sample)
    for row in told.rows.rows(named=True):
        low, high = (float(binom.ppf(q, row["repairs"], row["share_of_all"])) for q in (0.025, 0.975))
        assert (row["share_low_95"] * row["repairs"], row["share_high_95"] * row["repairs"]) == pytest.approx(
            (low, high)
        )
    assert told.rows["expected_within"].sum() == pytest.approx(told.rows["comebacks"].sum())
    assert told.rows["repairs"].sum() + told.excluded[-1].count == repair_rows(sample).rows.height


def test_a_workshop_with_four_jobs_is_not_called_the_worst() -> None:
    jobs, actions = [], []
    for number in range(44):
        small = number >= 40
        for place, day in enumerate((date(2024, 1, 10), date(2024, 2, 10))):
            if place and number not in (0, 1, 40, 41):
                continue
            name = f"J{number}-{place}"
            jobs.append(job(name, day, 1_000.0 + 300 * place) | {"vehicle_id": f"V{number}"})
            jobs[-1]["workshop"] = "Small" if small and not place else "Large"
            actions.append(did(name, "clean"))
    vans = [VAN | {"vehicle_id": f"V{number}"} for number in range(44)]
    with snapshot_of(vans, jobs, actions=actions, as_of=date(2024, 12, 31)) as snapshot:
        rows = comeback_funnel(snapshot, "egr_valve").rows
    small = rows.filter(pl.col("workshop") == "Small").row(0, named=True)
    assert (small["repairs"], small["comebacks"]) == (4, 2)
    assert small["comeback_share"] == rows["comeback_share"].max()
    assert binom.sf(1, 4, small["share_of_all"]) > 0.025  # two or more of four is nothing unusual
    assert small["standing"] == "within chance, few to tell"


def test_the_first_visit_fix_share_is_one_minus_the_comeback_share(sample: Snapshot) -> None:
    rows = comebacks(sample, by=("checks_after",)).rows.drop_nulls("share_90d")
    assert (rows["first_visit_fix"] + rows["share_90d"]).to_list() == pytest.approx([1.0] * rows.height)
    assert (rows["first_visit_fix_low"] + rows["share_90d_high"]).to_list() == pytest.approx([1.0] * rows.height)


BOUGHT = job("J1", date(2024, 1, 31), 10_000.0, closed_at=date(2024, 2, 1))


@pytest.mark.parametrize(
    ("terms", "inside"),
    [
        (Terms(Term(3)), True),  # to the same day of the month: 1 May
        (Terms(Term(2)), False),
        (Terms(Term(3, 4_999.0)), False),
        (Terms(Term(km=5_000.0)), True),
        (Terms(Term(1), {"egr_valve": Term(3)}), True),
        (Terms(Term(1), {"used": Term(3)}), True),
        (Terms(Term(3), {"egr_valve": Term(1), "used": Term(3)}), False),  # the component's own term goes first
    ],
)
def test_a_part_fails_inside_its_term(terms: Terms, inside: bool) -> None:
    jobs = [BOUGHT, job("J2", date(2024, 3, 1), 12_000.0, "scheduled"), job("J3", date(2024, 5, 1), 15_000.0), END]
    actions = [
        did("J1", "replace", part_number="10-1", part_grade="used"),
        did("J2", "clean"),  # leaves the term running
        did("J3", "replace", parts_cost=90.0, labour_cost=40.0),
    ]
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        claims = warranty_claims(snapshot, terms=terms).rows
        total = warranty_totals(snapshot, by=(), terms=terms).rows.row(0, named=True)
    assert claims["fail_job_id"].to_list() == (["J3"] if inside else [])
    assert (total["fitted"], total["parts_failed"]) == (2, int(inside))
    if inside:
        row = claims.row(0, named=True)
        assert (row["part_number"], row["days"], row["km"], row["claim_value"]) == ("10-1", 90, 5_000.0, 130.0)
        assert row["odometers"] == "both recorded"


def test_a_guessed_odometer_is_flagged() -> None:
    jobs = [BOUGHT, job("J3", date(2024, 5, 1), None), END]
    with snapshot_of([VAN], jobs, actions=[did("J1", "replace"), did("J3", "clean")]) as snapshot:
        told = warranty_claims(snapshot)
    assert told.rows["odometers"].to_list() == ["estimated"]
    assert any("rest on an odometer that isn't recorded" in note for note in told.notes)


def test_components_add_up_to_the_vehicles_and_codes_do_not_pretend_to(sample: Snapshot) -> None:
    whole = costs(sample, "vehicle").rows["total_cost"].sum()
    assert costs(sample, "component").rows["total_cost"].sum() == pytest.approx(whole)
    assert costs(sample, "model").rows["total_cost"].sum() == pytest.approx(whole)
    assert any("don't add up" in sentence for sentence in costs(sample, "code").assumed)
    money = cost_rows(sample, "vehicle").rows.select(pl.col("labour_cost", "parts_cost").sum()).row(0)
    assert sum(money) == pytest.approx(whole)


def test_a_credit_is_netted_and_an_open_job_censored() -> None:
    jobs = [FIRST, job("J2", date(2024, 6, 1), 20_000.0), END]
    actions = [
        did("J1", "replace", quantity=2.0, parts_cost=100.0),
        did("J1", "credit", parts_cost=-30.0),
        did("J2", "clean"),
    ]
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        (row,) = costs(snapshot).rows.rows(named=True)
    assert (row["total_cost"], row["jobs"], row["jobs_without_cost"]) == (70.0, 2, 1)
    assert (row["fault_jobs"], row["open_jobs"]) == (2, 1)
    assert row["per_1000km_low"] is None  # one vehicle has no spread


def test_two_fleets_cost_twice_and_leave_the_ratios(sample: Snapshot, twice: Snapshot) -> None:
    here, there = (costs(one, "component").rows.sort("component") for one in (sample, twice))
    counts = ["jobs", "total_cost", "km", "downtime_h", "fault_jobs", "open_jobs"]
    assert_frame_equal(there.select(counts), here.select(pl.col(counts) * 2), rel_tol=1e-9)
    for name in ("per_1000km", "median_downtime_h", "median_open_h"):
        assert_frame_equal(there.select(name), here.select(name), rel_tol=1e-9)
    mine, both = (warranty_totals(one).rows.sort("component", "part_grade") for one in (sample, twice))
    assert_frame_equal(both.select("fitted", "parts_failed"), mine.select(pl.col("fitted", "parts_failed") * 2))
    before, after = (campaign(one, "egr_valve", Treatment("egr_valve", "clean")).rows for one in (sample, twice))
    assert_frame_equal(after.select("rate_ratio"), before.select("rate_ratio"), rel_tol=1e-9)
    first, second = (comeback_differences(one, by=("checks_after",)).rows for one in (sample, twice))
    assert_frame_equal(second.select("share_difference"), first.select("share_difference"), rel_tol=1e-9)


def test_a_campaign_is_found_only_where_it_was(sample: Snapshot) -> None:
    told = campaign(sample, "egr_valve", Treatment(depot="Osmere", from_on=date(2023, 3, 1)))
    vehicles = campaign_vehicles(sample, "egr_valve", Treatment(depot="Osmere", from_on=date(2023, 3, 1))).rows
    assert vehicles.filter(pl.col("side") == "treated")["depot"].unique().to_list() == ["Osmere"]
    treated, untreated, against = told.rows.rows(named=True)
    assert against["rate_ratio"] == pytest.approx(treated["rate_ratio"] / untreated["rate_ratio"])
    rates = [
        side[f"failures_{period}"] / side[f"km_{period}"]
        for side in (treated, untreated)
        for period in ("before", "after")
    ]
    assert against["rate_ratio"] == pytest.approx(np.exp(np.log(rates) @ [-1, 1, 1, -1]))
    assert any("Regression to the mean" in note for note in told.notes)


def test_nothing_treated_is_said_in_words(sample: Snapshot) -> None:
    told = campaign(sample, "egr_valve", Treatment("egr_valve", "software"), filters=Filters())
    assert told.rows.is_empty()
    assert "There is no treated and no untreated vehicle" in told.notes[0]
