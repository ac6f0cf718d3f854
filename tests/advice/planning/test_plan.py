"""The whole plan on the sample fleet: it keeps to the room, to wishes and to itself, and says why."""

from dataclasses import replace
from datetime import date, timedelta

import polars as pl
import pytest
from advice.planning.conftest import WANTED

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.planning.plan import Plan, agreed, cleaning_plan
from fleetlens.advice.planning.wishes import EXCLUDE, PIN, Wish
from fleetlens.errors import FleetlensError
from fleetlens.findings.filters import Filters
from fleetlens.store.preferences import Planning, Preferences, Workshop
from fleetlens.store.reader import Snapshot


def key(plan: Plan) -> pl.DataFrame:
    return plan.tasks.rows.select("vehicle_id", "component", "position", "week_from")


def test_it_keeps_to_hours_bays_and_one_visit_a_vehicle(made: Plan) -> None:
    tasks = made.tasks.rows
    assert tasks.height > 20, "the sample has work for a plan"
    weeks = made.weeks.rows
    assert weeks.height == 6
    assert weeks["tasks"].sum() == tasks.height
    assert (weeks["hours"] <= weeks["hours_room"] + 1e-9).all()
    assert (weeks["vehicles"] <= weeks["vehicles_room"]).all()
    assert tasks.group_by("vehicle_id").agg(pl.col("week_from").n_unique())["week_from"].max() == 1
    assert tasks.select("vehicle_id", "component", "position").is_unique().all()
    assert weeks["saving"].sum() == pytest.approx(made.saved)
    assert made.saved_low < made.saved < made.saved_high


def test_it_begins_the_day_after_the_record_on_open_days(made: Plan) -> None:
    weeks = made.weeks.rows
    assert made.tasks.period.end == date(2026, 6, 30)
    assert weeks["week_from"][0] == date(2026, 6, 29)
    assert weeks["first_open_day"][0] == date(2026, 7, 1)
    assert weeks["open_days"].to_list() == [3, 5, 5, 5, 5, 5]


def test_every_line_says_why_and_the_cautions_stand_with_it(made: Plan) -> None:
    assert made.tasks.rows["why"].str.contains("km old").all()
    assert made.tasks.cautions == CAUTIONS
    assert any("egr_valve: planned cleaning" in said for said in made.tasks.assumed)


def test_nothing_is_lost_between_planned_left_and_apart(sample: Snapshot, made: Plan) -> None:
    """Roomy enough, what had no room is planned too."""
    roomy = replace(WANTED, workshop=Workshop(hours_a_day=400, bays=200))
    wide = cleaning_plan(sample, preferences=roomy)
    assert made.left.rows.height > 0
    assert wide.left.rows.height < made.left.rows.height
    assert wide.saved > made.saved
    names = ["vehicle_id", "component", "position"]
    assert made.left.rows.join(made.tasks.rows, on=names).is_empty()
    assert set(made.left.rows["because"]) <= {"no room in these weeks", "overdue, but doing it now saves less than 10"}


def test_what_is_overdue_is_planned_or_listed_never_dropped(sample: Snapshot) -> None:
    picky = replace(WANTED, plan=replace(WANTED.plan, least_saving=60.0))
    plan = cleaning_plan(sample, preferences=picky)
    every = cleaning_plan(sample, preferences=replace(WANTED, plan=replace(WANTED.plan, least_saving=0.0)))
    names = ["vehicle_id", "component", "position"]
    overdue = pl.concat([every.tasks.rows.select(*names, "overdue"), every.left.rows.select(*names, "overdue")])
    told = pl.concat([plan.tasks.rows.select(names), plan.left.rows.select(names)])
    assert overdue.filter("overdue").join(told, on=names, how="anti").is_empty()
    assert plan.left.rows["because"].str.contains("saves less than 60").any()


def test_pins_and_exclusions_hold(sample: Snapshot, made: Plan) -> None:
    first, second = made.tasks.rows["vehicle_id"].unique(maintain_order=True)[:2]
    monday = made.weeks.rows["week_from"][4]
    wishes = [
        Wish(PIN, first, monday=monday),
        Wish(EXCLUDE, second),
        Wish(PIN, "V999999", "egr_valve", monday=monday),
        Wish(PIN, second, monday=monday),
        Wish(PIN, first, monday=monday + timedelta(weeks=40)),
    ]
    again = cleaning_plan(sample, preferences=WANTED, wishes=wishes)
    rows = again.tasks.rows
    assert rows.filter(pl.col("vehicle_id") == first)["week_from"].unique().to_list() == [monday]
    assert rows.filter(pl.col("vehicle_id") == first)["wish"].unique().to_list() == [PIN]
    assert second not in rows["vehicle_id"]
    told = " ".join(again.tasks.notes)
    assert "V999999:egr_valve: no task of this plan" in told
    assert f"{second}: left out as asked" in told
    assert "outside this plan" in told


def test_agreed_dates_are_kept_when_the_room_changes_a_little(sample: Snapshot, made: Plan) -> None:
    less = replace(WANTED, workshop=replace(WANTED.workshop, closed_days=(date(2026, 7, 8),)))
    free = cleaning_plan(sample, preferences=less)
    kept = cleaning_plan(sample, preferences=less, wishes=agreed(made))

    def moved(plan: Plan) -> int:
        names = ["vehicle_id", "component", "position", "week_from"]
        return made.tasks.rows.join(plan.tasks.rows, on=names, how="anti").height

    assert moved(kept) <= min(moved(free), 3)
    assert kept.saved >= 0.9 * free.saved


def test_the_same_question_has_the_same_answer(sample: Snapshot, made: Plan) -> None:
    again = cleaning_plan(sample, preferences=WANTED)
    assert key(again).equals(key(made))
    assert again.saved_low == made.saved_low


def test_filters_keep_vehicles_and_components(sample: Snapshot) -> None:
    plan = cleaning_plan(sample, preferences=WANTED, component="egr_valve", filters=Filters(depot=("Osmere",)))
    assert plan.tasks.rows["component"].unique().to_list() == ["egr_valve"]
    assert plan.tasks.rows["depot"].unique().to_list() == ["Osmere"]


def test_a_workshop_that_is_always_closed_plans_nothing(sample: Snapshot) -> None:
    days = tuple(date(2026, 6, 29) + timedelta(days=number) for number in range(60))
    shut = Preferences(plan=Planning(weeks=6), workshop=Workshop(closed_days=days))
    plan = cleaning_plan(sample, preferences=shut)
    assert plan.tasks.rows.is_empty()
    assert (plan.saved, plan.gap) == (0.0, 0.0)
    assert plan.weeks.rows["first_open_day"].null_count() == 6


def test_vehicles_without_a_recent_reading_are_listed_apart(sample: Snapshot) -> None:
    """In the sample all are read; a plan of a component no schedule is worth for has none to list either."""
    plan = cleaning_plan(sample, preferences=WANTED, component="maf_sensor")
    assert plan.tasks.rows.is_empty()
    assert plan.apart.rows.is_empty()


def test_a_key_that_a_plan_can_not_use_is_named(sample: Snapshot) -> None:
    with pytest.raises(FleetlensError, match="began_as"):
        cleaning_plan(sample, by=("began_as",))
