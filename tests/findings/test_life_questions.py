"""Fates, comparisons, fits, B-lives and repeat failures against slow definitions and general-purpose libraries."""

from collections import Counter
from datetime import date, timedelta
from math import log
from typing import Any

import numpy as np
import polars as pl
import pytest
from findings.by_hand import Fleet
from findings.direct import snapshot_of
from findings.test_by_hand import fleets, near
from hypothesis import HealthCheck, given, settings
from lifelines import NelsonAalenFitter
from scipy.stats import chi2
from statsmodels.duration.survfunc import survdiff

from fleetlens.errors import FleetlensError
from fleetlens.findings.b_lives import AT_LEAST, FITTED, GIVEN, b_lives
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.fates import FATES, RUNNING, fate_curves, fates
from fleetlens.findings.filters import Filters
from fleetlens.findings.life_comparison import compared_lives, two_groups
from fleetlens.findings.life_fit import UNTOLD, cumulative_hazards, life_fit, probability_points
from fleetlens.findings.lives import component_lives, life_rows, survival_curves
from fleetlens.findings.recurrence import recurrence_difference, recurrent_failures
from fleetlens.findings.vehicle_failures import failure_rows
from fleetlens.intake.load import load
from fleetlens.reliability.fit_check import UNLIKE
from fleetlens.sample import make_sample
from fleetlens.store.reader import Snapshot, open_store

thorough = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
EGR = "egr_valve"


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> Any:
    folder = make_sample(tmp_path_factory.mktemp("fleet"), vehicles=160, seed=5).folder
    load([folder], folder / "store")
    with open_store(folder / "store") as opened:
        yield opened


def known_lives(fleet: Fleet, component: str) -> list[dict[str, Any]]:
    """The lives that count: with an odometer, and with distance under observation."""
    lives = [life for life in fleet.lives() if life["component"] == component]
    return [
        {**life, "entry": life["entry_km"] - life["start_km"], "age": life["end_km"] - life["start_km"]}
        for life in lives
        if life["entry_km"] is not None and life["end_km"] is not None and life["start_km"] is not None
        if life["end_km"] > life["entry_km"]
    ]


def incidence_by_hand(lives: list[dict[str, Any]], fate: str) -> list[tuple[float, float]]:
    """Aalen–Johansen: at each age the share still there times the share of those at risk that met the fate."""
    told, still, met = [], 1.0, 0.0
    for age in sorted({life["age"] for life in lives if life["ended"] in FATES}):
        at_risk = sum(life["entry"] < age <= life["age"] for life in lives)
        ends = Counter(life["ended"] for life in lives if life["age"] == age)
        met += still * ends[fate] / at_risk
        still *= 1 - sum(ends[each] for each in FATES) / at_risk
        if ends[fate]:
            told.append((age, met))
    return told


@thorough
@given(fleets())
def test_fates_are_those_of_the_definition(fleet: dict[str, Any]) -> None:
    hand = Fleet(**fleet)
    if EGR not in {component for _, component, _ in hand.parts()}:
        return
    lives = known_lives(hand, EGR)
    with snapshot_of(**fleet) as opened:
        curves, table = fate_curves(opened, EGR, by=()).rows, fates(opened, EGR, by=(), at=(1000.0,)).rows
    for fate in FATES:
        steps = curves.filter((pl.col("fate") == fate) & (pl.col("events") > 0)).select("km", "share_ended").rows()
        assert near(steps) == near(incidence_by_hand(lives, fate))
    counts = Counter(life["ended"] if life["ended"] in FATES else RUNNING for life in lives)
    assert dict(table.filter(pl.col("ended_so") > 0).select("fate", "ended_so").iter_rows()) == counts


