"""Lives that the record can't tell from those fitted: draws from a fit's covariance, and the limits they give."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from fleetlens.reliability.cleaning_policy import Life

__all__ = ["SEED", "FloatArray", "drawn_lives", "limits"]

FloatArray = npt.NDArray[np.float64]
SEED = 20_260_101
LEVEL = 0.95


def drawn_lives(
    shape: npt.ArrayLike,
    scale: npt.ArrayLike,
    covariance: Sequence[npt.ArrayLike],
    draws: int,
    seed: int = SEED,
) -> Life:
    """Lives [fit, draw] whose log shape and log scale are normal round the fit's, as a parametric bootstrap has them.

    `covariance`: variances of the log shape and of the log scale, and their covariance, each [fit]. Seeded: the same
    fit gives the same draws, whatever stands beside it. Meeker & Escobar 1998, Statistical Methods for Reliability
    Data, chapters 8 and 9.
    """
    columns = (np.atleast_1d(np.asarray(each, dtype=np.float64))[:, None] for each in (shape, scale, *covariance))
    b, eta, var_shape, var_scale, together = columns
    first, second = np.random.default_rng(seed).standard_normal((2, 1, draws))
    sd = np.sqrt(var_shape)
    rest = np.sqrt(np.maximum(var_scale - together**2 / var_shape, 0))
    return Life(np.exp(np.log(b) + sd * first), np.exp(np.log(eta) + together / sd * first + rest * second))


def limits(drawn: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """95 % limits over the last axis, of draws that may be infinite: order statistics, so none is averaged with it."""
    ordered = np.sort(np.asarray(drawn, dtype=np.float64), axis=-1)
    edge = int((1 - LEVEL) / 2 * ordered.shape[-1])
    return ordered[..., edge], ordered[..., -edge - 1]
