"""Which readings stand and what becomes of the others: known cases, and the properties of a good judgement."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from intake.readings import MILE, Reading, frame, judged, steady, touched
from intake.small import VEHICLES

from fleetlens.errors import FleetlensError
from fleetlens.intake import odometer
from fleetlens.intake.load import load
from fleetlens.intake.odometer import judge
from fleetlens.sample.make import make_sample
from fleetlens.store.reader import open_store

LINE = steady(12)
AT = dict(enumerate(km for _, km in LINE))  # 60,000 km, and 1,500 km more every 15 days


def put(changes: dict[int, float], line: list[Reading] = LINE) -> list[Reading]:
    """The line with other figures at these places."""
    return [(days, changes.get(place, km)) for place, (days, km) in enumerate(line)]


def aside(read: float, kind: str, proposed: float | None = None) -> tuple[float, str, float, float | None]:
    """A reading that isn't used: its km stand as read."""
    return (read, kind, read, proposed)


# The kinds of mess in odometers that workshops know, each with what becomes of it.
MESS = {
    "miles in a km column": (put({5: AT[5] / MILE}), [aside(41943, "unit", 67500)]),
    "km taken for miles": (put({5: AT[5] * MILE}), [aside(108631, "unit", 67500)]),
    "a run of miles, and back": (
        put({place: AT[place] / MILE for place in (4, 5, 6, 7)}),
        [aside(round(AT[place] / MILE), "unit", AT[place]) for place in (4, 5, 6, 7)],
    ),
    "miles from some day on": (
        put({place: AT[place] / MILE for place in (8, 9, 10, 11)}),
        [aside(round(AT[place] / MILE), "unit", AT[place]) for place in (8, 9, 10, 11)],
    ),
    "a digit dropped inside": (put({5: 6750}), [aside(6750, "tenths", 67500)]),
    "another digit dropped": (put({5: 7500}), [aside(7500, "typo")]),
    "a digit doubled": (put({5: 667500}), [aside(667500, "tenths", 66750)]),
    "digits swapped": (put({5: 76500}), [aside(76500, "typo")]),
    "0 as filler": (put({5: 0}), [aside(0, "filler")]),
    "1 as filler": (put({5: 1}), [aside(1, "filler")]),
    "999999 as filler": (put({5: 999_999}), [aside(999_999, "filler")]),
    "123456 as filler, in miles": (put({5: 123_456 * MILE}), [aside(198_683, "filler")]),
    "copied from the last visit: it doesn't fall, and stands": (put({5: AT[4]}), []),
    "copied from months ago": (put({9: AT[2]}), [aside(63000, "typo")]),
    "the figure of the next service": (put({5: 80_000}), [aside(80_000, "typo")]),
    "tenths run in": (put({5: 675_003}), [aside(675_003, "tenths", 67500)]),
    "a new cluster, from 0": (
        put({place: AT[place] - AT[6] + 700 for place in range(6, 12)}),
        [(700 + 1500 * more, "runs on", AT[6 + more], None) for more in range(6)],
    ),
    "a donor's cluster, far higher": (
        put({place: AT[place] + 200_000 for place in range(6, 12)}),
        [(AT[place] + 200_000, "runs on", AT[place], None) for place in range(6, 12)],
    ),
    "rolled back: no more than a contradiction": (
        put({place: AT[place] - 40_000 for place in range(6, 12)}),
        [(AT[place] - 40_000, "runs on", AT[place], None) for place in range(6, 12)],
    ),
    "past 99,999": (
        [(days, (km + 31_400) % 100_000) for days, km in LINE],
        [((km + 31_400) % 100_000, "runs on", km + 31_400, None) for _, km in LINE[6:]],
    ),
    "past 999,999": (
        [(days, (km + 931_300) % 1_000_000) for days, km in LINE],
        [((km + 931_300) % 1_000_000, "runs on", km + 931_300, None) for _, km in LINE[6:]],
    ),
    "hours instead of km": (put({5: 4512}), [aside(4512, "typo")]),
    "read some days late: it stands": (put({5: AT[5] + 400}), []),
    "trip meter": (put({5: 348}), [aside(348, "typo")]),
}  # fmt: skip


