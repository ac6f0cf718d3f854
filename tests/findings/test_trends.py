"""Trends: published charts through the whole question, the change against scipy, small groups, and the edges."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import pytest
from findings.direct import snapshot_of
from scipy.stats import binomtest, chi2, false_discovery_control

from fleetlens.errors import FleetlensError
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.findings.trends import changed_rates, rates_by_group, rates_by_period, trend_rows
from fleetlens.store.reader import Snapshot

START = date(2023, 1, 1)


def month(number: int) -> date:
    """The first day of a month after START."""
    return date(START.year + number // 12, number % 12 + 1, 1)


def van(name: str, **more: Any) -> dict[str, Any]:
    return {"vehicle_id": name, "model": "A", "in_service_on": START, "in_service_km": 0.0, "depot": "East", **more}


def job(job_id: str, vehicle_id: str, day: date) -> dict[str, Any]:
    return {"job_id": job_id, "vehicle_id": vehicle_id, "opened_at": day, "odometer_km": None, "reason": "defect"}


def histories(*vans: tuple[dict[str, Any], Sequence[float], dict[str, Sequence[int]]]) -> dict[str, Any]:
    """A fleet of (van, km of each month, episodes of each code in each month); every episode is repaired at once."""
    fleet: dict[str, Any] = {"vehicles": [], "jobs": [], "codes": [], "actions": [], "odometer": []}
    for vehicle, km, counts in vans:
        name = vehicle["vehicle_id"]
        fleet["vehicles"].append(vehicle)
        run = 0.0
        for number, gained in enumerate(km):
            run += gained
            fleet["odometer"].append({"vehicle_id": name, "read_at": month(number + 1), "km": run})
            for code, events in counts.items():
                for event in range(events[number]):
                    job_id = f"{name}-{code}-{number}-{event}"
                    day = month(number) + timedelta(event % 28)
                    fleet["jobs"].append(
                        {
                            "job_id": job_id,
                            "vehicle_id": name,
                            "opened_at": day,
                            "odometer_km": None,
                            "reason": "defect",
                        }
                    )
                    fleet["codes"].append({"job_id": job_id, "code": code})
                    fleet["actions"].append({"job_id": job_id, "component": "egr_valve", "action": "clean"})
    return fleet


def asked(fleet: dict[str, Any], question: Any, *given: Any, **more: Any) -> Finding:
    with snapshot_of(**fleet) as snapshot:
        found: Finding = question(snapshot, *given, **more)
    return found


def test_a_published_u_chart_comes_out_of_job_histories() -> None:
    """Montgomery, Introduction to Statistical Quality Control, 6th edition, example 7.4, from memory: 20 periods of 50
    units, 74 events: centre 0.0740, upper limit 0.1894, lower 0."""
    counts = [3] * 6 + [4] * 14
    fleet = histories((van("V1"), [50 * 100_000.0] * 20, {"P0401": counts}))
    rows = asked(fleet, rates_by_period).rows
    assert rows["episodes"].to_list() == counts
    assert rows["rate_per_100k_km"][-1] == pytest.approx(4 / 50)
    assert rows["centre_per_100k_km"].unique().to_list() == pytest.approx([0.0740], abs=5e-5)
    assert rows["control_high"].to_list() == pytest.approx([0.1894] * 20, abs=5e-5)
    assert set(rows["control_low"]) == {0.0}
    assert set(rows["signal"]) == {"within"}


def test_limits_widen_where_few_km_were_run_and_a_period_beyond_them_signals() -> None:
    km = [1_000_000.0] * 11 + [100_000.0]
    finding = asked(histories((van("V1"), km, {"P0401": [10] * 10 + [30, 2]})), rates_by_period)
    rows = finding.rows
    assert rows["control_high"][10] == pytest.approx(rows["control_high"][0])
    assert rows["control_high"][11] > 1.5 * rows["control_high"][0]
    assert rows["signal"].to_list() == ["within"] * 10 + ["above", "within"]
    assert any("1 of 12 periods lie outside the limits: 2023-11 above." in note for note in finding.notes)
    assert any("fewer than 5 episodes" in note for note in finding.notes)  # of the last month


def test_the_rate_of_a_period_has_its_exact_interval() -> None:
    """Against the chi-square form of the Poisson limits, by scipy."""
    row = asked(histories((van("V1"), [200_000.0] * 3, {"P0401": [0, 4, 9]})), rates_by_period).rows.row(1, named=True)
    assert row["rate_low"] == pytest.approx(chi2.ppf(0.025, 8) / 2 / 2)
    assert row["rate_high"] == pytest.approx(chi2.ppf(0.975, 10) / 2 / 2)


def test_changes_are_exact_and_say_how_many_were_screened() -> None:
    """Limits and p by scipy.stats.binomtest, q by scipy.stats.false_discovery_control."""
    codes = {f"P04{number:02}": [4, number] for number in range(1, 13)}
    km = [100_000.0, 150_000.0]
    finding = asked(histories((van("V1"), km, codes)), changed_rates)
    rows = finding.rows.sort("code")
    p = []
    for row, (before, after) in zip(rows.iter_rows(named=True), codes.values(), strict=True):
        test = binomtest(after, after + before, 150 / 250)
        low, high = test.proportion_ci(method="exact")
        odds = 100 / 150
        assert (row["latest"], row["earlier"]) == (after, before)
        assert row["change"] == pytest.approx(after / before * odds)
        assert row["change_low"] == pytest.approx(low / (1 - low) * odds)
        assert row["change_high"] == pytest.approx(high / (1 - high) * odds)
        tails = [binomtest(after, after + before, 150 / 250, alternative=side).pvalue for side in ("less", "greater")]
        p.append(min(1.0, 2 * min(tails)))
    assert rows["change_q"].to_list() == pytest.approx(false_discovery_control(p).tolist())
    assert any(note.startswith("12 codes were screened at once") for note in finding.notes)
    assert any("has 2." in note for note in finding.notes)  # months: no year to compare
    assert rows["change_12m"].null_count() == 12


def test_a_year_is_compared_with_the_year_before_once_the_record_has_both() -> None:
    counts = [1] * 12 + [2] * 12
    fleet = histories((van("V1"), [100_000.0] * 24, {"P0401": counts}))
    row = asked(fleet, changed_rates).rows.row(0, named=True)
    assert (row["latest_12m"], row["earlier_12m"], row["change_12m"]) == (24, 12, pytest.approx(2.0))
    by_quarter = asked(fleet, changed_rates, "codes", "quarter").rows.row(0, named=True)
    assert by_quarter["change_12m"] == pytest.approx(2.0)
    assert (by_quarter["latest"], by_quarter["earlier"]) == (6, 6)
    recurring = asked(fleet, recurring_codes).rows.row(0, named=True)
    assert (recurring["latest"], recurring["earlier"], recurring["change"]) == (24, 12, pytest.approx(2.0))
    notes = asked(fleet, rates_by_period).notes
    assert "2024-01 to 2024-12 against 2023-01 to 2023-12: 24 episodes after 12, per km 2.00 times the rate" in notes[1]


def test_recurring_codes_compare_what_a_short_record_has() -> None:
    finding = asked(histories((van("V1"), [100_000.0] * 7, {"P0401": [9, 1, 1, 1, 2, 2, 2]})), recurring_codes)
    row = finding.rows.row(0, named=True)
    assert (row["latest"], row["earlier"]) == (6, 3)  # three months each; the first of seven is left out
    assert "2023-05 to 2023-07 against 2023-02 to 2023-04" in finding.method


def test_a_change_from_nothing_has_no_ratio_but_a_lower_limit() -> None:
    rows = asked(
        histories((van("V1"), [100_000.0] * 3, {"P0401": [0, 0, 6], "P2002": [5, 0, 0]})), changed_rates
    ).rows.sort("code")
    risen, gone = rows.iter_rows(named=True)
    assert (risen["change"], risen["change_high"]) == (None, None)
    assert risen["change_low"] > 1
    assert (gone["change"], gone["change_low"], gone["change_high"]) == (None, None, None)


def test_a_last_period_that_is_not_whole_is_said_and_compared_per_km() -> None:
    fleet = histories((van("V1"), [100_000.0] * 3, {"P0401": [4, 4, 4]}))
    fleet["as_of"] = date(2023, 3, 11)
    finding = asked(fleet, rates_by_period)
    last = finding.rows.row(-1, named=True)
    assert (last["starts_on"], last["ends_on"]) == (date(2023, 3, 1), date(2023, 3, 11))
    assert any("2023-03 is counted up to 2023-03-11 only" in note for note in finding.notes)
    assert last["km"] < 40_000
    whole = asked(histories((van("V1"), [100_000.0] * 3, {"P0401": [4, 4, 4]})), rates_by_period)
    assert not any("is counted up to" in note for note in whole.notes)


def test_small_groups_are_drawn_to_the_others_and_said_to_be_within_chance() -> None:
    """No ranks: depots stand in the order of their names."""
    depots = [("West", 5_000_000.0, 50), ("East", 4_000_000.0, 45), ("North", 6_000_000.0, 150), ("Attic", 50_000.0, 2)]
    fleet = histories(
        *((van(name, depot=name), [km], {"P0401": [events]}) for name, km, events in depots),
    )
    finding = asked(fleet, rates_by_group)
    rows = {row["depot"]: row for row in finding.rows.iter_rows(named=True)}
    assert list(rows) == ["Attic", "East", "North", "West"]
    attic = rows["Attic"]
    assert attic["rate_per_100k_km"] == pytest.approx(4.0)
    assert attic["rate_of_all"] < attic["shrunken_rate"] < 4.0
    assert attic["standing"] == "within chance, few to tell"
    assert rows["North"]["standing"] == "above 99.8 %"
    assert rows["West"]["standing"] == "below 99.8 %"
    assert any("times as widely as chance" in note for note in finding.notes)


def test_groups_that_differ_by_chance_only_are_said_to() -> None:
    fleet = histories(
        *((van(name, depot=name), [1_000_000.0], {"P0401": [events]}) for name, events in (("A", 10), ("B", 13)))
    )
    finding = asked(fleet, rates_by_group)
    assert set(finding.rows["standing"]) == {"within chance"}
    assert any("All groups together lie within chance" in note for note in finding.notes)


def test_failures_have_the_km_of_the_vehicles_that_carry_the_component() -> None:
    other = van("V2", model="B")
    fleet = histories((van("V1"), [100_000.0] * 2, {"P0401": [1, 3]}), (other, [900_000.0] * 2, {}))
    rows = asked(fleet, rates_by_period, "failures").rows
    assert rows["failures"].to_list() == [1, 3]
    assert rows["km"].to_list() == pytest.approx([100_000.0] * 2)
    assert asked(fleet, rates_by_period).rows["km"].to_list() == pytest.approx([1_000_000.0] * 2)
    assert asked(fleet, changed_rates, "failures").rows["component"].to_list() == ["egr_valve"]


def test_every_count_opens_to_its_jobs() -> None:
    fleet = histories((van("V1"), [100_000.0] * 2, {"P0401": [2, 1], "P2002": [0, 3]}))
    assert asked(fleet, trend_rows).rows.height == asked(fleet, rates_by_period).rows["episodes"].sum() == 6
    one = asked(fleet, trend_rows, codes=("p2002",)).rows
    assert set(one["code"]) == {"P2002"}
    assert one["opened_on"].dt.month().to_list() == [2, 2, 2]
    failures = asked(fleet, trend_rows, "failures").rows
    assert failures.height == asked(fleet, rates_by_period, "failures").rows["failures"].sum() == 6


@pytest.mark.parametrize(("every", "last"), [("month", "2023-06"), ("quarter", "2023 Q2")])
def test_each_period_opens_to_its_own_jobs(every: str, last: str) -> None:
    fleet = histories((van("V1"), [100_000.0] * 6, {"P0401": [2, 1, 0, 4, 1, 3]}))
    rates = asked(fleet, rates_by_period, "codes", every).rows
    jobs = asked(fleet, trend_rows, "codes", every).rows
    counted = dict(jobs.group_by("period").len().iter_rows())
    assert {row["period"]: row["episodes"] for row in rates.iter_rows(named=True) if row["episodes"]} == counted
    assert rates["period"][-1] == last
    assert f"{last} against" in asked(fleet, rates_by_period, "codes", every).notes[0]


def test_several_codes_are_one_rate() -> None:
    fleet = histories((van("V1"), [100_000.0], {"P0401": [2], "P2002": [3], "P0299": [7]}))
    finding = asked(fleet, rates_by_period, codes=("P0401", "P2002"))
    assert finding.rows["episodes"].to_list() == [5]
    assert finding.question == "trend of P0401, P2002 by month"


@pytest.mark.parametrize(
    ("given", "more", "says"),
    [
        (("smells",), {}, "there are no trends of 'smells'"),
        (("codes", "week"), {}, "there is no trend by 'week'"),
        (("codes",), {"codes": ("P0999",)}, "no job in this store logs the code 'P0999'"),
        (("failures",), {"codes": ("P0401",)}, "failures are of components, not of codes"),
        (("codes",), {"filters": Filters(model=("Z",))}, "no model is called 'Z'"),
    ],
)
def test_what_cannot_be_asked_is_answered_with_what_can(
    given: tuple[str, ...], more: dict[str, Any], says: str
) -> None:
    fleet = histories((van("V1"), [100_000.0], {"P0401": [2]}))
    for question in (rates_by_period, changed_rates):
        with pytest.raises(FleetlensError, match=says):
            asked(fleet, question, *given, **more)


def test_groups_need_a_key_that_exists() -> None:
    fleet = histories((van("V1"), [100_000.0], {"P0401": [2]}))
    with pytest.raises(FleetlensError, match="there is nothing to compare"):
        asked(fleet, rates_by_group, by=())
    with pytest.raises(FleetlensError, match="can't split by 'colour'"):
        asked(fleet, rates_by_group, by=("colour",))


def empty() -> Snapshot:
    return snapshot_of([van("V1", in_service_on=None)], [])


def test_a_store_without_jobs_or_distance_has_no_periods_and_no_rate() -> None:
    with empty() as snapshot:
        assert rates_by_period(snapshot).rows.is_empty()
        assert changed_rates(snapshot).rows.is_empty()
        assert trend_rows(snapshot).rows.is_empty()
        assert rates_by_group(snapshot).rows["rate_per_100k_km"].to_list() in ([], [None])
    fleet = histories((van("V1", in_service_on=None), [], {}))
    fleet["jobs"] = [job("J1", "V1", START)]
    fleet["codes"] = [{"job_id": "J1", "code": "P0401"}]
    with snapshot_of(**fleet) as snapshot:
        finding = rates_by_period(snapshot)
        row = finding.rows.row(0, named=True)
    assert (row["episodes"], row["rate_per_100k_km"], row["control_high"], row["signal"]) == (1, None, None, None)
    assert "No vehicle kept has a distance, so there is no rate." in finding.notes
