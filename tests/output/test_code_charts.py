"""Charts of codes over time by their specification: limits, units, a second mark beside colour, a sentence each."""

from datetime import date
from typing import Any

import polars as pl
import pytest

from fleetlens.output import code_charts
from fleetlens.output.charts import describe
from fleetlens.output.drawing import PALETTE

NAN = None


@pytest.fixture
def periods(make) -> Any:
    rows = pl.DataFrame(
        {
            "period": ["2024-01", "2024-02", "2024-03"],
            "starts_on": [date(2024, 1, 1), date(2024, 2, 1), date(2024, 3, 1)],
            "ends_on": [date(2024, 1, 31), date(2024, 2, 29), date(2024, 3, 15)],
            "episodes": [4, 19, 0],
            "vehicles": [4, 11, 0],
            "km": [100_000.0, 120_000.0, 0.0],
            "rate_per_100k_km": [4.0, 15.8, NAN],
            "rate_low": [1.09, 9.5, NAN],
            "rate_high": [10.2, 24.7, NAN],
            "centre_per_100k_km": [6.0, 6.0, 6.0],
            "control_low": [0.0, 0.0, NAN],
            "control_high": [13.3, 12.7, NAN],
            "signal": ["within", "above", None],
        }
    )
    return make["finding"](rows, question="trend of all codes by month")


@pytest.fixture
def changes(make) -> Any:
    ratio = {
        "latest": [3, 0],
        "earlier": [1, 5],
        "change": [3.0, 0.0],
        "change_low": [0.2, 0.0],
        "change_high": [157.0, 0.9],
    }
    year = {f"{name.partition('_')[0]}_12m{''.join(name.partition('_')[1:])}": values for name, values in ratio.items()}
    rows = pl.DataFrame({"code": ["P0401", "P2002"], "episodes": [9, 9], **year, "change_12m_q": [0.6, 0.03], **ratio})
    return make["finding"](rows.with_columns(change_q=pl.lit(0.5)), question="change of codes")


@pytest.fixture
def groups(make) -> Any:
    rows = pl.DataFrame(
        {
            "depot": ["East", None],
            "episodes": [3, 90],
            "km": [10_000.0, 900_000.0],
            "rate_per_100k_km": [30.0, 10.0],
            "rate_low": [6.2, 8.0],
            "rate_high": [87.7, 12.3],
            "shrunken_rate": [11.0, 10.0],
            "rate_of_all": [10.2, 10.2],
            "chance_low_95": [0.0, 8.1],
            "chance_high_95": [40.0, 12.4],
            "chance_low_998": [0.0, 7.0],
            "chance_high_998": [60.0, 13.8],
            "standing": ["within chance, few to tell", "above 95 %"],
        }
    )
    return make["finding"](rows, question="all codes by depot")


@pytest.fixture
def pairs(make) -> Any:
    rows = pl.DataFrame(
        {
            "code": ["P0401", "P0562"],
            "with_code": ["P0402", "P0563"],
            "together": [12, 8],
            "lift": [9.0, 4.0],
            "lift_low": [6.0, 2.0],
            "lift_high": [13.0, 8.0],
            "plain_together": [11, 0],
            "plain_lift": [8.5, NAN],
            "plain_lift_low": [5.0, NAN],
            "plain_lift_high": [13.0, NAN],
            "pairing": ["together", "together with supply faults only"],
        }
    )
    return make["finding"](rows, question="codes together")


@pytest.fixture
def signs(make) -> Any:
    rows = pl.DataFrame(
        {
            "sign_is": ["code", "component"],
            "sign": ["P0402", "maf_sensor"],
            "preceded": [8, 3],
            "happenings": [90, 90],
            "ahead_share": [0.089, 0.033],
            "chance_share": [0.01, 0.02],
            "times": [8.9, 1.7],
            "times_low": [3.9, 0.4],
            "times_high": [16.0, 4.6],
            "times_q": [1e-5, 0.6],
            "followed": [8, 3],
            "begun": [11, 40],
            "lead_days": [21.0, 30.0],
            "lead_km": [1800.0, 2400.0],
        }
    )
    return make["finding"](rows, question="before failures of egr_valve")


def encodings(chart: Any) -> list[dict[str, Any]]:
    return [layer["encoding"] for layer in chart.to_dict()["layer"]]


