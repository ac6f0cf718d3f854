"""What following the advice would have cost over a past window, against what happened, at the prices known then.

Up to the age at which the policy acts nothing differs. From there on, what happened is priced: each failure and each
planned renewal that the record holds. The policy pays for its planned work, and for the failures that a part just
renewed is expected to have over the distance still driven, by the life fitted then. At the end of the window each part
is left at an age, and what lies ahead of it then is counted on both sides: else work whose good comes later would never
seem to pay.
"""

import numpy as np
import numpy.typing as npt
import polars as pl

from fleetlens.advice.planning.worth import ahead, life_of
from fleetlens.reliability.cleaning_policy import life
from fleetlens.reliability.horizon import Follow, outlook

__all__ = ["savings_by_part"]

_POINTS = 12  # distances at which what a renewed part costs is reckoned; between them on straight lines
_FITS = ("new_shape", "new_scale", "cleaned_shape", "cleaned_scale", "failure", "clean", "mended", "action")

Floats = npt.NDArray[np.float64]


def savings_by_part(rows: pl.DataFrame, endings: pl.DataFrame) -> pl.Series:
    """Money saved by following the advice, one of each of `rows` (as tried_parts has them); 0 where it doesn't act.

    `endings`: findings/endings_between of the window. Negative where the advice would have cost more.
    """
    numbered = rows.with_row_index("part")
    acting = numbered.filter(pl.col("acts_at").is_not_null())
    if acting.is_empty():
        return pl.Series("saving", np.zeros(rows.height))
    told = acting.with_columns(saving=pl.Series(_happened(acting, endings) - _advised(acting)))
    joined = numbered.join(told.select("part", "saving"), on="part", how="left", maintain_order="left")
    return joined["saving"].fill_null(0.0)


def _planned(rows: pl.DataFrame) -> Floats:
    """Price of the planned work on each row."""
    return rows.select(pl.when(pl.col("action") == "replace").then("replace").otherwise("clean")).to_series().to_numpy()


def _happened(rows: pl.DataFrame, endings: pl.DataFrame) -> Floats:
    """What was spent on each part once the advice would have acted, and what lay ahead of it at the end."""
    own = (
        rows.select("part", "vehicle_id", "component", "position", acts_km=pl.col("start_km") + pl.col("acts_at"))
        .join(endings, on=["vehicle_id", "component", "position"], how="inner")
        .filter(pl.col("ended_km") >= pl.col("acts_km"))
        .sort("part", "ended_km", maintain_order=True)
        .group_by("part", maintain_order=True)
        .agg(
            failed=(pl.col("ended") == "failed").sum(),
            preventive=(pl.col("ended") == "preventive").sum(),
            last_as=pl.col("began_as").last(),
            last_km=pl.col("ended_km").last(),
        )
    )
    found = rows.join(own, on="part", how="left", maintain_order="left")
    spent = found["failed"].fill_null(0) * found["failure"] + found["preventive"].fill_null(0) * _planned(found)
    renewed = found["last_km"].is_not_null().to_numpy()
    age = np.where(
        renewed, (found["until_km"] - found["last_km"].fill_null(0)).to_numpy(), found["until_age"].to_numpy()
    )
    began_as = np.where(renewed, found["last_as"].fill_null(""), found["began_as"])
    left = ahead(found, np.maximum(age, 0), began_as == "cleaned")
    return np.asarray(spent.to_numpy() + np.where(_goes_on(found), left, 0))


def _advised(rows: pl.DataFrame) -> Floats:
    """What the advice spends on each part: the work, the failures expected after it, and what lies ahead at the end."""
    driven = (rows["until_age"] - rows["acts_at"]).clip(lower_bound=0).to_numpy()
    cleaned = (rows["action"] == "clean").to_numpy()
    mended = rows["mended"].to_numpy()
    # A part that failed in between is younger at the end: about half the distance old.
    failing = 1 - life_of(rows, cleaned).survival(driven)
    again = mended * ahead(rows, driven / 2, np.full(rows.height, True)) + (1 - mended) * ahead(
        rows, driven / 2, np.full(rows.height, False)
    )
    left = (1 - failing) * ahead(rows, driven, cleaned) + failing * again
    return np.asarray(_planned(rows) + _after(rows, driven) + np.where(_goes_on(rows), left, 0))


def _goes_on(rows: pl.DataFrame) -> npt.NDArray[np.bool_]:
    """Whether the part is still on the road at the end of the window: its vehicle hasn't left."""
    return (rows["until_on"] >= rows["window_to"]).to_numpy()


def _after(rows: pl.DataFrame, driven: Floats) -> Floats:
    """Expected cost of the failures of each part after it was renewed, over the distance still driven."""
    cost = np.zeros(rows.height)
    groups = rows.select(_FITS).with_row_index("at").group_by(_FITS, maintain_order=True).agg("at")
    for fits in groups.iter_rows(named=True):
        where = np.asarray(fits["at"])
        farthest = float(driven[where].max())
        if farthest <= 0:
            continue
        new = life([fits["new_shape"]], [fits["new_scale"]])
        cleaned = life([fits["cleaned_shape"] or fits["new_shape"]], [fits["cleaned_scale"] or fits["new_scale"]])
        fresh = new if fits["action"] == "replace" else cleaned
        ways = np.linspace(farthest / _POINTS, farthest, _POINTS)
        follow = (fits["failure"], fits["clean"], fits["mended"])
        costs = [float(outlook(fresh, 0.0, new, cleaned, Follow(way, *follow)).cost[0]) for way in ways]
        cost[where] = np.interp(driven[where], np.append(0, ways), np.append(0, costs))
    return cost
