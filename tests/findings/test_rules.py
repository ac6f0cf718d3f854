"""The rules of classification, one small story each, asked through the public findings."""

from datetime import date
from typing import Any

import pytest
from findings.direct import snapshot_of

from fleetlens.errors import FleetlensError
from fleetlens.findings.codes import code_rows, recurring_codes
from fleetlens.findings.comebacks import comebacks, repair_rows
from fleetlens.findings.filters import Filters
from fleetlens.findings.lives import component_lives, life_rows
from fleetlens.findings.recurrence import recurrent_failures
from fleetlens.findings.vehicles import vehicle_history
from fleetlens.store.reader import Snapshot

VAN = {
    "vehicle_id": "V1",
    "model": "A",
    "in_service_on": date(2024, 1, 1),
    "in_service_km": 0.0,
    "history_from": date(2024, 1, 1),
}


def job(job_id: str, opened: date, km: float | None, reason: str | None = "defect", **more: Any) -> dict[str, Any]:
    return {"job_id": job_id, "vehicle_id": "V1", "opened_at": opened, "odometer_km": km, "reason": reason, **more}


def did(job_id: str, action: str, component: str = "egr_valve", **more: Any) -> dict[str, Any]:
    return {"job_id": job_id, "component": component, "action": action, **more}


def ended(**fleet: Any) -> list[tuple[Any, ...]]:
    with snapshot_of([VAN], **fleet) as snapshot:
        return life_rows(snapshot, "egr_valve").rows.select("began_as", "age_km", "ended", "end_job_id").rows()


def test_a_fault_job_ends_a_life_and_starts_the_next() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0), job("J2", date(2024, 6, 1), 25_000.0, "scheduled")]
    lives = ended(jobs=jobs, actions=[did("J1", "clean"), did("J2", "replace")], as_of=date(2024, 6, 1))
    assert lives == [("new", 10_000.0, "failed", "J1"), ("cleaned", 15_000.0, "preventive", "J2")]


def test_a_cause_makes_a_failure_of_a_planned_job() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0, "inspection")]
    assert ended(jobs=jobs, actions=[did("J1", "clean", cause="carbon")]) == [("new", 10_000.0, "failed", "J1")]
    assert ended(jobs=jobs, actions=[did("J1", "clean", cause=" ")]) == [("new", 10_000.0, "preventive", "J1")]


def test_a_failure_found_at_an_inspection_lies_since_the_last_look() -> None:
    jobs = [
        job("J1", date(2024, 2, 1), 4_000.0, "inspection"),
        job("J2", date(2024, 3, 1), 7_000.0, "inspection"),
        job("J3", date(2024, 4, 1), 10_000.0, "inspection"),
    ]
    actions = [did("J1", "inspect"), did("J2", "inspect"), did("J3", "replace", cause="carbon")]
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        (life,) = life_rows(snapshot, "egr_valve").rows.rows(named=True)
    assert (life["found"], life["known_good_km"], life["end_km"]) == ("at an inspection", 7_000.0, 10_000.0)


def test_several_rows_of_a_job_end_one_life_and_the_strongest_renewal_wins() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0), job("J2", date(2024, 4, 1), 12_000.0, "scheduled")]
    actions = [did("J1", "clean"), did("J1", "replace"), did("J1", "repair"), did("J2", "clean")]
    assert ended(jobs=jobs, actions=actions) == [
        ("new", 10_000.0, "failed", "J1"),
        ("replaced", 2_000.0, "preventive", "J2"),
    ]


@pytest.mark.parametrize("action", ["regenerate", "top_up", "lubricate", "inspect", "relearn", "advise", "software"])
def test_what_starts_no_life_ends_none(action: str) -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0)]
    assert ended(jobs=jobs, actions=[did("J1", action)]) == [("new", 10_000.0, "record ends", None)]


