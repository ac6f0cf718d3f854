"""Findings made by hand, one per question, with the awkward values that real ones hold."""

from collections.abc import Callable
from datetime import date
from typing import Any

import polars as pl
import pytest

from fleetlens.findings.finding import Count, Finding, Period

PERIOD = Period(date(2020, 1, 1), date(2025, 12, 31))
POINT = pl.List(pl.Struct({"km": pl.Float64, "share": pl.Float64, "low": pl.Float64, "high": pl.Float64}))
KINDS = pl.Struct({"same_component": pl.Int64, "other_cause": pl.Int64, "nothing_found": pl.Int64})
HOSTILE = '=HYPERLINK("http://example.invalid";"[bold]x[/bold]")'


def finding(rows: pl.DataFrame, **parts: Any) -> Finding:
    """A finding around `rows` with every part filled in, unless told otherwise."""
    told: dict[str, Any] = {
        "question": "an example",
        "method": "Poisson rate, Garwood interval, 95 %",
        "period": PERIOD,
        "snapshot": "fleet-000003",
        "counted": (Count("seen in the record", 1234, "code events"),),
        "excluded": (Count("ended before the record began", 3, "lives"),),
        "assumed": ("Parts of vehicles whose history begins late are taken for the original ones.",),
        "notes": ("[red]Brack[/red] 200: too few failures.",),
        "filters": {"model": ("Alder 3", "Birch")},
    }
    return Finding(rows=rows, **(told | parts))


def codes() -> Finding:
    return finding(
        pl.DataFrame(
            {
                "code": ["P0401", "SPN 1208 FMI 3", "P1ABC"],
                "description": [
                    "Exhaust gas recirculation A: insufficient flow detected by the monitor",
                    HOSTILE,
                    None,
                ],
                "events": [1234, 41, 1],
                "episodes": [1101, 38, 1],
                "vehicles": [312, 20, 1],
                "km": [27_400_000.0] * 3,
                "rate_per_100k_km": [4.018248, 0.1386, 0.00365],
                "rate_low": [3.784, 0.0981, 0.0000924],
                "rate_high": [4.262, 0.1903, 0.0203],
            }
        ),
        question="recurring codes",
    )


def lives() -> Finding:
    rows = [
        {
            "component": "egr_valve",
            "model": "Alder 3",
            "duty": "parcel",
            "lives": 410,
            "failures": 120,
            "median_km": 98_200.4,
            "median_low": 91_000.0,
            "median_high": 106_400.0,
            "shape": 2.31,
            "shape_low": 1.98,
            "shape_high": 2.66,
            "characteristic_life_km": 115_300.0,
            "characteristic_life_low": 108_000.0,
            "characteristic_life_high": 124_900.0,
            "b10_km": 43_500.0,
            "b10_low": 38_000.0,
            "b10_high": 48_800.0,
            "survival": [
                {"km": 50_000.0, "share": 0.8641, "low": 0.8210, "high": 0.8990},
                {"km": 100_000.0, "share": 0.4821, "low": 0.4210, "high": 0.5403},
            ],
        },
        {
            "component": "egr_valve",
            "model": "Birch",
            "duty": "council",
            "lives": 3,
            "failures": 0,
            "median_km": None,
            "median_low": None,
            "median_high": None,
            "shape": None,
            "shape_low": None,
            "shape_high": None,
            "characteristic_life_km": None,
            "characteristic_life_low": None,
            "characteristic_life_high": None,
            "b10_km": None,
            "b10_low": None,
            "b10_high": None,
            "survival": [
                {"km": 50_000.0, "share": 1.0, "low": 0.2924, "high": 1.0},
                {"km": 100_000.0, "share": None, "low": None, "high": None},
            ],
        },
    ]
    return finding(pl.DataFrame(rows, schema_overrides={"survival": POINT}), question="component lives")


def comebacks() -> Finding:
    shares = {
        f"share_{days}d{end}": values
        for days, values_by_end in (
            (30, {"": [0.0211, 0.0], "_low": [0.0069, 0.0], "_high": [0.0641, 0.7076]}),
            (60, {"": [0.0423, None], "_low": [0.0192, None], "_high": [0.0921, None]}),
            (90, {"": [0.0732, None], "_low": [0.0370, None], "_high": [0.1422, None]}),
        )
        for end, values in values_by_end.items()
    }
    kinds = [
        {"same_component": 2, "other_cause": 1, "nothing_found": 0},
        {"same_component": 0, "other_cause": 0, "nothing_found": 0},
    ]
    return finding(
        pl.DataFrame(
            {
                "component": ["egr_valve"] * 2,
                "action": ["clean", "replace"],
                "repairs": [41, 3],
                "comebacks": [3, 0],
                **shares,
                "kinds": pl.Series(kinds, dtype=KINDS),
            }
        ),
        question="comebacks",
    )


