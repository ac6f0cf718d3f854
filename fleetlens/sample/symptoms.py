"""The code that a failure sets."""

import numpy as np

from fleetlens.sample.chance import Bools, Chance, Ints
from fleetlens.sample.fleet import Fleet
from fleetlens.sample.lives import Lives
from fleetlens.sample.parts import COMPONENTS, GLOW_PLUG_CODES, PARTS
from fleetlens.sample.words import BACKGROUND_CODES, MINOR_CODES, SMALL_REPAIRS

CODES = tuple(
    sorted({
        *(code for part in PARTS for code, _ in part.codes), *GLOW_PLUG_CODES, *BACKGROUND_CODES, *MINOR_CODES,
        *(code for _, _, code in SMALL_REPAIRS),
    })
)  # fmt: skip
"""Every code that the sample can hold."""

# Chances of each code by component; a glow plug sets the code of its cylinder instead.
_WEIGHTS = np.array([[dict(part.codes).get(code, 0.0) for code in CODES] for part in PARTS])
_SILENT = np.array([part.silent for part in PARTS])
_GLOW_PLUG = COMPONENTS.index("glow_plug")
_GLOW_CODES = np.array([CODES.index(code) for code in GLOW_PLUG_CODES])


def of_failures(chance: Chance, fleet: Fleet, lives: Lives, what: str = "code") -> Ints:
    """The code that each life's failure sets (its place in CODES); -1 where it sets none."""
    keys = lives.keys(fleet)
    code = chance.pick_by_row(_WEIGHTS[lives.part], what, *keys)
    code = np.where(lives.part == _GLOW_PLUG, _GLOW_CODES[lives.slot % len(_GLOW_CODES)], code)
    return np.where(chance.happens(_SILENT[lives.part], "silent", *keys), -1, code)


def varied(lives: Lives) -> Bools:
    """Whether the failure could set one of several codes."""
    several: Bools = np.array([len(part.codes) > 1 for part in PARTS])[lives.part]
    return several
