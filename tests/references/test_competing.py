"""Competing ends against R's multi-state survfit; sources and bases in values/competing.toml."""

from fleetlens.reliability.competing import cumulative_incidence
from fleetlens.reliability.survival import kaplan_meier


def test_shock_absorbers(reference, table) -> None:
    """Two failure modes; computed by hand and by R survfit (standard errors by R)."""
    lives, ages = table("shock_absorber"), [10000, 15000, 20000, 20900, 25000, 28000]
    ours = {}
    for row in cumulative_incidence(lives["km"], lives["mode"]).at(ages).iter_rows(named=True):
        place = f"{row['cause']}_{row['time']:.0f}"
        ours |= {f"F{place}": row["incidence"], f"se{place}": row["se"]}
    for row in kaplan_meier(lives["km"], lives["failed"]).at(ages).iter_rows(named=True):
        ours[f"S_{row['time']:.0f}"] = row["survival"]
    reference("shock_absorber_cuminc").holds(ours)


def test_mgus2(reference, table) -> None:
    """1,384 patients: progression (1) or death before it (2); computed by hand and by R survfit."""
    lives = table("mgus2_competing")
    ours = {}
    for row in cumulative_incidence(lives["months"], lives["event"]).at([60, 120, 240, 360]).iter_rows(named=True):
        place = f"{ {1: 'pcm', 2: 'death'}[row['cause']] }_{row['time']:.0f}".replace(" ", "")
        ours |= {place: row["incidence"], f"se_{place}": row["se"]}
    naive = 1 - kaplan_meier(lives["months"], lives["event"] == 1).at([360])["survival"].item()
    asked = {name: value for name, value in ours.items() if name in reference("mgus2_cuminc").values}
    reference("mgus2_cuminc").holds(asked | {"naive_one_minus_km_pcm_360": naive})
    assert naive > 3 * ours["pcm_360"]  # what the share must not be
