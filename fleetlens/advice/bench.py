"""What the bench is told before it starts: what a code turned out to be, with the cautions beside all advice."""

from collections.abc import Sequence
from dataclasses import replace

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.errors import FleetlensError
from fleetlens.findings.cause_evidence import cause_checks, cause_remedies
from fleetlens.findings.causes import confirmed_causes
from fleetlens.findings.filters import Filters
from fleetlens.findings.finding import Finding
from fleetlens.store.reader import Snapshot

__all__ = ["PARTS", "cause_split"]

_ASK = {"causes": confirmed_causes, "checks": cause_checks, "remedies": cause_remedies}
PARTS = tuple(_ASK)


def cause_split(
    snapshot: Snapshot,
    codes: Sequence[str],
    part: str = "causes",
    filters: Filters = Filters(),  # noqa: B008 - frozen
) -> Finding:
    """The causes confirmed behind `codes`, the checks that told them apart, or the remedies and whether they held.

    `part` is one of PARTS; the figures are those of fleetlens.findings.causes and cause_evidence. Raises FleetlensError
    for another part, and as those do.
    """
    if part not in _ASK:
        raise FleetlensError(f"there is no part {part!r} of a cause split", do=f"one of: {', '.join(PARTS)}")
    return replace(_ASK[part](snapshot, codes, filters), cautions=CAUTIONS)
