"""The packing of tasks into weeks: equal to trying everything on small plans, and honest at full size."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetlens.advice.planning.packing import NO_WEEK, Packing, Room, Tasks, pack
from fleetlens.errors import FleetlensError


def value(tasks: Tasks, room: Room, week: tuple[int, ...]) -> float | None:
    """What a plan saves, told task by task; None where it breaks a rule."""
    saved, hours = 0.0, [0.0] * len(room.hours)
    visits: dict[int, int] = {}
    for task, at in enumerate(week):
        if tasks.pinned[task] not in (NO_WEEK, at):
            return None
        if at == NO_WEEK:
            continue
        if not tasks.allowed[task, at] and tasks.pinned[task] != at:
            return None
        vehicle = int(tasks.vehicle[task])
        if visits.setdefault(vehicle, at) != at:
            return None
        saved += float(tasks.saving[task, at])
        hours[at] += float(tasks.hours[task])
    coming = [0] * len(room.hours)
    for vehicle, at in visits.items():
        saved -= float(room.visit_cost[vehicle, at])
        coming[at] += 1
    fits = all(a <= b + 1e-9 for a, b in zip(hours, room.hours, strict=True)) and all(
        a <= b for a, b in zip(coming, room.visits, strict=True)
    )
    return saved if fits else None


def tried_all(tasks: Tasks, room: Room) -> float | None:
    """The most that any plan saves, by trying each; None where no plan keeps the rules."""
    weeks = range(NO_WEEK, len(room.hours))
    found = (value(tasks, room, each) for each in itertools.product(weeks, repeat=len(tasks.hours)))
    return max((saved for saved in found if saved is not None), default=None)


@st.composite
def plans(draw: st.DrawFn) -> tuple[Tasks, Room]:
    n, vehicles, weeks = draw(st.integers(1, 5)), draw(st.integers(1, 3)), draw(st.integers(1, 3))
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    pinned = np.full(n, NO_WEEK)
    if draw(st.booleans()):
        pinned[0] = int(chance.integers(weeks))
    tasks = Tasks(
        vehicle=chance.integers(vehicles, size=n),
        hours=chance.integers(1, 5, size=n).astype(float),
        saving=chance.integers(-30, 200, size=(n, weeks)).astype(float),
        allowed=chance.random((n, weeks)) < 0.8,
        pinned=pinned,
    )
    room = Room(
        hours=chance.integers(4, 9, size=weeks).astype(float),
        visits=chance.integers(1, 3, size=weeks),
        visit_cost=chance.integers(0, 60, size=(vehicles, weeks)).astype(float),
    )
    return tasks, room


@given(plans())
@settings(max_examples=120)
def test_it_saves_as_much_as_the_best_of_all_plans(given_: tuple[Tasks, Room]) -> None:
    tasks, room = given_
    found = pack(tasks, room, gap=0.0)
    told = value(tasks, room, tuple(int(each) for each in found.week))
    assert told is not None, "the plan keeps the rules"
    assert found.saved == pytest.approx(told)
    assert found.saved == pytest.approx(tried_all(tasks, room))
    assert found.gap == pytest.approx(0, abs=1e-6)


def tasks_of(vehicle: list[int], saving: list[list[float]], pinned: list[int] | None = None) -> Tasks:
    array = np.array(saving, dtype=float)
    return Tasks(
        np.array(vehicle),
        np.full(len(vehicle), 2.0),
        array,
        np.full(array.shape, True),
        np.array(pinned or [NO_WEEK] * len(vehicle)),
    )


def room_of(hours: list[float], visits: list[int], vehicles: int, cost: float = 0.0) -> Room:
    return Room(np.array(hours), np.array(visits), np.full((vehicles, len(hours)), cost))


def test_tasks_of_a_vehicle_ride_on_one_visit() -> None:
    found = pack(tasks_of([0, 0], [[50, 90], [80, 10]]), room_of([9, 9], [1, 1], 1, cost=40))
    assert found == Packing(pytest.approx(np.array([0, 0])), pytest.approx(90), pytest.approx(0, abs=1e-9))


def test_a_pin_brings_the_rest_of_its_vehicle_along() -> None:
    found = pack(tasks_of([0, 0], [[50, -90], [80, 10]], [1, NO_WEEK]), room_of([9, 9], [1, 1], 1))
    assert found.week.tolist() == [1, 1]
    assert found.saved == pytest.approx(-80), "a pin is kept though it costs"


def test_a_pin_among_many_tasks_of_a_vehicle_is_kept() -> None:
    saving = [[float(100 - task)] * 2 for task in range(8)]
    found = pack(tasks_of([0] * 8, saving, [*[NO_WEEK] * 7, 1]), room_of([9, 9], [1, 1], 1))
    assert found.week.tolist() == [1, 1, 1, *[NO_WEEK] * 4, 1], "four tasks fit: the pin and the three that save most"


def test_a_task_that_saves_nothing_is_left() -> None:
    found = pack(tasks_of([0], [[-5, 0]]), room_of([9, 9], [1, 1], 1))
    assert (found.week.tolist(), found.saved, found.gap) == ([NO_WEEK], 0.0, 0.0)


@pytest.mark.parametrize(
    ("vehicle", "pinned", "hours", "visits", "named"),
    [
        ([0, 1], [0, 0], [3.0, 9.0], [2, 2], "week 1 takes 4 hours"),
        ([0, 1], [1, 1], [9.0, 9.0], [2, 1], "week 2 takes 2 vehicles"),
        ([0, 0], [0, 1], [9.0, 9.0], [2, 2], "different weeks"),
    ],
)
def test_pins_that_do_not_fit_are_named(
    vehicle: list[int], pinned: list[int], hours: list[float], visits: list[int], named: str
) -> None:
    with pytest.raises(FleetlensError, match=named):
        pack(tasks_of(vehicle, [[5, 5], [5, 5]], pinned), room_of(hours, visits, 2))


def test_a_full_plan_is_near_the_best_and_says_how_near() -> None:
    """600 tasks in 12 weeks, with a quarter of the room they would need."""
    chance = np.random.default_rng(7)
    n, weeks, vehicles = 600, 12, 450
    due = chance.integers(0, 20, size=n)[:, None]
    saving = chance.gamma(2, 100, size=n)[:, None] * np.exp(-((np.arange(weeks) - due) ** 2) / 20) - 5
    tasks = Tasks(
        chance.integers(vehicles, size=n), chance.uniform(0.5, 4, n), saving, np.full((n, weeks), True),
        np.full(n, NO_WEEK),
    )  # fmt: skip
    room = Room(np.full(weeks, 25.0), np.full(weeks, 12), np.full((vehicles, weeks), 10.0))
    found = pack(tasks, room, gap=0.01)
    told = value(tasks, room, tuple(int(each) for each in found.week))
    assert told == pytest.approx(found.saved)
    assert found.gap <= 0.01