def test_the_fates_of_a_group_add_up_and_running_is_kaplan_meier_of_any_end(snapshot: Snapshot) -> None:
    distances = (20_000.0, 60_000.0)
    rows = fates(snapshot, EGR, by=("duty",), at=distances).rows.explode("incidence").unnest("incidence")
    whole = rows.group_by("duty", "km").agg(pl.col("share").sum(), nulls=pl.col("share").null_count())
    assert whole.filter(nulls=0)["share"].to_list() == pytest.approx([1.0] * whole.filter(nulls=0).height)
    none_yet = rows.filter((pl.col("share") == 0) & (pl.col("fate") == "preventive"))
    assert none_yet.height > 0
    assert none_yet["low"].to_list() == [0.0] * none_yet.height
    assert (none_yet["high"] > 0).all()
    # A part renewed in time can't fail: the incidence lies below one minus Kaplan–Meier.
    failed = rows.filter(fate="failed", km=60_000.0)
    alone = component_lives(snapshot, EGR, by=("duty",), at=distances).rows.explode("survival").unnest("survival")
    naive = 1 - alone.filter(km=60_000.0)["share"]
    assert (failed["share"].drop_nulls() <= naive.drop_nulls() + 1e-12).all()


def p_by_hand(lives: pl.DataFrame, model: str, strata: list[str]) -> float:
    """Log-rank of one model against the others, with late entry, death by death within each stratum."""
    excess = spread = 0.0
    layers = lives.partition_by(strata) if strata else [lives]
    for layer in layers:
        rows = layer.select("entry", "age_km", "failed", mine=pl.col("model") == model).rows()
        for age in {end for _, end, failed, _ in rows if failed}:
            risk = [(end, failed, mine) for entry, end, failed, mine in rows if entry < age <= end]
            n, own = len(risk), sum(mine for _, _, mine in risk)
            dead = [mine for end, failed, mine in risk if failed and end == age]
            excess += sum(dead) - len(dead) * own / n
            if n > 1:
                spread += len(dead) * own / n * (1 - own / n) * (n - len(dead)) / (n - 1)
    return float(chi2.sf(excess**2 / spread, 1))


@pytest.mark.parametrize("within", [(), ("duty",)])
def test_the_comparison_is_the_log_rank_test(snapshot: Snapshot, within: tuple[str, ...]) -> None:
    """Outside check without strata: statsmodels survdiff with late entry, on the rows that open."""
    finding = compared_lives(snapshot, EGR, by=("model",), within=within)
    rows = life_rows(snapshot, EGR).rows.with_columns(
        entry=pl.col("entry_km") - pl.col("start_km"), failed=pl.col("ended") == "failed"
    )
    assert finding.rows["expected"].sum() == pytest.approx(finding.rows["failures"].sum())
    for row in finding.rows.iter_rows(named=True):
        assert row["p"] == pytest.approx(p_by_hand(rows, row["model"], list(within)), rel=1e-6)
        assert row["q"] >= row["p"]
    assert any("mix" in note for note in finding.notes) == (not within)
    (told,) = [note for note in finding.notes if "chi-squared" in note]
    if not within:
        given = [rows[name].to_numpy() for name in ("age_km", "failed", "model")]
        chi_squared, p = survdiff(given[0], given[1].astype(int), given[2], entry=rows["entry"].to_numpy())
        assert float(told.split("chi-squared ")[1].split(" ")[0]) == pytest.approx(chi_squared, abs=0.006)
        assert ("They don't fail alike" in told) == (p < 0.05)


def test_two_groups_are_their_kaplan_meier_curves(snapshot: Snapshot) -> None:
    rows = two_groups(snapshot, EGR, "duty", "multi-drop", "motorway", at=(40_000.0, 70_000.0)).rows
    alone = component_lives(snapshot, EGR, by=("duty",), at=(40_000.0, 70_000.0)).rows
    for column, duty in (("share_first", "multi-drop"), ("share_second", "motorway")):
        told = [1 - point["share"] for point in alone.filter(duty=duty)["survival"][0]]
        assert rows[column].to_list() == pytest.approx(told)
    assert rows["difference"].to_list() == pytest.approx((rows["share_first"] - rows["share_second"]).to_list())
    assert (rows["difference_low"] < rows["difference"]).all()
    turned = two_groups(snapshot, EGR, "duty", "motorway", "multi-drop", at=(40_000.0, 70_000.0)).rows
    assert turned["difference_high"].to_list() == pytest.approx((-rows["difference_low"]).to_list())


