"""Charts of fates, fits, repeat failures, causes and drift: what is drawn, with which units, and said in a sentence."""

from typing import Any

import polars as pl
import pytest
from output.conftest import finding
from output.test_charts import colours, data

from fleetlens.errors import FleetlensError
from fleetlens.findings.finding import Finding
from fleetlens.output import life_charts
from fleetlens.output.descriptions import describe
from fleetlens.output.drawing import PALETTE
from fleetlens.output.groups import MOST_ROWS

HOSTILE = "carbon [x](http://evil.invalid)\nand more"


def curves(figure: str, risk: str = "at_risk", **more: list[Any]) -> Finding:
    rows = {
        "component": ["egr_valve"] * 4,
        "duty": ["site", "site", "idling", "idling"],
        **more,
        "km": [10_000.0, 40_000.0, 12_000.0, 50_000.0],
        risk: [20, 10, None, 4],
        figure: [0.1, 0.4, 0.2, 0.7],
        "low": [0.02, 0.2, None, 0.4],
        "high": [0.3, 0.6, None, 0.9],
    }
    return finding(pl.DataFrame(rows))


FATES = curves("share_ended", fate=["failed", "failed", "preventive", "preventive"])
HAZARD = curves("hazard")
REPEATS = curves("mean_events", "vehicles_at_risk")
POINTS = finding(
    pl.DataFrame(
        {
            "component": ["egr_valve"] * 4,
            "duty": ["site", "site", "idling", "idling"],
            "km": [300.0, 40_000.0, 12_000.0, 50_000.0],
            "share_failed_by": [0.0001, 0.5, 0.25, 0.75],
            "share_fitted": [0.00001, 0.45, None, None],
        }
    )
)
CAUSES = finding(
    pl.DataFrame(
        {
            "component": ["egr_valve", "wiring"],
            "cause": [HOSTILE, "open circuit"],
            "jobs": [12, 0],
            "elsewhere": [40, 3],
            "share_of_causes": [0.8, 0.2],
            "share_of_causes_low": [0.6, 0.05],
            "share_of_causes_high": [0.9, 0.4],
        }
    )
)
STRETCHES = finding(
    pl.DataFrame(
        {
            "component": ["brakes"] * 2,
            "check": ["pad_thickness"] * 2,
            "unit": ["mm"] * 2,
            "before_km": [2_500.0, 7_500.0],
            "stretch_from_km": [0.0, 5_000.0],
            "stretch_to_km": [5_000.0, 10_000.0],
            "measured": [30, 20],
            "vehicles": [28, 19],
            "value_25": [2.9, 4.0],
            "value_median": [3.1, 5.0],
            "value_75": [3.4, 6.0],
            "limit_low": [3.0, 2.8],
            "limit_high": [None, None],
        },
        schema_overrides={"limit_high": pl.Float64},
    )
)
VALUES = pl.DataFrame({"before_km": [100.0, 9_000.0], "value": [3.0, 6.1], "job_id": ["J1", "J2"]})


def titles(spec: dict[str, Any]) -> set[str]:
    encodings = [layer["encoding"] for layer in spec["layer"]]
    return {encoding[axis]["title"] for encoding in encodings for axis in "xy" if "title" in encoding.get(axis, {})}


@pytest.fixture(scope="module")
def specs() -> dict[str, dict[str, Any]]:
    drawn = {
        "fates": life_charts.fates(FATES, ["duty"]),
        "hazard": life_charts.cumulative_hazard(HAZARD, ["duty"]),
        "repeats": life_charts.mean_failures(REPEATS, ["duty"]),
        "points": life_charts.probability_plot(POINTS, ["duty"]),
        "causes": life_charts.cause_shares(CAUSES),
        "drift": life_charts.drift(STRETCHES, VALUES),
    }
    return {name: chart.to_dict() for name, chart in drawn.items()}


def test_pages_choose_text_and_ground(specs: dict[str, dict[str, Any]]) -> None:
    for spec in specs.values():
        assert spec["config"]["background"] == "transparent"
        assert set(colours({name: part for name, part in spec.items() if name != "datasets"})) <= set(PALETTE)


@pytest.mark.parametrize(
    ("name", "axes"),
    [
        ("fates", {"Distance since the life began (km)", "Share of lives ended so"}),
        ("hazard", {"Distance since the life began (km)", "Cumulative hazard (failures)"}),
        ("repeats", {"Odometer (km)", "Mean failures per vehicle"}),
        ("points", {"Distance since the life began (km)", "Share failed"}),
        ("causes", {"Confirmed cause", "Share of confirmed causes"}),
        ("drift", {"Distance left to the failure (km)", "pad_thickness (mm)"}),
    ],
)
def test_axes_have_units(specs: dict[str, dict[str, Any]], name: str, axes: set[str]) -> None:
    assert titles(specs[name]) == axes