def test_taking_an_emission_component_out_of_use_censors_and_flags() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0), job("J2", date(2024, 6, 1), 20_000.0)]
    actions = [did("J1", "disable"), did("J2", "replace")]
    with snapshot_of([VAN], jobs, actions=actions) as snapshot:
        lives = life_rows(snapshot, "egr_valve").rows
        assert lives.select("began_as", "age_km", "ended").rows() == [("new", 10_000.0, "removed")]
        assert any("taken out of use" in note for note in vehicle_history(snapshot, "V1").notes)
        assert repair_rows(snapshot, "egr_valve").rows["job_id"].to_list() == ["J2"]


def test_a_record_that_begins_late_enters_late_and_says_so() -> None:
    van = VAN | {"history_from": date(2024, 7, 1)}
    jobs = [job("J1", date(2024, 7, 1), 18_200.0, "scheduled"), job("J2", date(2024, 12, 1), 30_000.0)]
    with snapshot_of([van], jobs, actions=[did("J2", "replace")]) as snapshot:
        (life,) = life_rows(snapshot, "egr_valve").rows.rows(named=True)
        assert (life["start_km"], life["entry_km"], life["unknown_start"]) == (0.0, 18_200.0, True)
        told = component_lives(snapshot, "egr_valve")
        assert any(line.startswith("1 of 1 lives started before") for line in told.assumed)
        dropped = component_lives(snapshot, "egr_valve", unknown_start="leave-out")
        assert [count.count for count in dropped.excluded if "left out as asked" in count.reason] == [1]
        with pytest.raises(FleetlensError, match="original or leave-out"):
            component_lives(snapshot, "egr_valve", unknown_start="guess")


def test_without_an_odometer_the_usage_at_that_date_stands_in() -> None:
    jobs = [job("J1", date(2024, 1, 11), None), job("J2", date(2024, 1, 21), 2_000.0, "scheduled")]
    with snapshot_of([VAN], jobs, actions=[did("J1", "replace")]) as snapshot:
        first, second = life_rows(snapshot, "egr_valve").rows.rows(named=True)
        assert (first["end_km"], first["estimated"]) == (1_000.0, True)
        assert second["estimated"]
        history = vehicle_history(snapshot, "V1").rows
        assert history.select("odometer_km", "odometer_is").rows() == [(1_000.0, "estimated"), (2_000.0, "recorded")]


def test_positions_tell_parts_apart_unless_a_model_carries_one() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0), job("J2", date(2024, 6, 1), 20_000.0)]
    actions = [
        did("J1", "replace", "injector", position="Cylinder 1"),
        did("J2", "replace", "injector", position="cylinder 2"),
    ]

    def lives(**more: Any) -> list[tuple[Any, ...]]:
        with snapshot_of([VAN], jobs, actions=actions, **more) as snapshot:
            return life_rows(snapshot, "injector").rows.select("position", "age_km", "ended").rows()

    assert lives() == [
        ("cylinder 1", 10_000.0, "failed"),
        ("cylinder 1", 10_000.0, "record ends"),
        ("cylinder 2", 20_000.0, "failed"),
    ]
    single = [{"model": "A", "component": "injector", "count": 1}]
    assert lives(fitted=single) == [("", 10_000.0, "failed"), ("", 10_000.0, "failed")]


def test_only_vehicles_that_carry_a_component_have_lives_of_it() -> None:
    other = VAN | {"vehicle_id": "V2", "model": "B"}
    same = VAN | {"vehicle_id": "V3"}
    jobs = [job("J1", date(2024, 3, 1), 10_000.0)]
    readings = [{"vehicle_id": name, "read_at": date(2024, 3, 1), "km": 5_000.0} for name in ("V2", "V3")]

    def carriers(fitted: list[dict[str, Any]]) -> list[str]:
        fleet = {"actions": [did("J1", "replace")], "odometer": readings, "fitted": fitted}
        with snapshot_of([VAN, other, same], jobs, **fleet) as snapshot:
            return sorted(set(life_rows(snapshot, "egr_valve").rows["vehicle_id"]))

    assert carriers([]) == ["V1", "V3"]
    assert carriers([{"model": "B", "component": "egr_valve"}]) == ["V2"]


