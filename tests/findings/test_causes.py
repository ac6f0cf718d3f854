"""Causes, checks and remedies against the rules written by hand, and the shares against what they must keep."""

from collections import Counter, defaultdict
from datetime import date, timedelta
from statistics import median
from typing import Any

import polars as pl
import pytest
from findings.by_hand import FAULT, REPAIRING, Fleet, Row
from findings.direct import snapshot_of
from findings.test_by_hand import fleets, near
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.stats import beta

from fleetlens.advice.bench import cause_split
from fleetlens.advice.cautions import CAUTIONS
from fleetlens.errors import FleetlensError
from fleetlens.findings.cause_evidence import cause_checks, cause_remedies
from fleetlens.findings.causes import NEVER_SKIP, cause_rows, confirmed_causes
from fleetlens.findings.comebacks import repair_rows
from fleetlens.findings.filters import Filters
from fleetlens.store.reader import Snapshot

NOT_DONE = {"advise", "quote", "decline", "defer", "negated", "credit"}
thorough = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def by_hand(fleet: Fleet, codes: set[str]) -> list[tuple[Any, ...]]:
    """(job, component, cause, remedy) of each fault job that logged one of the codes."""
    told: list[tuple[Any, ...]] = []
    for vehicle in fleet.vehicles:
        for job in fleet.observed(vehicle):
            if job["reason"] not in FAULT or not fleet.codes_of(job) & codes:
                continue
            rows = [row for row in fleet.actions_of(job) if (row.get("cause") or "").strip()]
            causes = {(row["component"], row["cause"].strip().lower()) for row in rows if row["action"] not in NOT_DONE}
            told += [
                (job["job_id"], component, cause, remedy(fleet, job, component)) for component, cause in causes
            ] or [(job["job_id"], None, None, None)]
    return told


def remedy(fleet: Fleet, job: Row, component: str) -> str | None:
    done = {row["action"] for row in fleet.actions_of(job) if row["component"] == component}
    return next((action for action in REPAIRING if action in done), None)


@thorough
@given(fleets(), st.sampled_from([("P0401",), ("P0401", "P2002")]))
def test_the_rows_are_those_of_the_rules(fleet: dict[str, Any], codes: tuple[str, ...]) -> None:
    with snapshot_of(**fleet) as snapshot:
        found = cause_rows(snapshot, codes)
        hand = by_hand(Fleet(**fleet), set(codes))
        assert near(found.rows.select("job_id", "component", "cause", "remedy").rows()) == near(hand)
        causes = confirmed_causes(snapshot, codes)
    counts = Counter((component, cause) for _, component, cause, _ in hand if cause)
    assert dict(zip(causes.rows.select("component", "cause").rows(), causes.rows["jobs"], strict=True)) == counts
    silent = sum(cause is None for _, _, cause, _ in hand)
    assert sum(count.count for count in causes.excluded if "none is guessed" in count.reason) == silent


@pytest.fixture(scope="module")
def small() -> Any:
    """Thirty vans of three models: what P0401 was differs by model; some jobs say nothing."""
    vehicles, jobs, codes, actions, checks = [], [], [], [], []
    turns = {"A": ["Carbon ", "carbon", "dead sensor"], "B": ["carbon"], "C": ["dead sensor"]}
    for number in range(30):
        vehicle, model = f"V{number:02}", "ABC"[number % 3]
        vehicles.append({"vehicle_id": vehicle, "model": model, "in_service_on": date(2024, 1, 1)})
        for place in range(1 + number % 4):
            job = f"{vehicle}-{place}"
            turn = turns[model][(number + place) % len(turns[model])] if (number + place) % 5 else None
            day = date(2024, 2, 1) + timedelta(40 * place)
            jobs.append(
                {"job_id": job, "vehicle_id": vehicle, "opened_at": day, "reason": "defect", "odometer_km": 9e3 * place}
            )
            codes.append({"job_id": job, "code": "P0401"})
            actions.append(
                {
                    **{"job_id": job, "component": "egr_valve", "action": "clean" if place % 2 else "replace"},
                    **{"cause": turn, "labour_h": 1.0 + place, "labour_cost": 50.0 * place, "parts_cost": None},
                }
            )
            if turn:
                value = {"carbon": 1.4, "dead": 0.2}[turn.strip().lower().split()[0]]
                for seen in (value, 0.7):  # before the work and after it
                    checks.append(
                        {
                            **{"job_id": job, "component": "egr_valve", "check": "closed_signal", "unit": "V"},
                            **{"value": seen, "low": 0.5, "high": 1.0, "passed": None},
                        }
                    )
            checks.append({"job_id": job, "component": "egr_valve", "check": "road_test", "passed": place % 2 == 0})
    return {"vehicles": vehicles, "jobs": jobs, "codes": codes, "actions": actions, "checks": checks}