@pytest.mark.parametrize("name", MESS)
def test_the_mess_that_odometers_hold(name: str) -> None:
    """Common practice, no source: the kinds of mess are those that workshops and fleets know."""
    readings, expected = MESS[name]
    assert touched(readings) == expected


EDGES: dict[str, tuple[list[Reading], list[Reading]]] = {
    "none": ([], []),
    "one": ([(0, 5)], [(0, 5)]),
    "rising": ([(0, 0), (10, 900), (20, 1800)], [(0, 0), (10, 900), (20, 1800)]),
    "a new cluster after two readings: the longer part stands": (
        [(0, 90000), (9, 91000), (20, 100), (30, 200), (40, 300)],
        [(20, 100), (30, 200), (40, 300)],
    ),
    "two that exclude each other: the lower": ([(0, 500), (0.5, 400)], [(0.5, 400)]),
    "two chains as long: not the one that jumps": ([(0, 31000), (30, 3200), (60, 33000)], [(0, 31000), (60, 33000)]),
    "the same twice": ([(3, 40), (3, 40)], [(3, 40), (3, 40)]),
    "2,000 km in a day and no more": ([(0, 0), (0.9, 2000), (1.0, 4000)], [(0, 0), (0.9, 2000), (1.0, 4000)]),
    "a step past the limit": ([(0, 0), (0.9, 2000.1)], [(0, 0)]),
    "hours of a generator": ([(0, 450), (700, 1150), (701, 1150)], [(0, 450), (700, 1150), (701, 1150)]),
    "three readings of a new cluster within 29 days": (
        [*LINE, (170, 100), (180, 900), (199, 2000)],
        LINE,
    ),
    "a block that never rises": ([*LINE, (180, 40), (210, 40), (240, 40), (270, 40)], LINE),
}  # fmt: skip


@pytest.mark.parametrize("name", EDGES)
def test_edges(name: str) -> None:
    readings, expected = EDGES[name]
    rows = judge(frame(readings)).filter("good")
    start = frame([(0, 0)])["read_at"][0]
    assert [((at - start).total_seconds() / 86400, km) for at, km in rows.select("read_at", "km").rows()] == expected
    assert set(rows["kind"]) <= {"as read"}


def test_a_cluster_replaced_twice() -> None:
    line = steady(18)
    changed = [
        (days, km - (69_000 if place >= 6 else 0) - (8_900 if place >= 12 else 0))
        for place, (days, km) in enumerate(line)
    ]
    rows = judge(frame(changed))
    assert rows["segment"].to_list() == [1] * 6 + [2] * 6 + [3] * 6
    assert rows["km"].to_list() == pytest.approx([km for _, km in line])
    assert rows["raw_km"].to_list() == [km for _, km in changed]
    assert rows["why"][12] == (
        "another instrument, runs on from 7500 km on 2024-06-14: 100 km on 2024-06-29 used as 78000 km"
    )


def test_the_offset_is_the_own_recent_rate_over_the_gap() -> None:
    """50 km a day for long, 100 km a day over the last 90 days, then 40 days without a reading."""
    before = [(30.0 * place, 1500.0 * place) for place in range(10)]
    before += [(300.0 + 30 * place, 16_500.0 + 3000 * place) for place in range(3)]
    after = [(400.0 + 30 * place, 10.0 + 3000 * place) for place in range(3)]
    used = judge(frame(before + after))["km"].to_list()
    assert used[-3:] == pytest.approx([22_500 + 100 * 40 + 3000 * place for place in range(3)])


def test_a_drop_at_the_very_end_is_too_short_to_tell() -> None:
    assert touched([*LINE, (180, 500), (215, 4000)]) == [aside(500, "unsettled"), aside(4000, "unsettled")]
    assert touched([*LINE, (180, 500), (200, 2500), (215, 4000)]) == [
        (500, "runs on", 78000, None),
        (2500, "runs on", 80000, None),
        (4000, "runs on", 81500, None),
    ]


