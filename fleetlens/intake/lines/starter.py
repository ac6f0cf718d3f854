"""A file of words to begin with: examples of what a fleet may add, none of them in force yet."""

from pathlib import Path

from fleetlens.errors import FleetlensError

__all__ = ["EXAMPLES", "write_starter"]

EXAMPLES = """\
# Words of your own for reading job lines. They add to ours and win over them.
# Take the "# " off the lines that you want, and put your own words in.
# `fleetlens lines FILE --column NAME` shows what is read with them; the next load uses them.

# A part that isn't in our list, or further names for one that is:
# [components.tail_lift]
# label = "Tail lift"
# synonyms = ["tail lift", "lift deck"]

# Further words for something that is done. The actions are ours: replace, clean, repair, inspect, ...
# [actions.replace]
# verbs = ["bunged in a new"]

# Something that is found wrong:
# [causes.mice]
# label = "Mice"
# words = ["mice", "nest"]

# What a code means to you:
# [codes.P1234]
# description = "What our maker means by it"
"""


def write_starter(path: Path) -> None:
    """Write the examples to `path`, which must not exist yet; raises FleetlensError where it can't be written."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(EXAMPLES)
    except FileExistsError:
        raise FleetlensError("there is a file of words already", where=str(path), do="add to that one") from None
    except OSError as error:
        raise FleetlensError(
            f"this file can't be written: {error.strerror or error}",
            where=str(path),
            do="give --store a folder that there is",
        ) from None