def test_the_hazard_is_that_of_lifelines(snapshot: Snapshot) -> None:
    """Outside check: lifelines NelsonAalenFitter with late entry, on the rows that open."""
    rows = life_rows(snapshot, EGR).rows
    ours = cumulative_hazards(snapshot, EGR, by=()).rows
    theirs = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(
        rows["age_km"].to_numpy(),
        (rows["ended"] == "failed").to_numpy(),
        entry=(rows["entry_km"] - rows["start_km"]).to_numpy(),
    )
    there = theirs.cumulative_hazard_.iloc[:, 0]
    assert ours["hazard"].to_list() == pytest.approx([there[km] for km in ours["km"]], rel=1e-9)


def test_b_lives_are_the_fit_at_any_share(snapshot: Snapshot) -> None:
    rows = b_lives(snapshot, EGR, by=("model",), shares=(0.5, 0.1)).rows
    figures = component_lives(snapshot, EGR, by=("model",)).rows
    tenth = rows.filter(share_of_lives=0.1)
    assert rows["share_of_lives"].head(2).to_list() == [0.1, 0.5]
    for ours, theirs in (("life_km", "b10_km"), ("life_low", "b10_low"), ("life_high", "b10_high"), ("shape", "shape")):
        assert tenth[ours].to_list() == pytest.approx(figures[theirs].to_list())
    assert set(rows["basis"]) == {FITTED}
    half = rows.filter(share_of_lives=0.5)
    expected = figures["characteristic_life_km"] * log(2) ** (1 / figures["shape"])
    assert half["life_km"].to_list() == pytest.approx(expected.to_list())


def fresh_fleet(ends: list[tuple[float, str]]) -> dict[str, Any]:
    """New vehicles, each with one part that ran so far and ended so: failed, scheduled or running."""
    vehicles, jobs, actions, odometer = [], [], [], []
    start = date(2020, 1, 1)
    for number, (km, how) in enumerate(ends):
        vehicle, last = f"V{number:03}", start + timedelta(1 + round(km / 100))
        duty = "short" if number % 2 else "long"
        vehicles.append(
            {
                **{"vehicle_id": vehicle, "model": "A", "duty": duty, "depot": "North", "in_service_on": start},
                "model_year": 2008 + number % 11,
                **{"in_service_km": 0.0, "history_from": start, "left_service_on": last},
            }
        )
        if how == "running":
            odometer.append({"vehicle_id": vehicle, "read_at": last, "km": km})
            if number:
                continue
        reason = {"failed": "breakdown", "scheduled": "scheduled", "running": "inspection"}[how]
        job = f"{vehicle}-1"
        jobs.append({"job_id": job, "vehicle_id": vehicle, "opened_at": last, "reason": reason, "odometer_km": km})
        action = "inspect" if how == "running" else "replace"
        actions.append({"job_id": job, "component": EGR, "action": action})
    return {"vehicles": vehicles, "jobs": jobs, "actions": actions, "odometer": odometer}


