"""The figures don't depend on how the tables were written: row order, files, loads, formats, km or miles."""

from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from fleetlens import (
    cleaning_intervals,
    comebacks,
    component_lives,
    load,
    make_sample,
    open_store,
    recurrent_failures,
    recurring_codes,
)
from fleetlens.findings.b_lives import b_lives
from fleetlens.findings.campaign import campaign
from fleetlens.findings.cause_evidence import cause_checks, cause_remedies
from fleetlens.findings.causes import confirmed_causes
from fleetlens.findings.comeback_differences import comeback_differences
from fleetlens.findings.cost import costs
from fleetlens.findings.drift import drift
from fleetlens.findings.failure_trends import failure_trends
from fleetlens.findings.fates import fate_curves
from fleetlens.findings.filters import Filters
from fleetlens.findings.forerunners import forerunners
from fleetlens.findings.life_comparison import compared_lives
from fleetlens.findings.life_fit import life_fit
from fleetlens.findings.measurements import measurements
from fleetlens.findings.together import codes_together
from fleetlens.findings.treatments import Treatment
from fleetlens.findings.trends import changed_rates, rates_by_group, rates_by_period
from fleetlens.findings.warranty import Term, Terms, warranty_totals

MILE = 1.609344  # km, by definition (international yard and pound agreement, 1959)
Tables = dict[str, pl.DataFrame]


@pytest.fixture(scope="module")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Tables:
    folder = make_sample(tmp_path_factory.mktemp("fleet"), vehicles=80, seed=3).folder
    return {path.stem: pl.read_csv(path, infer_schema=False) for path in folder.glob("*.csv")}


def figures(store: Path) -> dict[str, pl.DataFrame]:
    with open_store(store) as snapshot:
        return {
            "codes": recurring_codes(snapshot).rows,
            "lives": component_lives(snapshot, by=("model", "began_as"), at=(50_000, 100_000)).rows.drop("survival"),
            "shares": component_lives(snapshot, by=("duty",), at=(50_000,)).rows.explode("survival").unnest("survival"),
            "comebacks": comebacks(snapshot, by=("action", "workshop")).rows.unnest("kinds"),
            "intervals": cleaning_intervals(snapshot).rows,
            "compared": comeback_differences(snapshot, by=("checks_after",)).rows,
            "cost": costs(snapshot, "component").rows.sort("component"),
            "warranty": warranty_totals(snapshot, terms=Terms(Term(24, 50_000.0))).rows.sort("component", "part_grade"),
            "campaign": campaign(snapshot, "egr_valve", Treatment("egr_valve", "clean")).rows,
            "recurrence": recurrent_failures(snapshot, "egr_valve").rows,
            "trend": rates_by_period(snapshot, "failures", "quarter").rows,
            "changes": changed_rates(snapshot).rows.sort("code"),
            "groups": rates_by_group(snapshot, by=("depot",)).rows,
            "pairs": codes_together(snapshot, join_days=7, at_least=3).rows.sort("code", "with_code"),
            "before": forerunners(snapshot, "egr_valve", km=3000.0, at_least=2).rows.sort("sign_is", "sign"),
            "fates": fate_curves(snapshot, "egr_valve", by=("duty",)).rows,
            "comparison": compared_lives(snapshot, "egr_valve", by=("model",), within=("duty",)).rows,
            "b lives": b_lives(snapshot, by=("duty",), shares=(0.01, 0.5)).rows,
            "fit": life_fit(snapshot, "brakes", by=("model",)).rows,
            "trends": failure_trends(snapshot, by=("duty",)).rows,
            "causes": confirmed_causes(snapshot, ["P0401", "P0299"], Filters(model=("Fell",))).rows,
            "checks": cause_checks(snapshot, ["P0401"]).rows,
            "remedies": cause_remedies(snapshot, ["P0401"]).rows,
            "measurements": measurements(snapshot).rows,
            "drift": drift(snapshot).rows,
        }  # fmt: skip


@pytest.fixture(scope="module")
def plain(tables: Tables, tmp_path_factory: pytest.TempPathFactory) -> dict[str, pl.DataFrame]:
    folder, store = tmp_path_factory.mktemp("plain"), tmp_path_factory.mktemp("store") / "s"
    for name, rows in tables.items():
        rows.write_csv(folder / f"{name}.csv")
    load([folder], store)
    return figures(store)


# What counts of a fleet and its copy: the name of the answer, what names a row, and its counts.
DOUBLED = (
    ("comparison", ["model"], ["lives", "failures"]),
    ("trends", ["component", "duty"], ["vehicles", "failures"]),
    ("causes", ["component", "cause"], ["jobs", "elsewhere", "labour_jobs"]),
    ("checks", ["component", "cause", "check", "value_median"], ["jobs", "failed", "passed", "not_recorded"]),
    ("remedies", ["component", "cause", "action"], ["repairs", "comebacks"]),
    ("measurements", ["component", "check", "value_median", "share_failed"], ["checks", "vehicles", "values"]),
    ("drift", ["component", "check"], ["lives", "vehicles", "measured"]),
)


def loaded(folder: Path, *loads: list[Path]) -> dict[str, pl.DataFrame]:
    for paths in loads:
        load(paths, folder / "store")
    return figures(folder / "store")


def same(here: dict[str, pl.DataFrame], there: dict[str, pl.DataFrame]) -> None:
    for name, rows in there.items():
        assert rows.height > 0, name
        assert_frame_equal(here[name], rows, rel_tol=1e-9, abs_tol=1e-7)