@pytest.fixture(scope="module")
def snapshot(small: dict[str, Any]) -> Any:
    with snapshot_of(**small) as opened:
        yield opened


def test_shares_without_a_model_are_those_of_a_beta_posterior(snapshot: Snapshot) -> None:
    """Outside check: scipy's beta distribution. One imaginary cause is spread over the kinds."""
    rows = confirmed_causes(snapshot, ["P0401"]).rows
    total, kinds = rows["jobs"].sum(), rows.height
    assert kinds == 2
    assert "elsewhere" not in rows.columns
    for jobs, share, low, high in rows.select("jobs", "^share_of_causes.*$").iter_rows():
        posterior = beta(jobs + 1 / kinds, total - jobs + 1 - 1 / kinds)
        assert (share, low, high) == pytest.approx((posterior.mean(), *posterior.ppf([0.025, 0.975])))


def test_a_model_leans_on_the_others_and_says_how_much(snapshot: Snapshot) -> None:
    finding = confirmed_causes(snapshot, ["P0401"], Filters(model=("B",)))
    everyone = confirmed_causes(snapshot, ["P0401"]).rows
    rows = {row["cause"]: row for row in finding.rows.iter_rows(named=True)}
    whole = dict(everyone.select("cause", "jobs").iter_rows())
    assert {cause: row["jobs"] + row["elsewhere"] for cause, row in rows.items()} == whole
    assert rows["dead sensor"]["jobs"] == 0 < rows["dead sensor"]["share_of_causes"]  # seen on other models only
    assert rows["carbon"]["share_of_causes"] < 1
    assert sum(row["share_of_causes"] for row in rows.values()) == pytest.approx(1)
    (told,) = [sentence for sentence in finding.assumed if "lean on" in sentence]
    strength = float(told.split("as if they were ")[1].split(" more")[0])
    weight = float(told.rsplit(": ", 1)[1].split("%")[0]) / 100
    own = sum(row["jobs"] for row in rows.values())
    assert weight == pytest.approx(strength / (strength + own), abs=0.006)
    elsewhere = sum(row["elsewhere"] for row in rows.values())
    expected = (rows["carbon"]["elsewhere"] + 1 / 2) / (elsewhere + 1)
    assert rows["carbon"]["share_of_causes"] == pytest.approx((own + strength * expected) / (own + strength), rel=0.01)


def test_hours_and_cost_are_medians_of_whole_jobs_that_record_any(small: dict[str, Any], snapshot: Snapshot) -> None:
    rows = confirmed_causes(snapshot, ["P0401"]).rows
    hours, cost = defaultdict(list), defaultdict(list)
    for action in small["actions"]:
        if action["cause"]:
            hours[action["cause"].strip().lower()].append(action["labour_h"])
            cost[action["cause"].strip().lower()].append(action["labour_cost"])
    for row in rows.iter_rows(named=True):
        paid = [amount for amount in cost[row["cause"]] if amount > 0]
        assert (row["median_labour_h"], row["labour_jobs"]) == (median(hours[row["cause"]]), row["jobs"])
        assert (row["median_cost"], row["cost_jobs"]) == (median(paid), len(paid))
        assert len(paid) < row["jobs"]