def test_an_ending_on_a_model_that_does_not_carry_it_is_counted_as_left_out() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0)]
    fitted = [{"model": "B", "component": "egr_valve"}]
    with snapshot_of([VAN], jobs, actions=[did("J1", "replace")], fitted=fitted) as snapshot:
        told = component_lives(snapshot, filters=Filters())
        assert [(count.count, count.what) for count in told.excluded] == [(1, "endings")]


def test_a_code_is_one_event_a_job_and_one_episode_until_repaired() -> None:
    jobs = [job(f"J{number}", date(2024, number, 1), 1_000.0 * number) for number in (1, 2, 3, 4)]
    codes = [{"job_id": name, "code": "P0401"} for name in ("J1", "J1", "J2", "J3", "J4")]
    with snapshot_of([VAN], jobs, codes=codes, actions=[did("J2", "clean")]) as snapshot:
        rows = code_rows(snapshot, "p0401").rows
        assert rows.select("job_id", "episode").rows() == [("J1", 1), ("J2", 1), ("J3", 2), ("J4", 2)]
        (code,) = recurring_codes(snapshot).rows.rows(named=True)
        assert (code["events"], code["episodes"], code["vehicles"], code["km"]) == (4, 2, 1, 4_000.0)
        assert code["rate_per_100k_km"] == pytest.approx(50.0)


def test_events_outside_the_observed_time_are_left_out_and_counted() -> None:
    van = VAN | {"history_from": date(2024, 3, 1), "left_service_on": date(2024, 6, 1)}
    jobs = [
        job("J1", date(2024, 2, 1), 1_000.0),
        job("J2", date(2024, 4, 1), 2_000.0),
        job("J3", date(2024, 7, 1), 3_000.0),
    ]
    codes = [{"job_id": row["job_id"], "code": "P0401"} for row in jobs]
    with snapshot_of([van], jobs, codes=codes) as snapshot:
        told = recurring_codes(snapshot)
        assert told.rows["events"].to_list() == [1]
        assert [(count.count, count.what) for count in told.excluded] == [(2, "jobs")]


def comeback(
    jobs: list[dict[str, Any]], codes: list[tuple[str, str]], actions: list[dict[str, Any]], **window: Any
) -> Any:
    read = [{"job_id": name, "code": code} for name, code in codes]
    with snapshot_of([VAN], jobs, codes=read, actions=actions) as snapshot:
        rows = repair_rows(snapshot, "egr_valve", **window).rows
        return rows.select("job_id", "comeback_job_id", "kind", "days", "followed_days").row(0)


FIRST = job("J1", date(2024, 2, 1), 10_000.0, closed_at=date(2024, 2, 3))
END = job("J9", date(2024, 12, 31), 60_000.0, "scheduled")


@pytest.mark.parametrize(
    ("second_actions", "second_codes", "kind"),
    [
        ([did("J2", "replace")], [], "same_component"),
        ([did("J2", "replace"), did("J2", "replace", "egr_cooler")], ["P0401"], "same_component"),
        ([did("J2", "replace", "egr_cooler")], ["P0401"], "other_cause"),
        ([did("J2", "inspect")], ["P0401"], "nothing_found"),
        ([did("J2", "replace", "egr_cooler")], ["P2002"], None),
        ([did("J2", "inspect")], [], None),
    ],
)
def test_kinds_of_comeback(second_actions: list[dict[str, Any]], second_codes: list[str], kind: str | None) -> None:
    jobs = [FIRST, job("J2", date(2024, 2, 20), 12_000.0), END]
    codes = [("J1", "P0401"), *(("J2", code) for code in second_codes)]
    told = comeback(jobs, codes, [did("J1", "clean"), *second_actions])
    assert told[:3] == ("J1", "J2" if kind else None, kind)
    assert told[3] == (17 if kind else None)


