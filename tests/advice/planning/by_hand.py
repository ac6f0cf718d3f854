"""Running parts and strata for the tests of the plan: one stratum, one part a row, told in few words."""

from datetime import date
from typing import Any

import numpy as np
import polars as pl

from fleetlens.advice.planning.candidates import Strata
from fleetlens.reliability.cleaning_policy import Prices, best_policy, life, policy_rate

AS_OF = date(2026, 6, 30)
PRICES = Prices(clean=180.0, replace=420.0, failure=1_100.0, last_failure=1_300.0)
NEW, CLEANED = (2.6, 90_000.0), (1.9, 60_000.0)


def strata(cleanings: float = np.inf, mended: float = 0.3, **changed: Any) -> Strata:
    """The best policy with so many cleanings, for one component on one model, its lives known well."""
    new, cleaned = life(*NEW), life(*CLEANED)
    best = best_policy(new, cleaned, PRICES, cleanings, mended)
    row = {
        "component": "egr_valve",
        "model": "Wain",
        "new_shape": NEW[0],
        "new_scale": NEW[1],
        "cleaned_shape": CLEANED[0],
        "cleaned_scale": CLEANED[1],
        **{f"new_{name}": value for name, value in _covariance().items()},
        **{f"cleaned_{name}": value for name, value in _covariance().items()},
        "clean": PRICES.clean,
        "replace": PRICES.replace,
        "failure": PRICES.failure,
        "last_failure": PRICES.last_failure,
        "clean_hours": 1.5,
        "replace_hours": 2.5,
        "mended": mended,
        "cleanings": None if np.isinf(cleanings) else int(cleanings),
        "first_km": _known(best.first),
        "after_km": _known(best.after),
        "cost_per_1000km": float(policy_rate(best, new, cleaned, PRICES, mended)) * 1_000,
        "verdict": "worth it",
        **changed,
    }
    return Strata(pl.DataFrame([row], schema_overrides={"cleanings": pl.Int64, "after_km": pl.Float64}), ("model",))


def _covariance() -> dict[str, float]:
    return {"var_log_shape": 0.01, "var_log_scale": 0.0025, "cov_log": 0.001}


def _known(age: Any) -> float | None:
    return None if np.isinf(age) else float(age)


def parts(*told: dict[str, Any]) -> pl.DataFrame:
    """Running parts; each row says only what differs from a new valve of a vehicle that runs 100 km a day."""
    rows = [
        {
            "vehicle_id": f"V{number}",
            "registration": None,
            "component": "egr_valve",
            "position": "",
            "began_as": "new",
            "part_grade": None,
            "model": "Wain",
            "model_year": 2022,
            "duty": "site",
            "depot": "Osmere",
            "start_km": 0.0,
            "now_km": 40_000.0,
            "unknown_start": False,
            "cleanings": 0,
            "record_to": AS_OF,
            "last_on": AS_OF,
            "last_km": 40_000.0,
            "km_per_day": 100.0,
            "service_on": None,
            "service_km": None,
            "advised_on": None,
            "began_job_id": None,
            **row,
        }
        for number, row in enumerate(told, 1)
    ]
    dates = {name: pl.Date for name in ("record_to", "last_on", "service_on", "advised_on")}
    return pl.DataFrame(
        rows,
        schema_overrides={
            **dates, "service_km": pl.Float64, "now_km": pl.Float64, "registration": pl.String, "last_km": pl.Float64,
            "part_grade": pl.String, "began_job_id": pl.String, "model": pl.String,
        },
    )  # fmt: skip


def rates(*told: tuple[str, float]) -> pl.DataFrame:
    """Quarters of vehicles: (vehicle, km a day)."""
    return pl.DataFrame(
        {
            "vehicle_id": [vehicle for vehicle, _ in told],
            "back": range(len(told)),
            "km_per_day": [km for _, km in told],
        },
        schema={"vehicle_id": pl.String, "back": pl.Int64, "km_per_day": pl.Float64},
    )