def test_two_typos_in_a_row() -> None:
    assert touched(put({5: 7500, 6: 8000})) == [aside(7500, "typo"), aside(8000, "typo")]


def test_a_wrong_run_that_comes_back_is_no_cluster() -> None:
    wrong = {place: AT[place] + 18_000 for place in (4, 5, 6, 7)}
    assert [row[1] for row in touched(put(wrong))] == ["typo"] * 4


def test_units_that_alternate() -> None:
    """Every third reading in miles: the unit of the others stands. With more miles than km, miles stand."""
    few = put({place: AT[place] / MILE for place in (1, 4, 7, 10)})
    assert [(row[0], row[3]) for row in touched(few)] == [(round(AT[at] / MILE), AT[at]) for at in (1, 4, 7, 10)]
    many = put({place: AT[place] / MILE for place in range(12) if place % 3 != 1})
    assert [(row[0], row[3]) for row in touched(many)] == [(AT[at], round(AT[at] / MILE)) for at in (1, 4, 7, 10)]


def test_the_unit_of_the_greater_number_stands() -> None:
    run = put({place: AT[place] / MILE for place in range(2, 10)})
    assert [row[0] for row in touched(run)] == [AT[0], AT[1], AT[10], AT[11]]
    later = put({place: AT[place] / MILE for place in range(4, 12)})
    assert [row[0] for row in touched([(-600, 0), *later])] == [AT[0], AT[1], AT[2], AT[3]]


def test_proposals_are_used_only_where_the_setting_says() -> None:
    run = put({place: AT[place] / MILE for place in (4, 5, 6, 7)} | {9: 675})
    assert [km for km, kind, *_ in judged(run) if kind == "as read"] == [AT[at] for at in (0, 1, 2, 3, 8, 10, 11)]
    applied = judged(run, apply=True)
    assert [row[1:3] for row in applied[4:8]] == [("corrected", AT[at]) for at in (4, 5, 6, 7)]
    assert applied[9][1] == "typo"
    assert judge(frame(run), apply=True)["why"][4] == (
        "contradicts the readings around it as read: 41010 km on 2024-03-01 used as 66000 km"
    )


def test_corrected_readings_before_a_new_cluster() -> None:
    """The new cluster runs on from the corrected reading, not from the one before it."""
    made = put({5: AT[5] / MILE} | {place: AT[place] - AT[6] + 700 for place in range(6, 12)})
    for apply in (False, True):
        rows = judge(frame(made), apply=apply)
        assert rows["km"].to_list()[6:] == pytest.approx([AT[place] for place in range(6, 12)])
        assert rows["good"][5] == apply


# Properties

anything = st.lists(
    st.tuples(
        st.floats(0, 900).map(lambda days: round(days, 2)),
        st.one_of(
            st.floats(0, 400_000).map(lambda km: round(km, 1)),
            st.sampled_from([0.0, 1.0, 123_456.0, 999_999.0, 100_000.0]),
        ),
    ),
    max_size=14,
)


@st.composite
def sound(draw: st.DrawFn, least: int = 8, most: int = 24) -> list[Reading]:
    """A vehicle that runs by its own pace, now half and now twice of it."""
    count, pace = draw(st.integers(least, most)), draw(st.floats(20, 300))
    day, km, made = 0.0, draw(st.floats(2_000, 200_000)), []
    for _ in range(count):
        made.append((round(day, 3), round(km, 1)))
        gap = draw(st.floats(5, 40))
        day, km = day + gap, km + pace * gap * draw(st.floats(0.6, 1.6))
    return made


WRONG: dict[str, Callable[[float], float]] = {
    "a digit more": lambda km: km * 10 + 7,
    "a digit less": lambda km: km // 10,
    "first digit lost": lambda km: float(str(int(km))[1:] or 0),
    "miles": lambda km: km / MILE,
    "km": lambda km: km * MILE,
    "zero": lambda _: 0.0,
    "nines": lambda _: 999_999.0,
    "swapped": lambda km: float(str(int(km))[1] + str(int(km))[0] + str(int(km))[2:]),
}


