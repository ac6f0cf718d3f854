"""Each invented export, loaded through its maps, against the tidy tables of the same vehicles.

The tidy tables are the truth here: the exports are written from them, by code that knows nothing of the intake. What an
export lacks makes a difference that is stated and held to below.
"""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import duckdb
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from fleetlens import places
from fleetlens.errors import FleetlensError
from fleetlens.findings.codes import recurring_codes
from fleetlens.findings.comebacks import comebacks
from fleetlens.findings.lives import component_lives
from fleetlens.intake.completeness import Origin
from fleetlens.intake.load import load
from fleetlens.intake.maps import written
from fleetlens.intake.report import LoadReport
from fleetlens.sample.exports import monthly, two_depots
from fleetlens.sample.exports.histories import Tables, histories
from fleetlens.store import snapshots
from fleetlens.store.reader import open_store

EXPORTS = places.folder("sample_fleet") / "exports"
BESIDE = (".toml", ".md")

Figures = dict[str, pl.DataFrame]


def load_export(
    name: str, store: Path, files: Sequence[str] = (), maps: str = "*.toml", origin: Origin | None = None
) -> LoadReport:
    """Load an export with its maps; `files`: only these of its folder. Every source must balance."""
    folder = EXPORTS / name
    paths = [folder / file for file in files] or [p for p in sorted(folder.iterdir()) if p.suffix not in BESIDE]
    found = [written.read(path) for path in sorted(folder.glob(maps))]
    report = load(paths, store, maps=found, origin=origin)
    for file in report.files:
        assert file.rows_in == file.accepted + file.repeated + file.refused, file
    return report


def load_tidy(tables: Tables, folder: Path, store: Path) -> None:
    """Load tables as their own files."""
    folder.mkdir()
    for name, frame in tables.items():
        frame.write_csv(folder / f"{name}.csv", float_precision=2, datetime_format="%Y-%m-%dT%H:%M:%S")
    report = load([folder], store)
    assert report.refused == report.repeated == 0


def figures(store: Path) -> Figures:
    """What is compared: recurring codes, lives of a component by how they began, comebacks."""
    with open_store(store) as snapshot:
        return {
            "codes": recurring_codes(snapshot).rows,
            "lives": component_lives(snapshot, "egr_valve", by=("began_as",)).rows,
            "comebacks": comebacks(snapshot).rows,
            "comebacks by model": comebacks(snapshot, by=("action", "model")).rows,
        }


def stored(store: Path, table: str) -> pl.DataFrame:
    """A table of the store, with the number of the job beside each row."""
    name = snapshots.current(store)
    assert name is not None
    with duckdb.connect(snapshots.path_of(store, name), read_only=True) as connection:
        more = "" if table == "jobs" else "join (select job_key, job_id from jobs) using (job_key)"
        found = pl.from_arrow(connection.sql(f"select * from {table} {more}").to_arrow_table())
    assert isinstance(found, pl.DataFrame)
    return found


@pytest.fixture(scope="module")
def tidy(tmp_path_factory: pytest.TempPathFactory) -> Figures:
    folder = tmp_path_factory.mktemp("tidy")
    load_tidy(histories(), folder / "files", folder / "store")
    found = figures(folder / "store")
    assert all(frame.height >= 3 for frame in found.values())
    return found


@pytest.mark.parametrize("name", ["wide_semicolon", "workbook", "system_dump"])
def test_a_whole_export_gives_the_figures_of_the_tidy_tables(name: str, tidy: Figures, tmp_path: Path) -> None:
    report = load_export(name, tmp_path)
    assert report.refused == 0
    taken = {file.table: file.accepted for file in report.files}
    assert taken == {table: histories()[table].height for table in taken}
    for what, frame in figures(tmp_path).items():
        assert_frame_equal(frame, tidy[what], check_exact=True)


