"""Charts of policies and options: what is drawn, told apart by more than colour, and said in a sentence."""

from typing import Any

import polars as pl
import pytest
from output.conftest import finding

from fleetlens.findings.finding import Finding
from fleetlens.output.advice_charts import option_costs, policy_costs
from fleetlens.output.charts import cost_curve
from fleetlens.output.descriptions import describe
from fleetlens.output.drawing import PALETTE, SHAPES


def policies() -> Finding:
    costs = {
        "cost_per_1000km": [2.5, None],
        "cost_per_1000km_run_to_failure": [4.0, 3.0],
        "cost_per_1000km_clean_only": [2.5, None],
        "cost_per_1000km_replace_only": [3.5, 3.0],
    }
    return finding(pl.DataFrame({"component": ["dpf"] * 2, "model": ["A", "B"], "policy": ["clean", None], **costs}))


def options() -> Finding:
    return finding(
        pl.DataFrame(
            {
                "option": ["leave", "clean", "replace"],
                "price_now": [0.0, 90.0, 400.0],
                "expected_cost": [700.0, 650.0, None],
                "expected_cost_low": [600.0, 500.0, None],
                "expected_cost_high": [800.0, 790.0, None],
            }
        )
    )


def drawn(spec: dict[str, Any], layer: int) -> list[dict[str, Any]]:
    return spec["datasets"][spec["layer"][layer].get("data", spec.get("data"))["name"]]


def test_each_way_has_a_colour_and_a_shape_and_none_is_invented() -> None:
    spec = policy_costs(policies(), ["model"], currency="EUR").to_dict()
    (layer,) = spec["layer"]
    assert layer["encoding"]["color"]["scale"]["range"] == list(PALETTE[:4])
    assert layer["encoding"]["shape"]["scale"]["range"] == list(SHAPES[:4])
    assert layer["encoding"]["color"]["legend"] == layer["encoding"]["shape"]["legend"]
    assert layer["encoding"]["x"]["title"] == "Cost (EUR per 1,000 km)"
    assert layer["mark"].get("filled") is not True  # what is advised hides no other
    rows = {(row["group"], row["way"]): row["cost"] for row in drawn(spec, 0)}
    assert rows == {
        ("A", "as advised"): 2.5,
        ("A", "run to failure"): 4.0,
        ("A", "clean only"): 2.5,
        ("A", "replace only"): 3.5,
        ("B", "run to failure"): 3.0,
        ("B", "replace only"): 3.0,
    }


def test_options_stand_with_their_limits_and_without_what_has_no_price() -> None:
    spec = option_costs(options(), currency="EUR").to_dict()
    reach, point = spec["layer"]
    assert (reach["encoding"]["x"]["field"], reach["encoding"]["x2"]["field"]) == ("low", "high")
    assert reach["encoding"]["x"]["title"] == "Expected cost to the horizon (EUR)"
    assert reach["encoding"]["x"]["scale"]["zero"]
    assert point["encoding"]["x"]["field"] == "expected_cost"
    assert [row["option"] for row in drawn(spec, 1)] == ["leave", "clean"]


@pytest.mark.parametrize(
    ("made", "by", "sentence"),
    [
        (
            policies,
            ["model"],
            "Long-run cost per 1,000 km by policy: A run to failure 4.00, replace only 3.50, clean only 2.50, as "
            "advised 2.50; B run to failure 3.00, replace only 3.00.",
        ),
        (
            options,
            [],
            "Expected cost to the horizon with 95 % limits: leave 700 (600–800); clean 650 (500–790).",
        ),
    ],
)
def test_a_sentence_says_what_is_drawn(made: Any, by: list[str], sentence: str) -> None:
    assert describe(made(), by) == sentence


def test_nothing_priced_is_said() -> None:
    none = options()
    rows = none.rows.with_columns(pl.lit(None, pl.Float64).alias("expected_cost"))
    assert describe(finding(rows)).endswith("none can be priced.")


def test_the_currency_stands_on_the_axis(make: Any) -> None:
    spec = cost_curve(make["costs"](), ["model"], currency="EUR").to_dict()
    assert spec["layer"][0]["encoding"]["y"]["title"] == "Cost (EUR per 1,000 km)"