def test_checks_tell_causes_apart_by_what_failed_before_the_work(snapshot: Snapshot) -> None:
    finding = cause_checks(snapshot, ["P0401"])
    assert set(finding.rows["check"]) == {"closed_signal"}  # the road test proves the repair
    rows = {row["cause"]: row for row in finding.rows.iter_rows(named=True)}
    for cause, value in (("carbon", 1.4), ("dead sensor", 0.2)):
        row = rows[cause]
        assert (row["failed"], row["passed"], row["not_recorded"]) == (row["jobs"], 0, 0)
        assert (row["value_median"], row["value_lowest"], row["value_highest"]) == (value, value, value)
        assert (row["limit_low"], row["limit_high"]) == (0.5, 1.0)
    assert rows["carbon"]["other_failed"] == rows["dead sensor"]["jobs"]


def test_a_check_that_sets_a_cause_apart_stands_first() -> None:
    rows: dict[str, list[dict[str, Any]]] = {"jobs": [], "codes": [], "actions": [], "checks": []}
    for number in range(12):
        job, wired = f"J{number:02}", number % 2 == 0
        rows["jobs"].append(
            {"job_id": job, "vehicle_id": "V", "opened_at": date(2024, 1, 2 + number), "reason": "breakdown"}
        )
        rows["codes"].append({"job_id": job, "code": "P0404"})
        part = "wiring" if wired else "egr_valve"
        rows["actions"].append({"job_id": job, "component": part, "action": "repair", "cause": "broken"})
        for check, failed in (("a_same", True), ("reference_voltage", wired), ("z_closed_signal", not wired)):
            rows["checks"].append({"job_id": job, "component": None, "check": check, "passed": not failed})
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": date(2024, 1, 1)}]
    with snapshot_of(vehicles, **rows) as snapshot:
        found = cause_checks(snapshot, ["P0404"]).rows
    order = {component: found.filter(component=component)["check"].to_list() for component in ("wiring", "egr_valve")}
    assert order == {
        "wiring": ["reference_voltage", "a_same", "z_closed_signal"],
        "egr_valve": ["z_closed_signal", "a_same", "reference_voltage"],
    }
    first = found.filter(component="wiring", check="reference_voltage").row(0, named=True)
    assert (first["failed"], first["passed"], first["other_failed"], first["other_judged"]) == (6, 0, 0, 6)
    assert first["check_component"] is None


def test_remedies_are_the_repairs_of_the_comebacks_page(snapshot: Snapshot) -> None:
    finding = cause_remedies(snapshot, ["P0401"])
    repairs = repair_rows(snapshot, None, 90, 5000).rows
    jobs = cause_rows(snapshot, ["P0401"]).rows.filter(pl.col("cause").is_not_null())
    assert finding.rows["repairs"].sum() == jobs["remedy"].count()
    for row in finding.rows.iter_rows(named=True):
        mine = jobs.filter(component=row["component"], cause=row["cause"], remedy=row["action"])
        own = repairs.filter(pl.col("job_id").is_in(mine["job_id"].to_list()), component=row["component"])
        assert (row["repairs"], row["comebacks"]) == (own.height, own["kind"].count())