def test_loading_an_export_again_changes_nothing(tmp_path: Path) -> None:
    load_export("wide_semicolon", tmp_path)
    again = load_export("wide_semicolon", tmp_path, maps="no map.toml")  # they are remembered
    assert (again.accepted, again.refused) == (0, 0)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store of the export that is nothing but words."""
    store = tmp_path_factory.mktemp("text") / "store"
    assert load_export("text_only", store).refused == 0
    return store


def test_words_alone_give_every_code_and_its_jobs(told: Path, tidy: Figures) -> None:
    ours, true = figures(told)["codes"], tidy["codes"]
    assert set(ours["code"]) - set(true["code"]) <= {"B1042"}  # the number of a job sheet, in the form of a code
    both = true.join(ours, on="code", suffix=" told")
    assert both.height == true.height
    assert_frame_equal(both.select(events="events told", vehicles="vehicles told"), both.select("events", "vehicles"))
    # An episode ends with a repairing action; one that the words don't tell joins two of them.
    assert both.select((pl.col("episodes") - pl.col("episodes told")).abs().sum()).item() <= 2
    # Without a fuel card the last km of a vehicle are reckoned from its visits.
    assert both.select((pl.col("km told") / pl.col("km") - 1).abs().max()).item() < 0.002
    assert both.select((pl.col("km told") != pl.col("km")).all()).item()


def test_words_alone_give_the_lives_nearly(told: Path, tidy: Figures) -> None:
    ours, true = figures(told)["lives"], tidy["lives"]
    counts = ["began_as", "lives", "failures"]
    assert_frame_equal(ours.select(counts), true.select(counts))
    for column in ("median_km", "shape", "characteristic_life_km", "b10_km"):
        assert ((ours[column] / true[column] - 1).abs() < 0.01).all(), column


def test_words_alone_give_most_repairs_and_their_comebacks(told: Path, tidy: Figures) -> None:
    columns = ["component", "action", "repairs", "comebacks"]
    ours, true = (found["comebacks"].select(columns) for found in (figures(told), tidy))
    assert_frame_equal(ours.filter(component="egr_valve"), true.filter(component="egr_valve"))
    missed = true.join(ours, on=columns, how="anti")
    assert missed["repairs"].sum() <= 0.15 * true["repairs"].sum(), missed


def test_what_words_cannot_tell_is_blank_and_marked(told: Path) -> None:
    actions = stored(told, "job_actions")
    assert actions["from_text"].all()
    assert actions.select(pl.col("labour_h", "labour_cost", "parts_cost").is_null().all()).row(0) == (True,) * 3
    assert stored(told, "job_codes")["from_text"].all()
    assert stored(told, "jobs")["closed_at"].is_null().all()
    assert actions["cause"].is_not_null().any()


REPORTS = "monthly reports"


def test_the_later_report_puts_the_earlier_right(tmp_path: Path) -> None:
    store, found, true = tmp_path / "store", monthly.corrections(histories()), monthly.true(histories())
    load_export("monthly", store, ["vehicles.csv", "fitted.csv"], maps="no map.toml")
    load_export("monthly", store, ["2026-05 report.csv"], origin=Origin(REPORTS))
    assert f"{found.misplaced}X" in set(stored(store, "jobs")["job_id"])
    complete = Origin(REPORTS, monthly.SECOND, date(2026, 6, 30))
    later = load_export("monthly", store, ["2026-06 report.csv"], maps="no map.toml", origin=complete)  # remembered
    assert later.refused == 0
    assert {file.table: file.replaced for file in later.files} == {"jobs": 1, "job_codes": 0, "job_actions": 2}

    jobs = stored(store, "jobs")
    own = {f"{found.credited}C", f"{found.doubled}B", f"{found.supplemented}S"}  # cards that are no jobs of their own
    assert set(jobs["job_id"]) - set(true["jobs"]["job_id"]) == own
    assert set(true["jobs"]["job_id"]) <= set(jobs["job_id"])

    load_tidy(true, tmp_path / "files", tmp_path / "tidy")
    expected = figures(tmp_path / "tidy")
    for what, frame in figures(store).items():
        # Each card that is no job of its own still brings a reading, which moves the km of a period a little.
        assert_frame_equal(frame, expected[what], rel_tol=0.01 if what == "codes" else 1e-5)
    ours, theirs = (stored(place, "job_actions") for place in (store, tmp_path / "tidy"))
    money = pl.col("labour_cost", "parts_cost").sum()
    assert_frame_equal(ours.filter(pl.col("job_id") != f"{found.doubled}B").select(money), theirs.select(money))


def test_without_a_period_what_is_gone_from_the_later_report_stays(tmp_path: Path) -> None:
    found = monthly.corrections(histories())
    for files in (["vehicles.csv", "fitted.csv"], ["2026-05 report.csv"], ["2026-06 report.csv"]):
        load_export("monthly", tmp_path, files, maps="no map.toml" if "vehicles.csv" in files else "*.toml")
    assert f"{found.misplaced}X" in set(stored(tmp_path, "jobs")["job_id"])


def test_two_depots_with_two_orders_of_dates_know_their_vans_by_their_marks(tmp_path: Path) -> None:
    store, mistaken = tmp_path / "store", two_depots.swapped(histories())
    load_export("two_depots", store, ["vehicles.csv"], maps="no map.toml")
    for name in ("north", "south"):
        report = load_export("two_depots", store, [f"{name}.csv"], maps=f"map-{name}.toml")
        assert set(report.refusals["rule"]) == {"unknown_vehicle", "unknown_job"}
        assert report.refusals.filter(rule="unknown_vehicle")["value"].str.contains("OV1O").all()

    whole = histories()
    bare = {
        "vehicles": whole["vehicles"],
        "jobs": whole["jobs"].drop("complaint", "technician", "downtime_h"),
        "job_codes": whole["job_codes"].drop("status"),
        "job_actions": whole["job_actions"].drop("position", "part_number", "part_grade", "quantity", "note"),
    }
    without = {
        name: frame if name == "vehicles" else frame.filter(~pl.col("job_id").is_in(mistaken))
        for name, frame in bare.items()
    }
    load_tidy(without, tmp_path / "files", tmp_path / "tidy")
    expected = figures(tmp_path / "tidy")
    for what, frame in figures(store).items():
        assert_frame_equal(frame, expected[what], check_exact=True)


def test_a_remembered_map_is_not_used_against_the_dates_of_a_file(tmp_path: Path) -> None:
    """Both lists have the same columns: the north's map would read the south's days up to the 12th as months."""
    load_export("two_depots", tmp_path, ["vehicles.csv", "north.csv"], maps="map-north.toml")
    before = snapshots.current(tmp_path)
    with pytest.raises(FleetlensError, match=r"the map says day_first, but .* of column 'Came' can't be read so"):
        load_export("two_depots", tmp_path, ["south.csv"], maps="no map.toml")
    assert snapshots.current(tmp_path) == before