@pytest.mark.parametrize("failures", [0, 1, 2, 5])
def test_few_failures_are_told_honestly(failures: int) -> None:
    """Without a fit the one-sided lower limit of Nelson 1985: scipy's chi-squared on 2 (failures + 1) degrees."""
    ages = [10_000.0 + 1_000 * place for place in range(12)]
    ends = [(age, "failed" if place < failures else "running") for place, age in enumerate(reversed(ages))]
    with snapshot_of(**fresh_fleet(ends)) as opened:
        finding = b_lives(opened, EGR, by=(), shares=(0.1,))
        given = b_lives(opened, EGR, by=(), shares=(0.1,), shape=2.5)
    row, shaped = finding.rows.row(0, named=True), given.rows.row(0, named=True)
    assert (row["lives"], row["failures"]) == (12, failures)
    if failures < 2:
        assert (row["basis"], row["life_km"], row["life_high"], row["shape"]) == (AT_LEAST, None, None, 1.0)
        low = 2 * sum(ages) / chi2.ppf(0.95, 2 * failures + 2) * -log(0.9)
        assert row["life_low"] == pytest.approx(low)
        assert any("No fit, too few failures" in note for note in finding.notes)
        assert any("a shape of 1 is assumed" in told for told in finding.assumed)
    else:
        assert row["basis"] == FITTED
        assert any("Too wide to plan by" in note for note in finding.notes) == (row["life_high"] > 3 * row["life_low"])
    assert any("The shape 2.5 is as given" in told for told in given.assumed)
    total = sum(age**2.5 for age in ages)
    if failures:
        assert shaped["basis"] == GIVEN
        assert shaped["life_km"] == pytest.approx((total / failures * -log(0.9)) ** (1 / 2.5))
        assert shaped["shape_low"] is None
    else:
        assert shaped["basis"] == AT_LEAST
        assert shaped["life_low"] == pytest.approx((2 * total / chi2.ppf(0.95, 2) * -log(0.9)) ** (1 / 2.5))


def test_a_limit_beyond_what_ran_is_said() -> None:
    with snapshot_of(**fresh_fleet([(10_000.0, "running")] * 60)) as opened:
        finding = b_lives(opened, EGR, by=(), shares=(0.5,))
    assert finding.rows["life_low"][0] > 10_000
    assert any("Beyond the longest life seen" in note for note in finding.notes)


def test_a_shape_can_be_taken_from_a_named_group(snapshot: Snapshot) -> None:
    finding = b_lives(snapshot, EGR, by=("model",), shape_from={"duty": "multi-drop"})
    of_group = component_lives(snapshot, EGR, by=("duty",)).rows.filter(duty="multi-drop")["shape"][0]
    assert finding.rows["shape"].to_list() == pytest.approx([of_group] * finding.rows.height)
    assert set(finding.rows["basis"]) == {GIVEN}
    assert any("is that of duty multi-drop" in told for told in finding.assumed)
    with pytest.raises(FleetlensError, match="has no fit to take the shape"):
        b_lives(snapshot, EGR, shape_from={"duty": "none such"})
    with pytest.raises(FleetlensError, match="twice"):
        b_lives(snapshot, EGR, shape=2.0, shape_from={"duty": "motorway"})
    with pytest.raises(FleetlensError, match="aren't shares"):
        b_lives(snapshot, EGR, shares=(0.0,))


def mixture() -> dict[str, Any]:
    """Parts that wear out at about 20,000 km on short trips and at about 120,000 km on long ones."""
    chance = np.random.default_rng(3)
    ends = []
    for number in range(240):
        life = (20_000 if number % 2 else 120_000) * chance.weibull(4.0)
        ends.append((round(float(min(life, 150_000))), "failed" if life < 150_000 else "running"))
    return fresh_fleet(ends)


def test_a_mixture_is_found_and_the_split_that_explains_it() -> None:
    with snapshot_of(**mixture()) as opened:
        together, apart = life_fit(opened, EGR, by=()), life_fit(opened, EGR, by=("duty",))
    assert together.rows["reading"].to_list() == [UNLIKE]
    assert together.rows["fit_p"][0] < 1e-6
    (told,) = together.notes
    assert "one Weibull doesn't describe the lives" in told
    assert told.endswith("Try to split by duty.")
    assert UNLIKE not in apart.rows["reading"].to_list()
    assert apart.notes == ()


def test_a_key_with_many_groups_is_no_explanation() -> None:
    """Two kinds that nothing on record tells apart: eleven model years fit any noise better, at a price."""
    chance = np.random.default_rng(8)
    ends = [
        (round((20_000 if fouls else 120_000) * float(chance.weibull(4.0))) + 500.0, "failed")
        for fouls in chance.random(240) < 0.5
    ]
    with snapshot_of(**fresh_fleet(ends)) as opened:
        (told,) = life_fit(opened, EGR, by=()).notes
    assert "No key on record splits it better" in told


