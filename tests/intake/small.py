"""A fleet of two vehicles and three jobs, and reports in short."""

import polars as pl

from fleetlens.intake.report import LoadReport

VEHICLES = """
    vehicle_id,model,in_service_on,in_service_km
    V1,Corvo 3,2020-01-05,0
    V2,Pinta,2021-03-01,12
"""
JOBS = """
    job_id,vehicle_id,opened_at,closed_at,odometer,odometer_unit,reason
    J1,V1,2021-05-01 08:00,2021-05-01,10000,km,breakdown
    J2,V1,2022-05-01 08:00,2022-05-02,20000,km,scheduled
    J3,V2,2022-06-01,,9000,,defect
"""


def counts(report: LoadReport) -> tuple[int, int, int, int, int]:
    """Rows in, accepted, repeated, refused, replaced."""
    return report.rows_in, report.accepted, report.repeated, report.refused, report.replaced


def faults(report: LoadReport) -> list[tuple[str, int, str, str | None, str, str]]:
    """File name, row, column, value, rule and reason of every refusal."""
    named = report.refusals.with_columns(pl.col("path").str.split("/").list.last())
    return named.select("path", "row", "column", "value", "rule", "reason").rows()
