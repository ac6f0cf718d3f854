"""Which readings stand: against the definition worked slowly, by hand, and by the properties of a good judgement."""

from datetime import datetime, timedelta
from itertools import combinations, pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from intake.small import VEHICLES

from fleetlens.intake.load import load
from fleetlens.intake.odometer import MAX_KM_PER_DAY, judge

START = datetime(2024, 1, 1)
Reading = tuple[float, float]  # days after START, km


SCHEMA = pl.Schema(
    {
        "vehicle_key": pl.Int32,
        "read_at": pl.Datetime("us"),
        "km": pl.Float64,
        "source": pl.String,
        "job_key": pl.Int32,
    }
)


def frame(readings: list[Reading], vehicle: int = 1) -> pl.DataFrame:
    rows = [
        (vehicle, START + timedelta(days=days), float(km), "job", number) for number, (days, km) in enumerate(readings)
    ]
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def kept(readings: list[Reading]) -> list[Reading]:
    good = judge(frame(readings)).filter("good")
    return [((at - START) / timedelta(days=1), km) for at, km in good.select("read_at", "km").rows()]


def possible(chain: tuple[Reading, ...]) -> bool:
    return all(
        later[1] >= earlier[1] and later[1] - earlier[1] <= MAX_KM_PER_DAY * (int(later[0] - earlier[0]) + 1)
        for earlier, later in pairwise(chain)
    )


def by_hand(readings: list[Reading]) -> list[Reading]:
    """The definition, every chain tried: longest, then least km at its end, then least km from the first on."""
    ordered = sorted(readings)
    for length in range(len(ordered), 0, -1):
        chains = [chain for chain in combinations(ordered, length) if possible(chain)]
        if chains:
            return list(min(chains, key=lambda chain: (chain[-1][1], [km for _, km in chain])))
    return []


CASES: dict[str, tuple[list[Reading], list[Reading]]] = {
    "none": ([], []),
    "one": ([(0, 5)], [(0, 5)]),
    "rising": ([(0, 0), (10, 900), (20, 1800)], [(0, 0), (10, 900), (20, 1800)]),
    "a typo with a digit too many": (
        [(0, 1000), (30, 30000), (60, 3500), (90, 5000)],
        [(0, 1000), (60, 3500), (90, 5000)],
    ),
    "a typo with a digit too few": (
        [(0, 30000), (30, 31000), (60, 3200), (90, 33000)],
        [(0, 30000), (30, 31000), (90, 33000)],
    ),
    "miles among kilometres": (
        [(0, 10000), (30, 12000), (60, 8700), (90, 15000), (120, 20000)],
        [(0, 10000), (30, 12000), (90, 15000), (120, 20000)],
    ),
    "a new cluster: the longer half stands": (
        [(0, 90000), (9, 91000), (20, 100), (30, 200), (40, 300)],
        [(20, 100), (30, 200), (40, 300)],
    ),
    "two that exclude each other: the lower": ([(0, 500), (0.5, 400)], [(0.5, 400)]),
    "two chains as long with one end: the lower": (
        [(0, 31000), (30, 3200), (60, 33000)],
        [(30, 3200), (60, 33000)],
    ),
    "the same twice": ([(3, 40), (3, 40)], [(3, 40), (3, 40)]),
    "2,000 km in a day and no more": (
        [(0, 0), (0.9, 2000), (1.0, 4000)],
        [(0, 0), (0.9, 2000), (1.0, 4000)],
    ),
    "a step past the limit": ([(0, 0), (0.9, 2000.1)], [(0, 0)]),
    "hours of a generator": (
        [(0, 450), (700, 1150), (701, 1150)],
        [(0, 450), (700, 1150), (701, 1150)],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_known_cases(name: str) -> None:
    readings, expected = CASES[name]
    assert kept(readings) == expected
    assert by_hand(readings) == expected


some = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.5, 1.0, 2.0, 5.0, 9.0]), st.sampled_from([0.0, 1.0, 1500.0, 2000.0, 4000.0, 9000.0])
    ),
    max_size=8,
)