def test_too_few_failures_tell_nothing_of_the_fit() -> None:
    ends = [(10_000.0 + 500 * place, "failed" if place % 3 == 0 else "running") for place in range(18)]
    with snapshot_of(**fresh_fleet(ends)) as opened:
        finding = life_fit(opened, EGR, by=())
    assert (finding.rows["fit_p"][0], finding.rows["reading"][0]) == (None, UNTOLD)


def test_the_points_stand_halfway_up_the_steps_of_the_curve(snapshot: Snapshot) -> None:
    points = probability_points(snapshot, "boost_hose", by=("duty",)).rows
    steps = survival_curves(snapshot, "boost_hose", by=("duty",)).rows
    fit = component_lives(snapshot, "boost_hose", by=("duty",)).rows
    inspected = life_rows(snapshot, "boost_hose").rows["known_good_km"].count()
    assert inspected > 0  # those stand in the middle of their interval, so only other groups' points are the curve's
    for duty in points["duty"].unique():
        mine, curve = points.filter(duty=duty), steps.filter(duty=duty)
        row = fit.filter(duty=duty).row(0, named=True)
        assert mine["share_failed_by"].is_sorted()
        if row["shape"] is None:
            assert mine["share_fitted"].null_count() == mine.height
            continue
        fitted = 1 - np.exp(-((mine["km"].to_numpy() / row["characteristic_life_km"]) ** row["shape"]))
        assert mine["share_fitted"].to_list() == pytest.approx(list(fitted))
        assert mine.height <= curve.height
    egr = probability_points(snapshot, EGR, by=()).rows
    whole = survival_curves(snapshot, EGR, by=()).rows.filter(pl.col("failures") > 0)
    before = [1.0, *whole["share"].to_list()[:-1]]
    middle = [1 - (high + low) / 2 for high, low in zip(before, whole["share"], strict=True)]
    assert egr["share_failed_by"].to_list() == pytest.approx([share for share in middle if share < 1][: egr.height])


# Repeat failures


def repeats_by_hand(fleet: Fleet, component: str) -> tuple[dict[str, tuple[float, float]], list[tuple[str, float]]]:
    """The odometers between which each carrier is observed, and its failures inside."""
    spans: dict[str, tuple[float, float]] = {}
    for vehicle, name, _ in fleet.parts():
        start, end = fleet.record(vehicle)
        ends = [fleet.usage(vehicle["vehicle_id"], day) for day in (start, end)]
        if name == component and None not in ends and ends[1] > ends[0]:
            spans[vehicle["vehicle_id"]] = (ends[0], ends[1])
    seen = {job["job_id"] for vehicle in fleet.vehicles for job in fleet.observed(vehicle)}
    events = []
    for life in fleet.lives():
        if life["component"] == component and life["ended"] == "failed" and life["end_job_id"] in seen:
            low, high = spans.get(life["vehicle_id"], (0.0, -1.0))
            if life["end_km"] is not None and low < life["end_km"] <= high:
                events.append((life["vehicle_id"], life["end_km"]))
    return spans, events


@thorough
@given(fleets())
def test_failures_and_their_trend_are_those_of_the_definition(fleet: dict[str, Any]) -> None:
    hand = Fleet(**fleet)
    if EGR not in {component for _, component, _ in hand.parts()}:
        return
    spans, events = repeats_by_hand(hand, EGR)
    # A part that was disabled has no life for the next failure to end; the rows count endings, so leave such fleets.
    if any(row["action"] == "disable" for row in fleet["actions"]):
        return
    with snapshot_of(**fleet) as opened:
        rows, trend = failure_rows(opened, EGR).rows, failure_trends(opened, EGR).rows
        curve = recurrent_failures(opened, EGR).rows
    assert near(rows.select("vehicle_id", "km").rows()) == near(events)
    assert curve["events"].sum() == len(events)
    if not trend.height:
        assert not spans
        return
    row = trend.row(0, named=True)
    assert (row["vehicles"], row["failures"]) == (len(spans), len(events))
    if events:
        lengths = [spans[vehicle][1] - spans[vehicle][0] for vehicle, _ in events]
        passed = [km - spans[vehicle][0] for vehicle, km in events]
        excess = sum(done - length / 2 for done, length in zip(passed, lengths, strict=True))
        assert row["laplace"] == pytest.approx(excess / sum(length**2 / 12 for length in lengths) ** 0.5)
        score = 2 * sum(log(length / done) for done, length in zip(passed, lengths, strict=True))
        below, degrees = chi2.cdf(score, 2 * len(events)), 2 * len(events)
        assert row["trend_p"] == pytest.approx(min(1, 2 * min(below, 1 - below)), abs=1e-9)
        if len(events) >= 6 and row["trend_p"] < 0.05:
            assert row["trend"] == ("getting worse" if score < degrees else "getting better")
    if len(events) < 6:
        assert row["trend"].startswith("fewer than 6 failures")