def test_two_lines_of_one_job_confirm_two_causes_and_position_none_twice() -> None:
    jobs = [{"job_id": "J", "vehicle_id": "V", "opened_at": date(2024, 2, 1), "reason": "defect"}]
    actions = [
        {"job_id": "J", "line": 1, "component": "egr_valve", "action": "replace", "cause": "Seat burnt"},
        {"job_id": "J", "line": 2, "component": "egr_valve", "action": "replace", "cause": "motor dead"},
        {"job_id": "J", "line": 3, "component": "glow_plug", "action": "replace", "cause": "open", "position": "left"},
        {"job_id": "J", "line": 4, "component": "glow_plug", "action": "replace", "cause": "open", "position": "right"},
        {"job_id": "J", "line": 5, "component": "dpf", "action": "advise", "cause": "ash"},
    ]
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": date(2024, 1, 1)}]
    with snapshot_of(vehicles, jobs, codes=[{"job_id": "J", "code": "P0404"}], actions=actions) as snapshot:
        rows = cause_rows(snapshot, ["P0404"]).rows
    assert rows.select("component", "cause").rows() == [
        ("egr_valve", "motor dead"),
        ("egr_valve", "seat burnt"),
        ("glow_plug", "open"),
    ]


def test_every_answer_forbids_to_skip_a_test_and_advice_carries_its_cautions(snapshot: Snapshot) -> None:
    for ask in (confirmed_causes, cause_checks, cause_remedies, cause_rows):
        assert NEVER_SKIP in ask(snapshot, ["P0401"]).notes
    for part in ("causes", "checks", "remedies"):
        assert cause_split(snapshot, ["P0401"], part).cautions == CAUTIONS
    with pytest.raises(FleetlensError, match="no part 'guess'"):
        cause_split(snapshot, ["P0401"], "guess")


def test_codes_in_any_spelling_once_and_what_is_no_code_is_answered(snapshot: Snapshot) -> None:
    once, twice = confirmed_causes(snapshot, ["P0401"]), confirmed_causes(snapshot, ["p0401 ", "P0401-64"])
    assert once.rows.equals(twice.rows)
    unseen = confirmed_causes(snapshot, ["P0299"])
    assert unseen.rows.is_empty()
    assert "No observed fault job kept logged P0299." in unseen.notes
    with pytest.raises(FleetlensError, match="'egr' is no fault code"):
        confirmed_causes(snapshot, ["egr"])
    with pytest.raises(FleetlensError, match="no code is given"):
        confirmed_causes(snapshot, [])


def test_a_component_keeps_its_rows_and_the_shares_of_all() -> None:
    jobs = [
        {"job_id": f"J{n}", "vehicle_id": "V", "opened_at": date(2024, 2, 1 + n), "reason": "defect"} for n in (0, 1)
    ]
    actions = [
        {"job_id": "J0", "component": "egr_valve", "action": "clean", "cause": "carbon"},
        {"job_id": "J1", "component": "wiring", "action": "repair", "cause": "open"},
    ]
    codes = [{"job_id": job["job_id"], "code": "P0404"} for job in jobs]
    vehicles = [{"vehicle_id": "V", "model": "A", "in_service_on": date(2024, 1, 1)}]
    with snapshot_of(vehicles, jobs, codes=codes, actions=actions) as opened:
        whole = confirmed_causes(opened, ["P0404"]).rows
        part = confirmed_causes(opened, ["P0404"], Filters(component=("wiring",))).rows
    assert part.equals(whole.filter(component="wiring"))
    assert part["share_of_causes"].to_list() == [0.5]


def test_two_fleets_count_twice(small: dict[str, Any], snapshot: Snapshot) -> None:
    def again(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        copies = [{**row, **{key: row[key] + "-b" for key in ("vehicle_id", "job_id") if key in row}} for row in rows]
        return rows + copies

    with snapshot_of(**{name: again(rows) for name, rows in small.items()}) as doubled:
        for ask in (confirmed_causes, cause_checks, cause_remedies):
            here, there = ask(doubled, ["P0401"]).rows, ask(snapshot, ["P0401"]).rows
            counts = [name for name, kind in there.schema.items() if kind == pl.Int64]
            assert counts
            assert here.select(counts).sort(counts).equals(there.select(pl.col(counts) * 2).sort(counts))
            kept = [name for name in there.columns if name.startswith(("median", "value", "limit"))]
            assert here.select(kept).equals(there.select(kept))