@pytest.mark.parametrize("reason", ["scheduled", "inspection", "campaign", None])
def test_only_a_fault_job_is_a_comeback(reason: str | None) -> None:
    jobs = [FIRST, job("J2", date(2024, 2, 20), 12_000.0, reason), END]
    assert comeback(jobs, [], [did("J1", "clean"), did("J2", "clean")])[1] is None


def test_the_window_ends_by_days_or_by_km_whichever_comes_first() -> None:
    late = [FIRST, job("J2", date(2024, 5, 4), 10_500.0), END]
    assert comeback(late, [], [did("J1", "clean"), did("J2", "clean")])[1:] == (None, None, None, 90)
    assert comeback(late, [], [did("J1", "clean"), did("J2", "clean")], days=91)[1] == "J2"
    # 5,000 km are run by noon of the 50th day after the repair's job (100 km a day), which is 48 days after it closed.
    far = [FIRST, job("J2", date(2024, 4, 11), 17_000.0), END]
    assert comeback(far, [], [did("J1", "clean"), did("J2", "clean")])[1:] == (None, None, None, 48)
    assert comeback(far, [], [did("J1", "clean"), did("J2", "clean")], km=7_000)[1] == "J2"


def test_jobs_opened_at_one_moment_are_no_comebacks_of_each_other() -> None:
    jobs = [job("J1", date(2024, 2, 1), 10_000.0), job("J2", date(2024, 2, 1), 10_000.0), END]
    assert comeback(jobs, [], [did("J1", "clean"), did("J2", "clean")])[1] is None


def test_a_job_opened_before_the_repair_was_closed_is_no_comeback() -> None:
    jobs = [FIRST, job("J2", date(2024, 2, 2), 10_000.0), END]
    assert comeback(jobs, [], [did("J1", "clean"), did("J2", "clean")])[1] is None


def test_no_comeback_yet_has_an_upper_limit_and_days_outside_the_window_no_share() -> None:
    with snapshot_of([VAN], [FIRST, END], actions=[did("J1", "clean")]) as snapshot:
        (row,) = comebacks(snapshot, "egr_valve", days=60, km=1e6).rows.rows(named=True)
    assert (row["repairs"], row["comebacks"], row["share_30d"], row["share_30d_low"]) == (1, 0, 0.0, 0.0)
    assert row["share_30d_high"] == pytest.approx(0.975)  # one repair, none back: 1 - 0.025 (Clopper-Pearson)
    assert row["share_90d"] is None
    assert row["share_90d_high"] is None


def test_a_window_that_holds_nothing_is_refused() -> None:
    with snapshot_of([VAN], [FIRST]) as snapshot, pytest.raises(FleetlensError, match="at least 1 day"):
        comebacks(snapshot, days=0)


def test_recurrence_counts_a_vehicle_from_where_its_record_begins() -> None:
    late = VAN | {"vehicle_id": "V2", "history_from": date(2024, 7, 1)}
    jobs = [job("J1", date(2024, 3, 1), 5_000.0), job("J2", date(2024, 12, 1), 20_000.0)]
    readings = [
        {"vehicle_id": "V2", "read_at": date(2024, 7, 1), "km": 10_000.0},
        {"vehicle_id": "V2", "read_at": date(2024, 12, 1), "km": 30_000.0},
    ]
    with snapshot_of(
        [VAN, late], jobs, actions=[did("J1", "clean"), did("J2", "clean")], odometer=readings
    ) as snapshot:
        rows = recurrent_failures(snapshot, "egr_valve").rows
    assert rows.select("km", "vehicles_at_risk", "mean_events").rows() == [(5_000.0, 1, 1.0), (20_000.0, 2, 1.5)]