def test_a_failure_at_the_very_start_of_a_record_is_left_out_and_counted() -> None:
    start = date(2024, 1, 1)
    jobs = [
        {"job_id": f"J{km}", "vehicle_id": "V", "opened_at": start + timedelta(km // 100), "reason": "defect"}
        | {"odometer_km": 500.0 + km}
        for km in (0, 4_000)
    ]
    actions = [{"job_id": job["job_id"], "component": EGR, "action": "replace"} for job in jobs]
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": start, "in_service_km": 500.0}]
    with snapshot_of(vehicles, jobs, actions=actions) as opened:
        finding = failure_rows(opened, EGR)
    assert finding.rows["job_id"].to_list() == ["J4000"]
    assert [count.count for count in finding.excluded if "at its very start" in count.reason] == [1]


def test_the_difference_is_that_of_the_curves(snapshot: Snapshot) -> None:
    curves = recurrent_failures(snapshot, EGR, by=("duty",)).rows
    rows = recurrence_difference(snapshot, EGR, "duty", "multi-drop", "motorway", at=(60_000.0, 90_000.0)).rows
    for column, duty in (("mean_first", "multi-drop"), ("mean_second", "motorway")):
        mine = curves.filter(duty=duty)
        told = [mine.filter(pl.col("km") <= km)["mean_events"][-1] for km in rows["km"]]
        assert rows[column].to_list() == pytest.approx(told)
    assert rows["difference"].to_list() == pytest.approx((rows["mean_first"] - rows["mean_second"]).to_list())


def test_rows_open_the_figures(snapshot: Snapshot) -> None:
    model = life_rows(snapshot, EGR).rows["model"][0]
    some = Filters(model=(model,))
    trend = failure_trends(snapshot, EGR, some).rows
    assert trend["failures"].to_list() == [failure_rows(snapshot, EGR, some).rows.height]
    counted = fates(snapshot, EGR, by=("model",)).rows.filter(model=model)
    ended = life_rows(snapshot, EGR, some).rows["ended"]
    assert dict(counted.select("fate", "ended_so").iter_rows())["failed"] == (ended == "failed").sum()


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda shot: compared_lives(shot, EGR, by=()), "nothing to compare by"),
        (lambda shot: compared_lives(shot, EGR, by=("duty",), within=("duty",)), "can't be what is compared"),
        (lambda shot: two_groups(shot, EGR, "duty", "none such", "site"), "no life has duty 'none such'"),
        (lambda shot: two_groups(shot, None, "duty", "motorway", "site"), "one component's lives"),
        (lambda shot: recurrence_difference(shot, EGR, "depot", "none such", "Osmere"), "no vehicle has depot"),
        (lambda shot: recurrence_difference(shot, None, "duty", "motorway", "site"), "one component's failures"),
        (lambda shot: recurrent_failures(shot, EGR, by=("began_as",)), "can't split by 'began_as'"),
    ],
)
def test_what_cannot_be_answered_is_said(snapshot: Snapshot, ask: Any, words: str) -> None:
    with pytest.raises(FleetlensError, match=words):
        ask(snapshot)
