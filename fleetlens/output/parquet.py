"""A finding's rows as Parquet: typed, nested, with the evidence in the file's metadata."""

import io

from fleetlens.findings.finding import Finding
from fleetlens.output.records import as_text, evidence


def parquet(finding: Finding) -> bytes:
    """The rows as they are; the metadata key `fleetlens` holds question, method and the rest as JSON."""
    held = io.BytesIO()
    told = {"question": finding.question, **evidence(finding)}
    finding.rows.write_parquet(held, metadata={"fleetlens": as_text(told)})
    return held.getvalue()
