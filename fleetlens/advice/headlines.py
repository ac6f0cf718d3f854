"""The few sentences a fleet manager wants first, each with its count or interval."""

from fleetlens.advice.intervals import cleaning_intervals
from fleetlens.advice.verdicts import WORTH
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.filters import Filters
from fleetlens.findings.fleet import overview
from fleetlens.findings.lives import component_lives
from fleetlens.store.reader import Snapshot
from fleetlens.vocabulary.components import carbon_prone

__all__ = ["headlines"]


def headlines(snapshot: Snapshot, filters: Filters = Filters()) -> tuple[str, ...]:  # noqa: B008 - frozen
    """What was observed, what recurs, and the carbon-prone part that fails most: life, comebacks, interval."""
    fleet = overview(snapshot, filters)
    if fleet.km is None:
        return (
            f"{fleet.vehicles:,} vehicles, {fleet.jobs:,} observed jobs, no distance: load odometer readings "
            "to get rates.",
        )
    said = [
        f"{fleet.vehicles:,} vehicles ran {fleet.km:,.0f} km under observation, {fleet.period}: {fleet.jobs:,} jobs, "
        f"{fleet.fault_jobs:,} of them for a fault."
    ]
    top_code = recurring_codes(snapshot, filters).rows.head(1)
    for row in top_code.iter_rows(named=True):
        said.append(
            f"{row['code']} ({row['description'] or 'not in our list'}) recurs most: {row['episodes']:,} "
            f"episodes on {row['vehicles']:,} "
            f"vehicles, {row['rate_per_100k_km']:.2f} per 100,000 km ({row['rate_low']:.2f} to {row['rate_high']:.2f})."
        )
    prone = [row["component"] for row in fleet.components.rows.iter_rows(named=True) if carbon_prone(row["component"])]
    if prone:
        said += _about(snapshot, prone[0], filters)
    return tuple(said)


def _about(snapshot: Snapshot, component: str, filters: Filters) -> list[str]:
    """Life by how it began, comebacks by action and intervals by model of one component."""
    said = []
    lives = component_lives(snapshot, component, by=("began_as",), filters=filters).rows
    for row in lives.filter(lives["shape"].is_not_null()).iter_rows(named=True):
        said.append(
            f"{component}, {row['began_as']}: one in ten has failed by {row['b10_km']:,.0f} km "
            f"({row['b10_low']:,.0f} to {row['b10_high']:,.0f}; {row['failures']:,} failures in "
            f"{row['lives']:,} lives)."
        )
    for row in comebacks(snapshot, component, by=("action",), filters=filters).rows.iter_rows(named=True):
        if row["share_90d"] is not None and row["comebacks"]:
            said.append(
                f"{component}, {row['action']}: {row['comebacks']:,} of {row['repairs']:,} repairs came back; "
                "share by 90 days "
                f"{row['share_90d']:.1%} ({row['share_90d_low']:.1%} to {row['share_90d_high']:.1%})."
            )
    advice = cleaning_intervals(snapshot, component, by=("model",), filters=filters).rows
    for row in advice.filter(advice["verdict"] == WORTH).iter_rows(named=True):
        upper = f"{row['interval_high']:,.0f} km" if row["interval_high"] is not None else "no upper limit"
        said.append(
            f"{component} on {row['model'] or 'vehicles without a model'}: cleaning every "
            f"{row['interval_km']:,.0f} km pays "
            f"({row['interval_low']:,.0f} to {upper}; {row['failures']:,} failures)."
        )
    return said
