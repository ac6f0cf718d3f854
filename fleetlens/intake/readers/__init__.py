"""Files of many formats as sheets: columns and rows of text, with what was found on the way."""

from fleetlens.intake.readers.opening import open_file
from fleetlens.intake.readers.sheet import Batch, Ragged, Sheet

__all__ = ["Batch", "Ragged", "Sheet", "open_file"]