@given(some)
def test_it_is_the_definition(readings: list[Reading]) -> None:
    assert kept(readings) == by_hand(readings)


rising = st.lists(
    st.tuples(
        st.floats(0, 30).map(lambda days: round(days, 2)), st.sampled_from([0.0, 0.0, 0.0, 900.0, -700.0, 9000.0])
    ),
    max_size=10,
)


@given(rising)
def test_it_is_the_definition_where_most_readings_are_sound(wobbles: list[Reading]) -> None:
    readings = [(days, 1000.0 + round(500 * days) + wobble) for days, wobble in wobbles]
    assert kept(readings) == by_hand(readings)


@given(some, st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(readings: list[Reading], random) -> None:
    rows = frame(readings)
    order = list(range(rows.height))
    random.shuffle(order)
    assert judge(rows[order]).equals(judge(rows))


@given(some, some)
def test_vehicles_do_not_touch_each_other(one: list[Reading], two: list[Reading]) -> None:
    together = judge(pl.concat([frame(one), frame(two, 2)]))
    assert together.filter(vehicle_key=1).equals(judge(frame(one)))
    assert together.filter(vehicle_key=2).equals(judge(frame(two, 2)))


def test_why_says_what_stands_around_it() -> None:
    rows = judge(frame([(0, 30000), (9, 31000), (30, 3200), (60, 33000), (90, 1), (100, 35000.4)]))
    what = "contradicts the readings around it: "
    assert rows["why"].to_list() == [
        None,
        None,
        what + "3200 km on 2024-01-31, between 31000 km on 2024-01-10 and 33000 km on 2024-03-01",
        None,
        what + "1 km on 2024-03-31, between 33000 km on 2024-03-01 and 35000 km on 2024-04-10",
        None,
    ]
    first, _, last = judge(frame([(0, 90), (1, 9), (2, 9999)]))["why"].to_list()
    assert first == what + "90 km on 2024-01-01, before 9 km on 2024-01-02"
    assert last == what + "9999 km on 2024-01-03, after 9 km on 2024-01-02"


def test_many_readings_of_one_vehicle() -> None:
    """2,000 readings with 100 typos: every true one stands but where a typo could be true as well."""
    rng = np.random.default_rng(1)
    days = np.arange(2000)
    km = 1000.0 + 100 * days
    wrong = rng.choice(np.arange(1, 1999), 100, replace=False)
    km[wrong] *= 10
    rows = judge(frame(list(zip(days.tolist(), km.tolist(), strict=True))))
    assert set(rows.with_row_index().filter(~pl.col("good"))["index"]) == set(wrong.tolist())


def test_every_source_is_judged_together_and_kept_in_the_store(write, store, ask) -> None:
    jobs = """
        job_id,vehicle_id,opened_at,odometer
        J1,V1,2021-05-01,10000
        J2,V1,2022-05-01,2000
        J3,V2,2022-06-01,
    """
    odometer = """
        vehicle_id,read_at,odometer,source
        V1,2021-12-01,15000,fuel card
        V1,2022-12-01,25000,
    """
    report = load([write({"vehicles.csv": VEHICLES, "jobs.csv": jobs, "odometer.csv": odometer})], store)
    assert ask(
        "select vehicle_id, read_at::date::varchar, km, source, job_id, good from readings"
        " join vehicles using (vehicle_key) left join jobs using (job_key) order by vehicle_id, read_at"
    ) == [
        ("V1", "2020-01-05", 0.0, "in service", None, True),
        ("V1", "2021-05-01", 10000.0, "job", "J1", True),
        ("V1", "2021-12-01", 15000.0, "fuel card", None, True),
        ("V1", "2022-05-01", 2000.0, "job", "J2", False),
        ("V1", "2022-12-01", 25000.0, "odometer", None, True),
        ("V2", "2021-03-01", 12.0, "in service", None, True),
    ]
    assert report.notes == ("1 odometer reading set aside, contradicting those around: the data check lists them",)
