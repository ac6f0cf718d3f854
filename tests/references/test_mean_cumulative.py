"""Mean cumulative function of the valve seats; source and basis in values/mean_cumulative.toml."""

import polars as pl
import pytest

from fleetlens.reliability.recurrence import mean_cumulative


def test_valve_seats(reference, table) -> None:
    """Nelson's 41 engines: estimate by four programs, robust standard error by R survfit(id=) and surpyval."""
    rows = table("valve_seat")
    engines = rows.group_by("engine").agg(end=pl.col("days").max()).sort("engine").with_row_index("unit")
    events = rows.filter(pl.col("replaced") == 1).join(engines, on="engine", maintain_order="left")
    curve = mean_cumulative(events["unit"], events["days"], None, engines["end"])
    check = reference("valve_seat_mcf")
    ours = {"engines": len(engines), "replacements": len(events)}
    names = {"mcf": "mean", "se_robust": "se", "atrisk": "at_risk", "low_log": "low", "high_log": "high"}
    for row in curve.steps.iter_rows(named=True):
        ours |= {f"{name}_{row['time']:.0f}": row[column] for name, column in names.items()}
    asked = {name: value for name, value in ours.items() if name in check.values}
    nelson = frozenset(name for name in check.values if name.startswith("se_nelson"))
    check.holds(asked, not_ours=nelson | {"var_without_covariances_573"})
    # Adding the variances of the steps without their covariances is too narrow; ours isn't that.
    (se,) = curve.at([573])["se"]
    assert se**2 > 1.2 * check.values["var_without_covariances_573"]
    # The form with n - 1 divisors is a little larger.
    assert all(check.values[f"se_nelson_{at}"] >= ours[f"se_robust_{at}"] for at in (61, 404, 653))
    assert curve.at([404])["mean"].to_list() == [pytest.approx(check.values["mcf_404"], abs=1e-9)]