def write(tables: Tables, folder: Path, change: Callable[[str, pl.DataFrame], pl.DataFrame]) -> list[Path]:
    for name, rows in tables.items():
        change(name, rows).write_csv(folder / f"{name}.csv")
    return [folder]


def test_the_order_of_rows_does_not_matter(tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path) -> None:
    shuffled = write(tables, tmp_path, lambda _, rows: rows.sample(fraction=1.0, shuffle=True, seed=5))
    same(loaded(tmp_path, shuffled), plain)


def test_the_order_of_columns_does_not_matter(tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path) -> None:
    turned = write(tables, tmp_path, lambda _, rows: rows.select(reversed(rows.columns)))
    same(loaded(tmp_path, turned), plain)


def test_miles_give_what_km_give(tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path) -> None:
    def in_miles(_: str, rows: pl.DataFrame) -> pl.DataFrame:
        if "odometer" not in rows.columns:
            return rows
        unit = pl.col("odometer_unit") if "odometer_unit" in rows.columns else pl.lit("km")
        in_km = unit.fill_null("km") == "km"
        shown = pl.col("odometer").cast(pl.Float64)
        return rows.with_columns(
            odometer=pl.when(in_km).then(shown / MILE).otherwise(shown * MILE),
            odometer_unit=pl.when(in_km).then(pl.lit("mi")).otherwise(pl.lit("km")),
        )

    same(loaded(tmp_path, write(tables, tmp_path, in_miles)), plain)


def test_files_split_over_loads_and_formats_do_not_matter(
    tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path
) -> None:
    """Half of the rows as CSV in one load, the other half as Parquet in a second one."""
    first, second = [], []
    for name, rows in tables.items():
        half = rows.height // 2
        first.append(tmp_path / f"{name}-1.csv")
        rows.head(half if name not in ("vehicles", "jobs", "fitted") else rows.height).write_csv(first[-1])
        second.append(tmp_path / f"{name}-2.parquet")
        rows.tail(rows.height - half).write_parquet(second[-1])
    same(loaded(tmp_path, first, second), plain)


def test_loading_twice_is_loading_once(tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path) -> None:
    paths = write(tables, tmp_path, lambda _, rows: rows)
    same(loaded(tmp_path, paths, paths), plain)


def test_two_fleets_count_twice_and_leave_the_curves(
    tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path
) -> None:
    """The fleet beside a copy of itself under other names: counts double, shares and fitted lives stay."""

    def doubled(_: str, rows: pl.DataFrame) -> pl.DataFrame:
        keys = [key for key in ("vehicle_id", "job_id") if key in rows.columns]
        return pl.concat([rows, rows.with_columns(pl.col(key) + "-copy" for key in keys)]) if keys else rows

    here = loaded(tmp_path, write(tables, tmp_path, doubled))
    counts = ["events", "episodes", "vehicles", "km"]
    assert_frame_equal(
        here["codes"].select("code", *counts).sort("code"),
        plain["codes"].select("code", *(pl.col(name) * 2 for name in counts)).sort("code"),
        rel_tol=1e-9,
    )
    for name, keys, counted in DOUBLED:
        order = [*keys, *counted]
        assert_frame_equal(
            here[name].select(order).sort(order),
            plain[name].select(*keys, *(pl.col(count) * 2 for count in counted)).sort(order),
            rel_tol=1e-9,
        )
    steps = ["duty", "fate", "km", "share_ended"]
    assert_frame_equal(here["fates"].select(steps), plain["fates"].select(steps), rel_tol=1e-9)
    for name, figures_of in (("drift", ["slope", "at_failure"]), ("trends", ["growth"])):
        assert_frame_equal(here[name].select(figures_of), plain[name].select(figures_of), rel_tol=1e-6)
    kept = ["component", "model", "began_as", "median_km", "shape", "characteristic_life_km", "b10_km"]
    assert_frame_equal(here["lives"].select(kept), plain["lives"].select(kept), rel_tol=1e-6)
    shares = ["component", "action", "workshop", "share_30d", "share_60d", "share_90d"]
    assert_frame_equal(here["comebacks"].select(shares), plain["comebacks"].select(shares), rel_tol=1e-9)


def test_two_fleets_change_and_come_together_as_one_does(
    tables: Tables, plain: dict[str, pl.DataFrame], tmp_path: Path
) -> None:
    """The same of trends, pairs and signs: counts double, rates and ratios stay."""

    def doubled(_: str, rows: pl.DataFrame) -> pl.DataFrame:
        keys = [key for key in ("vehicle_id", "job_id") if key in rows.columns]
        return pl.concat([rows, rows.with_columns(pl.col(key) + "-copy" for key in keys)]) if keys else rows

    here = loaded(tmp_path, write(tables, tmp_path, doubled))
    pair, sign = ["code", "with_code"], ["sign_is", "sign"]
    for name, key, counts, kept in (
        ("trend", ["period"], ["failures", "vehicles", "km"], ["rate_per_100k_km", "centre_per_100k_km"]),
        ("changes", ["code"], ["episodes", "latest_12m"], ["change", "change_12m"]),
        ("groups", ["depot"], ["episodes", "km"], ["rate_per_100k_km", "rate_of_all"]),
        ("pairs", pair, ["together", "plain_together", "by_chance"], ["lift", "plain_lift"]),
        ("before", sign, ["preceded", "happenings", "followed", "begun"], ["times", "chance_share"]),
    ):
        known = plain[name].select(*key, *counts, *kept)
        both = here[name].join(known.select(key), on=key, how="semi", maintain_order="right").select(known.columns)
        assert known.height > 0
        assert_frame_equal(both, known.with_columns(pl.col(counts) * 2), rel_tol=1e-6)
