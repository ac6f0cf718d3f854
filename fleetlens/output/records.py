"""A finding as JSON: one object with its rows and all the evidence."""

import json
import math
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from fleetlens.findings.finding import Count, Finding


def record(finding: Finding) -> dict[str, Any]:
    """The finding as plain values that JSON can hold: dates in ISO form, null for what is unknown."""
    return {"question": finding.question, "rows": plain(finding.rows.to_dicts()), **evidence(finding)}


def evidence(finding: Finding) -> dict[str, Any]:
    """What stands behind the rows: method, period, counts, assumptions, filters and snapshot."""
    return {
        "method": finding.method,
        "period": {"start": plain(finding.period.start), "end": plain(finding.period.end)},
        "excluded": _counts(finding.excluded),
        "counted": _counts(finding.counted),
        "assumed": list(finding.assumed),
        "notes": list(finding.notes),
        "filters": {name: list(values) for name, values in finding.filters.items()},
        "snapshot": finding.snapshot,
        "cautions": list(finding.cautions),
    }


def as_text(value: Any) -> str:
    """`value` as JSON text that keeps letters as they are."""
    return json.dumps(plain(value), ensure_ascii=False, allow_nan=False, indent=2)


def plain(value: Any) -> Any:
    """`value` with dates as ISO text, and null for NaN and infinity, however deep they stand."""
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(inner) for inner in value]
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, Decimal):
        value = float(value) if value.is_finite() else None
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _counts(counts: tuple[Count, ...]) -> list[dict[str, Any]]:
    return [{"reason": one.reason, "count": one.count, "what": one.what} for one in counts]