@pytest.mark.parametrize("name", ["fates", "hazard", "repeats"])
def test_curves_step_with_their_band_and_more_than_colour(specs: dict[str, dict[str, Any]], name: str) -> None:
    band, line = specs[name]["layer"]
    assert band["mark"]["interpolate"] == line["mark"]["interpolate"] == "step-after"
    assert (band["encoding"]["y"]["field"], band["encoding"]["y2"]["field"]) == ("low", "high")
    assert line["encoding"]["strokeDash"]["field"] == line["encoding"]["color"]["field"] == "group"
    assert {"low", "high", "km", "group"} <= {tip["field"] for tip in line["encoding"]["tooltip"]}


def test_a_fate_is_part_of_its_curves_name(specs: dict[str, dict[str, Any]]) -> None:
    assert specs["fates"]["layer"][1]["encoding"]["color"]["scale"]["domain"] == [
        "site · failed",
        "idling · preventive",
    ]


def test_a_weibull_is_a_straight_line_on_the_probability_plot() -> None:
    km = [10_000.0 * place for place in range(1, 12)]
    share = [1 - 2.718281828459045 ** -((each / 60_000) ** 2.5) for each in km]
    rows = {"component": ["x"] * 11, "km": km, "share_failed_by": share, "share_fitted": share}
    spec = life_charts.probability_plot(finding(pl.DataFrame(rows))).to_dict()
    drawn = pl.DataFrame(data(spec))
    slopes = (drawn["y"].diff() / drawn["km"].log().diff()).drop_nulls()
    assert slopes.to_list() == pytest.approx([2.5] * slopes.len())
    assert drawn["line"].to_list() == pytest.approx(drawn["y"].to_list())
    axis = spec["layer"][1]["encoding"]["y"]["axis"]
    assert "1 - exp(-exp(datum.value))" in axis["labelExpr"]
    assert spec["layer"][0]["encoding"]["x"]["scale"]["type"] == "log"


def test_points_below_what_is_drawn_are_left_out_and_groups_without_a_fit_have_no_line(
    specs: dict[str, dict[str, Any]],
) -> None:
    rows = data(specs["points"])
    assert [row["km"] for row in rows] == [40_000.0, 12_000.0, 50_000.0]
    assert [row["line"] is None for row in rows] == [False, True, True]
    assert specs["points"]["layer"][1]["encoding"]["shape"]["field"] == "group"


def test_the_failure_stands_at_the_right_end_and_the_outermost_limit_is_drawn(
    specs: dict[str, dict[str, Any]],
) -> None:
    single, _, line, limit = specs["drift"]["layer"]
    assert line["encoding"]["x"]["scale"]["domain"] == [10_000.0, 0]
    assert data(specs["drift"], 3) == [{"limit": 2.8}]
    assert limit["mark"]["type"] == "rule"
    assert [row["job_id"] for row in data(specs["drift"], 0)] == ["J1", "J2"]
    assert single["mark"]["type"] == "point"


def test_many_values_are_thinned() -> None:
    many = pl.DataFrame({"before_km": [1.0] * 9_000, "value": [1.0] * 9_000, "job_id": ["J"] * 9_000})
    spec = life_charts.drift(STRETCHES, many).to_dict()
    assert len(data(spec, 0)) == MOST_ROWS


def test_too_many_curves_are_said() -> None:
    rows = pl.concat(FATES.rows.with_columns(duty=pl.lit(str(number))) for number in range(20))
    with pytest.raises(FleetlensError, match="can't be told apart"):
        life_charts.fates(finding(rows), ["duty"])


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (FATES, ["site · failed 40% (20–60%) at 40,000 km", "idling · preventive 70% (40–90%)"]),
        (HAZARD, ["Cumulative hazard", "idling 0.700 (0.400–0.900) at 50,000 km"]),
        (REPEATS, ["Mean failures per vehicle", "site 0.400 (0.200–0.600) at 40,000 km"]),
        (POINTS, ["site at 40,000 km, 50% where the line has 45%"]),
        (CAUSES, ["2 in all", "80% (60–90%) (12 jobs)", "wiring, open circuit 20% (5–40%) (0 jobs)"]),
        (STRETCHES, ["pad_thickness of brakes", "5.00 mm of 20 values 7,500 km before", "3.10 mm of 30 values"]),
    ],
    ids=["fates", "hazard", "repeats", "points", "causes", "drift"],
)
def test_a_sentence_says_what_the_chart_shows(told: Finding, words: list[str]) -> None:
    sentence = describe(told, ["duty"] if "duty" in told.rows.columns else [])
    assert all(word in sentence for word in words), sentence
    assert "\n" not in sentence
    assert sentence.endswith(".")
