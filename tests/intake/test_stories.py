"""The story of a vehicle's readings: against its definition, every story tried and priced one by one."""

from itertools import combinations, pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from intake.readings import Reading

from fleetlens.intake.stories import DAY, MAX_KM_PER_DAY, Series, lone, series, story


def told(readings: list[Reading]) -> list[list[Reading]]:
    """The segments of the story, in days and km."""
    ordered = sorted(readings)
    found = story(as_series(ordered))
    return [[ordered[place] for place in segment] for segment in found]


def as_series(ordered: list[Reading]) -> Series:
    at = np.array([round(days * DAY) for days, _ in ordered], dtype=np.int64)
    return series(at, np.array([km for _, km in ordered], dtype=np.float64))


def days_begun(before: Reading, after: Reading) -> int:
    return int(after[0] - before[0]) + 1


def possible(before: Reading, after: Reading) -> bool:
    return 0 <= after[1] - before[1] <= MAX_KM_PER_DAY * days_begun(before, after)


def pace_of(ordered: list[Reading]) -> float:
    slopes = sorted(
        (after[1] - before[1]) / max(after[0] - before[0], 1)
        for place, before in enumerate(ordered)
        for after in ordered[place + 1 : place + 6]
        if after[1] > before[1]
    )
    return slopes[(len(slopes) - 1) // 2] if slopes else 0.0


def jumps(before: Reading, after: Reading, pace: float) -> bool:
    step = after[1] - before[1]
    usual = pace * days_begun(before, after)
    return step > 3 * usual and any(0 <= after[1] - before[1] * times <= 2 * usual for times in (1.609344, 10.0))


def price(ordered: list[Reading], kept: tuple[int, ...], pace: float) -> int:
    """What the story that keeps these readings costs."""
    cost = 10 * (kept[0] + len(ordered) - 1 - kept[-1])
    for one, two in pairwise(kept):
        before, after, skipped = ordered[one], ordered[two], ordered[one + 1 : two]
        step, days = after[1] - before[1], after[0] - before[0]
        ordinary = pace / 2 * days <= step <= 2 * pace * days_begun(before, after)
        apart = not any(before[1] <= km <= after[1] for _, km in skipped)
        following = ordered[two + 1] if two + 1 < len(ordered) else None
        firm = (
            following is not None
            and possible(after, following)
            and following[1] - after[1] <= 3 * pace * days_begun(after, following)
        )
        run = possible(before, after) and ordinary and apart and firm
        cost += min(10 * len(skipped), 25) if run else 10 * len(skipped)
        if not possible(before, after):
            cost += 29
        elif jumps(before, after, pace):
            cost += 15
    return cost


def by_hand(readings: list[Reading]) -> list[list[Reading]]:
    """The cheapest story; then that which sets aside fewer, ends lowest, and is lowest from the first reading on."""
    ordered = sorted(readings)
    if all(possible(one, two) for one, two in pairwise(ordered)):
        return [ordered]
    pace = pace_of(ordered)
    stories = [kept for size in range(1, len(ordered) + 1) for kept in combinations(range(len(ordered)), size)]
    best = min(
        stories,
        key=lambda kept: (
            price(ordered, kept, pace),
            -len(kept),
            ordered[kept[-1]][1],
            [(ordered[place][1], place) for place in kept],
        ),
    )
    segments = [[ordered[best[0]]]]
    for one, two in pairwise(best):
        if possible(ordered[one], ordered[two]):
            segments[-1].append(ordered[two])
        else:
            segments.append([ordered[two]])
    return segments


wild = st.lists(
    st.tuples(
        st.sampled_from([0.0, 0.5, 1.0, 2.0, 5.0, 9.0, 40.0]),
        st.sampled_from([0.0, 1.0, 1500.0, 2000.0, 4000.0, 9000.0, 90000.0]),
    ),
    min_size=1,
    max_size=8,
)
some_wrong = st.lists(
    st.tuples(
        st.floats(0, 30).map(lambda days: round(days, 2)), st.sampled_from([0.0, 0.0, 0.0, 900.0, -700.0, 9000.0])
    ),
    min_size=1,
    max_size=9,
).map(lambda wobbles: [(days, 1000.0 + round(500 * days) + wobble) for days, wobble in wobbles])
restarts = st.tuples(st.integers(3, 5), st.integers(0, 5), st.sampled_from([-6000.0, 0.0, 40000.0])).map(
    lambda made: [
        (10.0 * place, 5000.0 + 1000 * place + (made[2] if place >= made[0] else 0)) for place in range(sum(made[:2]))
    ]
)


@given(st.one_of(wild, some_wrong, restarts))
def test_it_is_the_definition(readings: list[Reading]) -> None:
    assert told(readings) == by_hand(readings)


def test_many_readings_are_priced_in_pieces(monkeypatch) -> None:
    """The matrix of steps held a few rows at a time gives what it gives at once."""
    rng = np.random.default_rng(4)
    readings = [(float(day), 1000.0 + 90 * day + rng.choice([0.0, 0.0, 0.0, -5000.0, 9000.0])) for day in range(200)]
    whole = told(readings)
    monkeypatch.setattr("fleetlens.intake.stories._CELLS", 700)
    assert told(readings) == whole
    assert sum(map(len, whole)) < 200


def test_a_lone_reading_that_contradicts_needs_no_search() -> None:
    base = [(10.0 * place, 5000.0 + 1000 * place) for place in range(9)]
    for place in range(9):
        wrong = [(day, km * 10 if here == place else km) for here, (day, km) in enumerate(base)]
        found = lone(as_series(wrong)).nonzero()[0].tolist()
        assert found == ([place] if 2 <= place <= 6 else []), place
    # Of two neighbours that could each be the wrong one neither is told.
    either = [(0, 1000), (10, 2000), (20, 5000), (30, 3000), (40, 6000), (50, 7000), (60, 8000)]
    assert not lone(as_series(either)).any()
