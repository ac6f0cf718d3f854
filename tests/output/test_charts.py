"""Charts by their specification: what is drawn, with which units, told apart by more than colour."""

import json
import re
from collections.abc import Iterator
from typing import Any

import polars as pl
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.output import charts
from fleetlens.output.groups import MOST_ROWS, MOST_STEPS, grouped, least_cost, thinned


def data(spec: dict[str, Any], layer: int = 0) -> list[dict[str, Any]]:
    """The rows that a layer draws."""
    name = spec["layer"][layer].get("data", spec.get("data"))["name"]
    return spec["datasets"][name]


@pytest.fixture
def every_spec(make) -> dict[str, dict[str, Any]]:
    return {
        "rates": charts.rates(make["codes"]()).to_dict(),
        "failures": charts.failures(make["components"]()).to_dict(),
        "survival": charts.survival(make["curves"](), ["model", "duty"]).to_dict(),
        "comebacks": charts.comeback_shares(make["comebacks"](), ["action"]).to_dict(),
        "costs": charts.cost_curve(make["costs"](), ["model"]).to_dict(),
    }


def colours(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        for value in part.values():
            yield from colours(value)
    elif isinstance(part, list):
        for value in part:
            yield from colours(value)
    elif isinstance(part, str) and re.fullmatch(r"#[0-9a-fA-F]{3,8}|black|white", part):
        yield part


def test_pages_choose_text_and_ground(every_spec):
    for spec in every_spec.values():
        assert spec["config"]["background"] == "transparent"
        assert set(colours({name: part for name, part in spec.items() if name != "datasets"})) <= set(charts.PALETTE)


def test_axes_have_units(every_spec):
    titles = {
        name: [
            encoding[axis]["title"]
            for encoding in (layer["encoding"] for layer in spec["layer"])
            for axis in ("x", "y")
            if "title" in encoding.get(axis, {})
        ]
        for name, spec in every_spec.items()
    }
    assert "Episodes per 100,000 km" in titles["rates"]
    assert "Failures per 100,000 km" in titles["failures"]
    assert {"Distance since the life began (km)", "Share surviving"} <= set(titles["survival"])
    assert {"Days since the repair", "Share of repairs that came back"} <= set(titles["comebacks"])
    assert {"Cleaning interval (km)", "Cost (currency per 1,000 km)"} <= set(titles["costs"])


def test_the_survival_chart_steps_and_shows_its_interval(make):
    band, line = charts.survival(make["curves"](), ["model"]).to_dict()["layer"]
    assert band["mark"]["type"] == "area"
    assert band["mark"]["interpolate"] == line["mark"]["interpolate"] == "step-after"
    assert (band["encoding"]["y"]["field"], band["encoding"]["y2"]["field"]) == ("low", "high")
    assert band["encoding"]["y"]["scale"]["domain"] == [0, 1]
    assert line["encoding"]["strokeDash"]["field"] == line["encoding"]["color"]["field"] == "group"
    assert {tip["field"] for tip in line["encoding"]["tooltip"]} >= {"at_risk", "share", "low", "high", "km", "group"}


def test_groups_have_their_words_and_each_pair_of_marks_once(make):
    spec = charts.survival(make["curves"](30, 3), ["model", "duty"]).to_dict()
    encoding = spec["layer"][1]["encoding"]
    assert encoding["color"]["scale"]["domain"][0] == "Model 0 · parcel"
    assert encoding["color"]["legend"]["title"] == "Model · Duty"
    pairs = list(
        zip(encoding["color"]["scale"]["range"], map(str, encoding["strokeDash"]["scale"]["range"]), strict=True)
    )
    assert len(set(pairs)) == len(pairs) == 30


def test_one_group_needs_no_legend(make):
    spec = charts.survival(make["curves"](1), []).to_dict()
    assert spec["layer"][1]["encoding"]["color"]["legend"] is None


def test_too_many_groups_is_said(make):
    with pytest.raises(FleetlensError, match=r"31 groups can't be told apart in one chart, which takes 30\n  try: "):
        charts.survival(make["curves"](31), ["model"])


def test_a_group_without_a_name_says_so():
    rows = pl.DataFrame({"component": ["dpf", "dpf"], "part_grade": [None, "new"], "km": [1.0, 2.0]})
    assert grouped(rows, ["part_grade"])["group"].to_list() == ["part grade not recorded", "new"]


def test_several_components_are_groups_of_their_own():
    rows = pl.DataFrame({"component": ["dpf", "egr_valve"], "model": ["Birch", "Birch"], "km": [1.0, 2.0]})
    assert grouped(rows, ["model"])["group"].to_list() == ["dpf · Birch", "egr_valve · Birch"]


def test_rates_are_ranked_with_their_interval(make):
    spec = charts.rates(make["codes"](), most=2).to_dict()
    reach, point = spec["layer"]
    assert (reach["encoding"]["x"]["field"], reach["encoding"]["x2"]["field"]) == ("low", "high")
    assert point["encoding"]["x"]["field"] == "rate"
    assert reach["encoding"]["y"]["sort"] == ["P0401", "SPN 1208 FMI 3"]
    assert [row["code"] for row in data(spec)] == ["P0401", "SPN 1208 FMI 3"]


def test_failures_are_ranked(make):
    spec = charts.failures(make["components"]()).to_dict()
    assert spec["layer"][0]["encoding"]["y"]["sort"] == ["egr_valve", "dpf"]
    assert [row["rate"] for row in data(spec)] == [0.44, 0.05]


def test_comeback_shares_stand_at_their_days_and_unknown_ones_nowhere(make):
    spec = charts.comeback_shares(make["comebacks"](), ["action"]).to_dict()
    reach, point = spec["layer"]
    assert (reach["encoding"]["y"]["field"], reach["encoding"]["y2"]["field"]) == ("low", "high")
    assert point["encoding"]["shape"]["field"] == point["encoding"]["color"]["field"] == "group"
    assert [(row["group"], row["days"], row["share"]) for row in data(spec)] == [
        ("clean", "30 days", 0.0211),
        ("replace", "30 days", 0.0),
        ("clean", "60 days", 0.0423),
        ("clean", "90 days", 0.0732),
    ]


def test_the_least_cost_is_marked_only_where_the_curve_rises_again(make):
    spec = charts.cost_curve(make["costs"](), ["model"]).to_dict()
    assert spec["layer"][1]["mark"]["type"] == "point"
    assert [(row["group"], row["km"]) for row in data(spec, 1)] == [("Alder 3", 10_000.0)]


def test_a_flat_end_is_no_least_cost():
    rows = pl.DataFrame({"group": ["a"] * 3, "km": [1.0, 2.0, 3.0], "cost_per_1000km": [5.0, None, 2.0]})
    assert least_cost(rows).is_empty()


@pytest.mark.parametrize(("groups", "steps"), [(1, 20_000), (30, 1_000), (3, 299), (2, 301)])
def test_long_curves_are_thinned_between_their_ends(make, groups, steps):
    rows = grouped(make["curves"](groups, steps).rows, ["model"])
    few = thinned(rows)
    assert few.height <= MOST_ROWS
    for ends in ("first", "last"):
        assert few.unique("group", keep=ends, maintain_order=True).equals(
            rows.unique("group", keep=ends, maintain_order=True)
        )
    assert few.group_by("group").len()["len"].max() <= MOST_STEPS
    if steps <= MOST_STEPS and groups * steps <= MOST_ROWS:
        assert few.equals(rows)


def test_no_rows_make_a_chart_too(make):
    for name, draw in (
        ("codes", charts.rates),
        ("components", charts.failures),
        ("curves", charts.survival),
        ("comebacks", charts.comeback_shares),
        ("costs", charts.cost_curve),
    ):
        empty = make["finding"](make[name]().rows.clear())
        assert json.loads(draw(empty).to_json())["layer"]
        assert "nothing to draw" in charts.describe(empty)


def test_values_that_are_unknown_are_no_null_in_a_tooltip(make):
    assert [row["description"] for row in data(charts.rates(make["codes"]()).to_dict())][-1] == "–"


@pytest.mark.parametrize(
    ("name", "by", "told"),
    [
        (
            "codes",
            [],
            "Recurring codes by episodes per 100,000 km with 95 % intervals: 3 codes, "
            "highest P0401 with 4.02 (3.78–4.26).",
        ),
        (
            "components",
            [],
            "Components by failures per 100,000 km with 95 % intervals: 2 components, "
            "highest egr_valve with 0.440 (0.360–0.520).",
        ),
        (
            "curves",
            ["model"],
            "Share of lives surviving by distance with 95 % bands; at the end of each curve: "
            "Model 0 33% at 4,000 km; Model 1 43% at 4,000 km.",
        ),
        (
            "comebacks",
            ["action"],
            "Share of repairs that came back by 30, 60 and 90 days; by 90 days: "
            "clean 7.3% (3.7–14.2%) (3 of 41 repairs so far); replace – (0 of 3 repairs so far).",
        ),
        (
            "costs",
            ["model"],
            "Long-run cost per 1,000 km against the cleaning interval: Alder 3 is least at 10,000 km with 20.0; "
            "Birch has no least cost within what is drawn.",
        ),
        ("vehicle", [], "vehicle history: 2 rows."),
    ],
)
def test_each_chart_has_a_sentence(make, name, by, told):
    assert charts.describe(make[name](), by) == told


def test_a_sentence_names_only_the_first_groups(make):
    assert charts.describe(make["curves"](9), ["model"]).endswith("; and 5 more.")