def test_a_trend_lies_over_its_limits(periods) -> None:
    band, centre, reach, line, point = encodings(code_charts.rates_by_period(periods))
    assert (band["y"]["field"], band["y2"]["field"]) == ("control_low", "control_high")
    assert (band["x"]["field"], band["x2"]["field"]) == ("starts_on", "after")
    assert centre["y"]["field"] == "centre_per_100k_km"
    assert (reach["y"]["field"], reach["y2"]["field"]) == ("rate_low", "rate_high")
    assert line["y"]["field"] == "rate_per_100k_km"
    assert band["y"]["title"] == "Episodes per 100,000 km"
    assert point["shape"]["field"] == point["color"]["field"] == "signal"  # nobody depends on colour
    assert len(set(point["shape"]["scale"]["range"])) == 3
    assert {"km", "vehicles", "rate_low", "control_high"} <= {tip["field"] for tip in point["tooltip"]}
    assert describe(periods) == (
        "Episodes per 100,000 km of 3 periods with 95 % intervals and control limits: centre 6.00, last 2024-02 with "
        "15.8 (9.5–24.7); beyond the limits: 2024-02 above."
    )


def test_a_change_is_drawn_on_a_scale_of_doublings_around_none(changes) -> None:
    chart = code_charts.changed_rates(changes)
    level, reach, point = encodings(chart)
    assert reach["x"]["scale"] == {"type": "log", "base": 2}
    assert reach["x"]["title"] == "Change in 12 months (times), 1 is no change"
    assert point["x"]["field"] == "change_12m"
    assert point["y"]["sort"] == ["P0401"]  # a change to nothing has no place on it
    assert level["x"]["field"] == "level"
    assert describe(changes).endswith("the surest: P2002 0 (0–1) times, q 0.03; P0401 3.00 (0.20–157.00) times, q 0.6.")


def test_groups_stand_on_the_bands_of_chance_in_no_order_of_rates(groups) -> None:
    wide, narrow, level, point = encodings(code_charts.rates_by_group(groups, ["depot"]))
    assert (wide["x"]["field"], wide["x2"]["field"]) == ("chance_low_998", "chance_high_998")
    assert (narrow["x"]["field"], narrow["x2"]["field"]) == ("chance_low_95", "chance_high_95")
    assert level["x"]["field"] == "rate_of_all"
    assert point["y"]["sort"] == ["East", "depot not recorded"]
    assert point["shape"]["field"] == point["color"]["field"] == "seen"
    assert "depot not recorded above 95 % with 10.0 (8.0–12.3)" in describe(groups, ["depot"])


def test_pairs_are_drawn_with_and_without_supply_faults(pairs) -> None:
    chart = code_charts.pairs(pairs)
    _, _, point = encodings(chart)
    assert point["shape"]["field"] == point["color"]["field"] == point["yOffset"]["field"] == "visits"
    (rows,) = (rows for rows in chart.to_dict()["datasets"].values() if "pair" in rows[0])
    assert [(row["pair"], row["visits"]) for row in rows] == [
        ("P0401 + P0402", "all visits"), ("P0562 + P0563", "all visits"), ("P0401 + P0402", "without supply faults"),
    ]  # fmt: skip
    assert describe(pairs).startswith(
        "Lift of 2 pairs of codes with 95 % intervals, the surest first: P0401 with P0402 9.00 (6.00–13.00) times in 12"
    )


def test_what_goes_before_is_drawn_against_chance(signs) -> None:
    _, reach, point = encodings(code_charts.forerunners(signs))
    assert reach["x"]["title"] == "Times chance, 1 is chance"
    assert point["shape"]["field"] == point["color"]["field"] == "sign_is"
    assert {"lead_days", "lead_km", "followed", "times_q"} <= {tip["field"] for tip in point["tooltip"]}
    assert "P0402 8.90 (3.90–16.00) times, 8 of 90, 21 days ahead" in describe(signs)


def test_pages_choose_text_and_ground(periods, changes, groups, pairs, signs) -> None:
    for draw, finding in (
        (code_charts.rates_by_period, periods),
        (code_charts.changed_rates, changes),
        (code_charts.rates_by_group, groups),
        (code_charts.pairs, pairs),
        (code_charts.forerunners, signs),
    ):
        spec = draw(finding, ["depot"] if draw is code_charts.rates_by_group else []).to_dict()
        assert spec["config"]["background"] == "transparent"
        colours = {
            layer["mark"]["color"]
            for layer in spec["layer"]
            if isinstance(layer["mark"], dict) and "color" in layer["mark"]
        }
        assert colours <= set(PALETTE)


def test_nothing_to_draw_is_said(periods, make) -> None:
    empty = make["finding"](periods.rows.clear(), question="trend of all codes by month")
    assert describe(empty) == "trend of all codes by month: nothing to draw."
