"""A phrase of a line with what it stands for: what all steps of the reading pass on."""

from dataclasses import dataclass

from fleetlens.intake.lines.tokens import Gap

__all__ = ["Mark"]


@dataclass(slots=True)
class Mark:
    """A phrase of the line: its kind (a letter, see Term), its key, and the words `first` to `last` it takes up."""

    kind: str
    key: str
    first: int
    last: int
    start: int
    end: int
    gap: Gap
    words: str = ""
    form: str = ""
    target: str = ""
    new: bool = False  # a part that takes the place of another
    place: bool = False  # says where, not what
    fastened: bool = False  # what is meant is a clip or bolt of it
    why: str = ""  # why what it says wasn't done
