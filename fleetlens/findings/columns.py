"""What each column of a result means: its words for people, its unit and its definition, from columns.csv."""

import csv
import io
from dataclasses import dataclass
from importlib.resources import files

__all__ = ["COLUMNS", "ColumnText"]


@dataclass(frozen=True, slots=True)
class ColumnText:
    """Words for one column: a heading, the unit ("" where none) and one sentence of meaning."""

    label: str
    unit: str
    meaning: str

    @property
    def heading(self) -> str:
        """The label with its unit, as it stands over a column."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


def _listed() -> dict[str, ColumnText]:
    text = files("fleetlens.findings").joinpath("columns.csv").read_text(encoding="utf-8")
    return {
        row["name"]: ColumnText(row["label"], row["unit"], row["meaning"]) for row in csv.DictReader(io.StringIO(text))
    }


COLUMNS = _listed()