def test_an_unknown_name_is_answered_with_those_there_are() -> None:
    with snapshot_of([VAN], [FIRST], actions=[did("J1", "clean")]) as snapshot:
        with pytest.raises(FleetlensError, match="one of: A"):
            recurring_codes(snapshot, Filters(model=("Z",)))
        with pytest.raises(FleetlensError, match="one of: egr_valve"):
            component_lives(snapshot, "egr")
        with pytest.raises(FleetlensError, match="can't split by 'colour'"):
            component_lives(snapshot, by=("colour",))
        with pytest.raises(FleetlensError, match="such as V1"):
            vehicle_history(snapshot, "V9")


def test_a_figure_that_rests_on_unknown_starts_says_so() -> None:
    """Parts that failed young before the record are unseen: those that enter late look longer-lived than the others."""
    vehicles, jobs, actions = [], [], []
    for number in range(24):
        late = number % 2 == 0
        vehicles.append(
            VAN | {"vehicle_id": f"V{number}", "history_from": date(2024, 7, 1) if late else date(2024, 1, 1)}
        )
        km = 30_000.0 + 900.0 * number if late else 9_000.0 + 300.0 * number
        jobs += [
            {
                "job_id": f"A{number}",
                "vehicle_id": f"V{number}",
                "opened_at": date(2024, 7, 1),
                "odometer_km": 8_000.0,
                "reason": "scheduled",
            },
            {
                "job_id": f"B{number}",
                "vehicle_id": f"V{number}",
                "opened_at": date(2025, 7, 1),
                "odometer_km": km,
                "reason": "defect",
            },
        ]
        actions.append(did(f"B{number}", "replace"))
    with snapshot_of(vehicles, jobs, actions=actions) as snapshot:
        notes = component_lives(snapshot, "egr_valve").notes
    said = [note for note in notes if "without the lives of unknown start" in note]
    assert [note.split(" the ")[2].split(" is ")[0] for note in said] == ["shape", "characteristic life", "median"]
    assert all(note.endswith("outside the interval shown; don't rely on it.") for note in said)
    assert " km, outside" in said[1]


def test_a_failure_at_the_very_start_of_a_record_is_left_out_of_recurrence_and_counted() -> None:
    jobs = [job("J1", date(2024, 1, 1), 0.0), job("J2", date(2024, 3, 1), 5_000.0)]
    with snapshot_of([VAN], jobs, actions=[did("J1", "clean"), did("J2", "clean")]) as snapshot:
        told = recurrent_failures(snapshot, "egr_valve")
    assert told.rows["events"].to_list() == [1]
    assert [(count.count, count.what) for count in told.excluded] == [(1, "failures")]


def test_rows_from_free_text_are_told_and_can_be_left_out() -> None:
    jobs = [job("J1", date(2024, 3, 1), 10_000.0), job("J2", date(2024, 6, 1), 20_000.0)]
    codes = [{"job_id": "J1", "code": "P0401"}, {"job_id": "J2", "code": "P0401", "from_text": True}]
    actions = [did("J1", "clean"), did("J2", "replace", from_text=True)]
    with snapshot_of([VAN], jobs, codes=codes, actions=actions) as whole:
        assert component_lives(whole, "egr_valve", by=()).rows["failures"].to_list() == [2]
        assert recurring_codes(whole).rows["events"].to_list() == [2]
        said = "1 of 2 rows of job_actions and 1 of 2 rows of job_codes were read from free text"
        assert f"{said}." in component_lives(whole, "egr_valve").assumed
        recorded = Snapshot(whole.name, whole.path, whole._connection, text=False)
        assert component_lives(recorded, "egr_valve", by=()).rows["failures"].to_list() == [1]
        assert recurring_codes(recorded).rows["events"].to_list() == [1]
        assert f"{said} and are left out, as asked." in recurring_codes(recorded).assumed