@given(sound(), st.data())
def test_typos_cost_no_more_than_themselves(readings: list[Reading], data: st.DataObject) -> None:
    places = data.draw(st.sets(st.integers(0, len(readings) - 1), max_size=len(readings) // 4))
    # Neighbours that lose the same digit agree with each other: that is a run, and no random typos.
    assume(all(later - earlier > 1 for earlier, later in pairwise(sorted(places))))
    wrong = {place: WRONG[data.draw(st.sampled_from(sorted(WRONG)))](readings[place][1]) for place in places}
    rows = judge(frame(put(wrong, readings)))
    assert (~rows["good"]).sum() <= len(places)


@given(sound(1, 30))
def test_sound_readings_are_left_as_they_are(readings: list[Reading]) -> None:
    rows = judge(frame(readings))
    assert rows["good"].all()
    assert rows["km"].to_list() == rows["raw_km"].to_list() == [km for _, km in readings]
    assert set(rows["kind"]) == {"as read"}
    assert rows["why"].null_count() == rows["proposed_km"].null_count() == rows.height


@given(anything, st.booleans())
def test_used_km_never_fall(readings: list[Reading], apply: bool) -> None:
    rows = judge(frame(readings), apply=apply)
    used = rows.filter("good")["km"].to_list()
    assert all(later - earlier >= -1e-6 for earlier, later in pairwise(used))
    assert rows.height == len(readings)
    assert sorted(rows["raw_km"]) == sorted(km for _, km in readings)
    assert (rows["why"].is_null() == (rows["kind"] == "as read")).all()
    assert (rows.filter(~pl.col("good"))["km"] == rows.filter(~pl.col("good"))["raw_km"]).all()
    assert rows["segment"].is_sorted()
    if readings:
        assert used


@given(st.one_of(anything, sound()), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(readings: list[Reading], random) -> None:
    rows = frame(readings)
    order = list(range(rows.height))
    random.shuffle(order)
    assert judge(rows[order]).equals(judge(rows))


@given(anything, anything)
def test_vehicles_do_not_touch_each_other(one: list[Reading], two: list[Reading]) -> None:
    together = judge(pl.concat([frame(one), frame(two, 2)]))
    assert together.filter(vehicle_key=1).equals(judge(frame(one)))
    assert together.filter(vehicle_key=2).equals(judge(frame(two, 2)))


slow = st.lists(st.floats(100, 30_000).map(lambda km: round(km, 1)), min_size=3, max_size=10)


@given(slow, st.sampled_from([0.125, 0.5, 2.0]))  # powers of two, so that no figure is rounded
def test_the_unit_of_the_odometer_does_not_matter(figures: list[float], factor: float) -> None:
    """Readings months apart, so that every step stays possible in either unit, and below a full odometer."""
    assume(len({round(km) for km in figures}) == len(figures))
    plain = judge(frame([(100.0 * place, km) for place, km in enumerate(figures)]))
    scaled = judge(frame([(100.0 * place, km * factor) for place, km in enumerate(figures)]))
    assert scaled["good"].to_list() == plain["good"].to_list()
    assert scaled["kind"].to_list() == plain["kind"].to_list()
    assert scaled["km"].to_list() == pytest.approx([km * factor for km in plain["km"]])


def test_why_says_what_stands_around_it() -> None:
    rows = judge(frame([(0, 30000), (9, 31000), (30, 32), (60, 33000), (90, 1), (100, 35000.4)]))
    what = "contradicts the readings around it: "
    assert rows["why"].to_list() == [
        None,
        None,
        what + "32 km on 2024-01-31, between 31000 km on 2024-01-10 and 33000 km on 2024-03-01",
        None,
        what + "1 km on 2024-03-31, between 33000 km on 2024-03-01 and 35000 km on 2024-04-10",
        None,
    ]
    first, _, last = judge(frame([(0, 91), (1, 9), (2, 9999)]))["why"].to_list()
    assert first == what + "91 km on 2024-01-01, before 9 km on 2024-01-02"
    assert last == what + "9999 km on 2024-01-03, after 9 km on 2024-01-02; would fit as 1000 km"


def test_many_readings_of_one_vehicle() -> None:
    """2,000 readings with 100 typos: every true one stands."""
    rng = np.random.default_rng(1)
    days = np.arange(2000)
    km = 1000.0 + 100 * days
    wrong = rng.choice(np.arange(1, 1999), 100, replace=False)
    km[wrong] *= 10
    rows = judge(frame(list(zip(days.tolist(), km.tolist(), strict=True))))
    assert set(rows.with_row_index().filter(~pl.col("good"))["index"]) == set(wrong.tolist())


# In the store

JOBS = """
    job_id,vehicle_id,opened_at,odometer
    J1,V1,2021-05-01,10000
    J2,V1,2022-05-01,2000
    J3,V2,2022-06-01,
"""
ODOMETER = """
    vehicle_id,read_at,odometer,source
    V1,2021-12-01,15000,fuel card
    V1,2022-12-01,25000,
"""
FILES = {"vehicles.csv": VEHICLES, "jobs.csv": JOBS, "odometer.csv": ODOMETER}
READ = (
    "select vehicle_id, read_at::date::varchar, km, source, job_id, good, kind, proposed_km from readings"
    " join vehicles using (vehicle_key) left join jobs using (job_key) order by vehicle_id, read_at"
)


def test_every_source_is_judged_together_and_kept_in_the_store(write, store, ask) -> None:
    report = load([write(FILES)], store)
    assert ask(READ) == [
        ("V1", "2020-01-05", 0.0, "in service", None, True, "as read", None),
        ("V1", "2021-05-01", 10000.0, "job", "J1", True, "as read", None),
        ("V1", "2021-12-01", 15000.0, "fuel card", None, True, "as read", None),
        ("V1", "2022-05-01", 2000.0, "job", "J2", False, "tenths", 20000.0),
        ("V1", "2022-12-01", 25000.0, "odometer", None, True, "as read", None),
        ("V2", "2021-03-01", 12.0, "in service", None, True, "as read", None),
    ]
    assert report.notes == (
        "1 odometer reading set aside, contradicting those around: the data check lists them; "
        "1 would fit in another unit or with a digit moved",
    )


def test_the_store_keeps_what_is_done_with_proposals(write, store, ask) -> None:
    folder = write(FILES)
    load([folder], store)
    report = load([folder], store, odometer_proposals="apply")
    assert (report.published, report.accepted) == (True, 0)
    assert report.notes[-1] == "1 odometer reading used as corrected, as the store's setting says"
    assert ask(READ)[3] == ("V1", "2022-05-01", 20000.0, "job", "J2", True, "corrected", 20000.0)
    assert not load([folder], store, odometer_proposals="apply").published
    load([write({"odometer.csv": ODOMETER + "    V2,2022-09-01,8000,\n"}, "more")], store)
    assert ask(READ)[3][5:7] == (True, "corrected")
    load([folder], store, odometer_proposals="propose")
    assert ask(READ)[3][5:7] == (False, "tenths")


def test_another_word_for_proposals_is_refused(write, store) -> None:
    with pytest.raises(FleetlensError) as caught:
        load([write(FILES)], store, odometer_proposals="yes")
    assert str(caught.value) == (
        "odometer proposals can't be 'yes'\n  try: propose (only list them) or apply (use them)"
    )
    assert not store.exists()


def test_readings_judged_in_parts_are_judged_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = make_sample(tmp_path / "fleet", vehicles=30, seed=4).folder

    def readings(store: Path) -> list[tuple[object, ...]]:
        load([folder], store)
        with open_store(store) as snapshot, snapshot._connection.cursor() as cursor:
            return cursor.execute("from readings order by all").fetchall()

    whole = readings(tmp_path / "whole")
    monkeypatch.setattr(odometer, "TOGETHER", 50)
    assert readings(tmp_path / "parts") == whole
    assert len(whole) > 500