def intervals() -> Finding:
    return finding(
        pl.DataFrame(
            {
                "component": ["egr_valve"] * 3,
                "model": ["Alder 3", "Birch", "Cedar"],
                "interval_km": [58_213.0, None, None],
                "interval_low": [51_000.0, None, None],
                "interval_high": [None, None, None],
                "cost_per_1000km": [6.213, None, None],
                "cost_per_1000km_now": [9.871, 4.2, None],
                "verdict": ["worth it", "not worth it", "not enough evidence"],
                "failures": [120, 33, 1],
            },
            schema_overrides={"interval_high": pl.Float64},
        ),
        question="cleaning intervals",
        cautions=("Follow the maker's instructions first.", "It never replaces a safety inspection."),
    )


def vehicle() -> Finding:
    return finding(
        pl.DataFrame(
            {
                "job_id": ["J-0001", "J-0002"],
                "opened_on": [date(2024, 3, 1), date(2024, 5, 9)],
                "closed_on": [date(2024, 3, 2), None],
                "odometer_km": [81_213.6, 84_000.2],
                "odometer_is": ["recorded", "estimated"],
                "reason": ["breakdown", "scheduled"],
                "codes": ["P0401, P0403", None],
                "done": ["egr_valve: clean; vehicle: road_test", None],
                "complaint": ["@SUM(A1) [link=http://example.invalid]no power[/link]\n\x1b[31mup hill", None],
                "workshop": ["North yard", "North yard"],
                "downtime_h": [26.5, None],
                "cost": [412.3, None],
            }
        ),
        question="vehicle history",
    )


def recurrence() -> Finding:
    km = [1000.0 * step for step in range(1, 301)]
    return finding(
        pl.DataFrame(
            {
                "component": ["egr_valve"] * 300,
                "km": km,
                "vehicles_at_risk": [40] * 300,
                "events": list(range(1, 301)),
                "mean_events": [step / 40 for step in range(1, 301)],
                "low": [step / 50 for step in range(1, 301)],
                "high": [step / 30 for step in range(1, 301)],
            }
        ),
        question="recurrent failures",
    )


def curves(groups: int = 2, steps: int = 5) -> Finding:
    rows = [
        {
            "component": "egr_valve",
            "model": f"Model {group}",
            "duty": "parcel",
            "km": 1000.0 * step,
            "at_risk": 100 - step,
            "failures": min(step, 1),
            "share": 1 - step / (steps + group + 1),
            "low": max(0.0, 0.9 - step / (steps + group + 1)),
            "high": 1 - 0.5 * step / (steps + group + 1),
        }
        for group in range(groups)
        for step in range(steps)
    ]
    return finding(pl.DataFrame(rows), question="survival curves")


def costs() -> Finding:
    rows = [
        {
            "component": "egr_valve",
            "model": model,
            "km": 1000.0 * step,
            "cost_per_1000km": cost(step),
        }
        for model, cost in (
            ("Alder 3", lambda step: 100 / step + step),  # least at 10,000 km
            ("Birch", lambda step: 5 + 100 / step),  # falls for ever
        )
        for step in range(1, 31)
    ]
    return finding(pl.DataFrame(rows), question="cost curves")


def components() -> Finding:
    return finding(
        pl.DataFrame(
            {
                "component": ["egr_valve", "dpf"],
                "failures": [120, 14],
                "vehicles": [100, 13],
                "per_100k_km": [0.44, 0.05],
                "low": [0.36, 0.03],
                "high": [0.52, 0.09],
            }
        ),
        question="failures by component",
    )


EVERY: dict[str, Callable[[], Finding]] = {
    "codes": codes,
    "lives": lives,
    "comebacks": comebacks,
    "intervals": intervals,
    "vehicle": vehicle,
    "recurrence": recurrence,
    "curves": curves,
    "costs": costs,
    "components": components,
}


@pytest.fixture(name="make")
def _make() -> dict[str, Callable[..., Finding]]:
    """The builders above by name, and `finding` for one of your own."""
    return EVERY | {"finding": finding}


@pytest.fixture(params=list(EVERY))
def every(request: pytest.FixtureRequest) -> Finding:
    """Each of the findings above in turn."""
    return EVERY[request.param]()
