"""What leaving, cleaning and replacing a part now would cost up to a horizon, by its fitted lives and drawn ones."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from fleetlens.advice.draws import SEED, FloatArray, drawn_lives, limits
from fleetlens.reliability.cleaning_policy import Life
from fleetlens.reliability.horizon import Follow, outlooks

__all__ = ["CLEAN", "LEAVE", "OPTIONS", "REPLACE", "Ahead", "Lives", "Option", "Part", "lives_of", "options"]

LEAVE, CLEAN, REPLACE = OPTIONS = ("leave", "clean", "replace")
SOON_KM = 10_000.0
DRAWS = 300
_FIT = ("shape", "scale")
_COVARIANCE = ("var_log_shape", "var_log_scale", "cov_log")


@dataclass(frozen=True, slots=True)
class Lives:
    """The life of a new part and of a cleaned one: as fitted in the first entry, as drawn in the others.

    `cleaned` is None where too few cleaned parts have failed.
    """

    new: Life
    cleaned: Life | None


@dataclass(frozen=True, slots=True)
class Part:
    """The part as it stands: its age in km (None: unknown) since it was fitted, or since it was cleaned."""

    age: float | None
    cleaned: bool


@dataclass(frozen=True, slots=True)
class Ahead:
    """How far the vehicle is still meant to run, and how far the warranty of a new part reaches (None: it has none)."""

    horizon_km: float
    warranty_km: float | None


@dataclass(frozen=True, slots=True)
class Option:
    """One option; what varies with the lives has an entry for the fit and one for each draw.

    `price` is paid now; `cost` is all that is expected to the horizon, less the `credit` of the part warranty.
    """

    name: str
    price: float
    cost: FloatArray
    failures: FloatArray
    soon: FloatArray
    credit: FloatArray

    def flip(self, others: Sequence["Option"]) -> FloatArray:
        """The price up to which it costs no more than the cheapest of the others; 0 where there is none."""
        return np.asarray(np.maximum(self.price + np.min([other.cost for other in others], axis=0) - self.cost, 0.0))

    def limits(self, what: str) -> tuple[float, float]:
        """95 % limits over the draws of one of its figures."""
        low, high = limits(getattr(self, what)[1:])
        return float(low), float(high)


def lives_of(stratum: dict[str, Any]) -> Lives:
    """The lives of a row of `policies.Policies.strata`, whose new parts are fitted."""
    cleaned = None if stratum["cleaned_shape"] is None else _lives(stratum, "cleaned", SEED + 1)
    return Lives(_lives(stratum, "new", SEED), cleaned)


def _lives(stratum: dict[str, Any], kind: str, seed: int) -> Life:
    shape, scale = (stratum[f"{kind}_{name}"] for name in _FIT)
    drawn = drawn_lives(shape, scale, [stratum[f"{kind}_{name}"] for name in _COVARIANCE], DRAWS, seed)
    return Life(np.append(shape, drawn.shape[0]), np.append(scale, drawn.scale[0]))


def options(
    names: Sequence[str],
    part: Part,
    lives: Lives,
    stratum: dict[str, Any],
    ahead: Ahead,
) -> list[Option]:
    """The options of `names` that can be priced.

    `stratum` holds the prices: clean, replace, failure, mended, part_cost (a row of `policies.Policies.strata`). After
    the choice nothing is planned, and a failure is mended as failures are now. A new part that fails inside its
    warranty gives back its value.
    """
    of_leaving = None if part.age is None else (lives.cleaned if part.cleaned else lives.new)
    starts = {
        LEAVE: (of_leaving, part.age, 0.0),
        CLEAN: (lives.cleaned, 0.0, stratum["clean"]),
        REPLACE: (lives.new, 0.0, stratum["replace"]),
    }
    able = {
        name: (life, age, price)
        for name, (life, age, price) in starts.items()
        if name in names and life is not None and age is not None and price is not None
    }
    # Where nothing is known of cleaned parts, failures are taken as mended by a replacement.
    mended = stratum["mended"] if lives.cleaned is not None else 0.0
    follow = Follow(ahead.horizon_km, stratum["failure"], 0.0, mended)
    found = outlooks([(life, age) for life, age, _ in able.values()], lives.new, lives.cleaned or lives.new, follow)
    priced = []
    for (name, (life, age, price)), outlook in zip(able.items(), found, strict=True):
        credit = np.zeros(len(life.shape))
        if name == REPLACE and ahead.warranty_km is not None and stratum["part_cost"] is not None:
            credit = stratum["part_cost"] * _fails_within(life, 0.0, min(ahead.warranty_km, ahead.horizon_km))
        priced.append(
            Option(
                name,
                price,
                price + outlook.cost - credit,
                outlook.failures,
                _fails_within(life, age, SOON_KM),
                credit,
            )
        )
    return priced


def _fails_within(life: Life, age: float, km: float) -> FloatArray:
    """The chance that a part that works at `age` fails within so many km."""
    with np.errstate(over="ignore"):
        return np.asarray(-np.expm1((age / life.scale) ** life.shape - ((age + km) / life.scale) ** life.shape))
