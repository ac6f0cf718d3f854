"""What holds for any files: every row is accounted for, and how the rows are dealt out changes nothing."""

import tempfile
from pathlib import Path

import duckdb
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleetlens.intake import load as load_module
from fleetlens.intake.load import load
from fleetlens.intake.rules import RULES
from fleetlens.store import marts, snapshots

JOB = ("job_id", "vehicle_id", "opened_at", "closed_at", "odometer", "odometer_unit", "reason")
CODE = ("job_id", "code", "status")
jobs = st.lists(
    st.tuples(
        st.sampled_from(["J1", "J2", "J3", "J4", ""]),
        st.sampled_from(["V1", "V2", "V9"]),
        st.sampled_from(["2024-01-01", "2024-02-01 08:00", "2024-02-31", ""]),
        st.sampled_from(["", "2024-03-01", "2023-01-01"]),
        st.sampled_from(["", "100", "200.5", "-3", "many"]),
        st.sampled_from(["", "km", "mi", "furlong"]),
        st.sampled_from(["defect", "Defect", "", "whim"]),
    ),
    max_size=12,
)
codes = st.lists(
    st.tuples(
        st.sampled_from(["J1", "J2", "J7"]),
        st.sampled_from(["P0401", "p0401", "P0401-64", "SPN 1 FMI 2", "none"]),
        st.sampled_from(["", "stored", "pending"]),
    ),
    max_size=8,
)
lines = st.lists(st.sampled_from(["J1", "J1,V1,2024-01-01,x", '"J5",V1,2024-01-01,,,,,,']), max_size=2)
SMALL = settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(autouse=True)
def no_marts(monkeypatch: pytest.MonkeyPatch) -> None:
    """The tables of lives and repairs are tested elsewhere and cost most of a small load."""
    monkeypatch.setattr(marts, "build", lambda _: None)
    assert load_module.marts is marts


def csv(header: tuple[str, ...], rows: list[tuple[str, ...]], more: list[str] | None = None) -> str:
    return "\n".join([",".join(header), *(",".join(row) for row in rows), *(more or []), ""])


def content(store: Path) -> dict[str, list[tuple[object, ...]]]:
    """What people see of a store, without integer keys and without the record of loads."""
    name = snapshots.current(store)
    if name is None:
        return {}
    with duckdb.connect(str(snapshots.path_of(store, name)), read_only=True) as reader:
        return {
            query: reader.sql(query).fetchall()
            for query in (
                "select * exclude (vehicle_key) from vehicles order by all",
                "select vehicle_id, jobs.* exclude (job_key, vehicle_key)"
                " from jobs join vehicles using (vehicle_key) order by all",
                "select job_id, code, failure_type, status from job_codes join jobs using (job_key)"
                " join codes using (code_key) order by all",
                "select vehicle_id, read_at, km, source, good, why"
                " from readings join vehicles using (vehicle_key) order by all",
            )
        }


@SMALL
@given(jobs, codes, lines)
def test_every_row_is_accepted_repeated_or_refused(job_rows, code_rows, odd_lines) -> None:
    with tempfile.TemporaryDirectory() as folder:
        files, store = Path(folder, "files"), Path(folder, "store")
        files.mkdir()
        (files / "vehicles.csv").write_text("vehicle_id\nV1\nV2\n", encoding="utf-8")
        (files / "jobs.csv").write_text(csv(JOB, job_rows, odd_lines), encoding="utf-8")
        (files / "job_codes.csv").write_text(csv(CODE, code_rows), encoding="utf-8")
        report = load([files], store)
        rows_in = {"vehicles": 2, "jobs": len(job_rows) + len(odd_lines), "job_codes": len(code_rows)}
        for file in report.files:
            assert file.rows_in == rows_in[file.table]
            assert file.rows_in == file.accepted + file.repeated + file.refused
            mine = report.refusals.filter(table_name=file.table)
            assert mine["row"].n_unique() == file.refused
        assert report.rows_in == report.accepted + report.repeated + report.refused
        assert set(report.refusals["rule"]) <= set(RULES)
        assert (
            report.refusals.select(pl.struct("path", "row", "column", "rule").n_unique()).item()
            == report.refusals.height
        )
        before = content(store)
        again = load([files], store)
        assert (again.accepted, again.refused) == (0, report.refused)
        assert again.refusals.equals(report.refusals)
        assert content(store) == before


different = st.lists(
    st.tuples(
        st.integers(0, 30),
        st.sampled_from(["V1", "V2"]),
        st.integers(1, 28),
        st.sampled_from(["", "100", "3000"]),
        st.sampled_from(["defect", "scheduled", "whim"]),
    ),
    max_size=12,
    unique_by=lambda row: row[0],
)


@SMALL
@given(different, st.randoms(use_true_random=False), st.integers(1, 4), st.booleans())
def test_order_and_split_and_loads_and_units_do_not_matter(rows, random, parts, one_load) -> None:
    kilometres = [(f"J{n}", v, f"2024-01-{day:02d}", "", km, "km", reason) for n, v, day, km, reason in rows]
    miles = [
        (*row[:4], repr(float(row[4]) / 1.609344) if row[4] else "", "mi" if random.random() < 0.5 else "Miles", row[6])
        for row in kilometres
    ]
    with tempfile.TemporaryDirectory() as folder:
        plain, dealt = Path(folder, "plain"), Path(folder, "dealt")
        for place in (plain, dealt):
            place.mkdir()
            (place / "vehicles.csv").write_text(
                "vehicle_id,in_service_on,in_service_km\nV1,2023-01-01,0\nV2,,\n", encoding="utf-8"
            )
        (plain / "jobs.csv").write_text(csv(JOB, kilometres), encoding="utf-8")
        load([plain], Path(folder, "one"))
        mixed = [random.choice(pair) for pair in zip(kilometres, miles, strict=True)]
        random.shuffle(mixed)
        for part in range(parts):
            (dealt / f"jobs-{part}.csv").write_text(csv(JOB, mixed[part::parts]), encoding="utf-8")
        two = Path(folder, "two")
        if one_load:
            load([dealt], two)
        else:
            for file in [dealt / "vehicles.csv", *sorted(dealt.glob("jobs-*"), reverse=True)]:
                load([file], two)
        assert rounded(content(Path(folder, "one"))) == rounded(content(two))


def rounded(tables: dict[str, list[tuple[object, ...]]]) -> dict[str, list[tuple[object, ...]]]:
    """A mile's worth of km divided and multiplied again may differ in the last place."""
    return {
        query: [tuple(round(value, 6) if isinstance(value, float) else value for value in row) for row in rows]
        for query, rows in tables.items()
    }


class Model:
    """The rules of repeats, corrections and files loaded before, one row at a time; slow and plain on purpose."""

    def __init__(self) -> None:
        self.rows: dict[str, str] = {}
        self.refused_of: dict[str, set[int]] = {}  # content of a file: the rows refused when it was last loaded

    def load(self, files: list[str]) -> list[tuple[int, int, int, int, int]]:
        """(rows in, accepted, repeated, refused, replaced) of each file."""
        standing: dict[str, str] = {}  # keys of this load's new rows
        told, refused_of, fresh = [], {}, dict(self.rows)
        for text in files:
            rows = [line.split(",") for line in text.splitlines()[1:]]
            before = self.refused_of.get(text)
            known = {n for n in range(len(rows)) if before is not None and n not in before}
            here = {rows[n][0]: rows[n][1] for n in known}  # keys known from this very file
            accepted = repeated = replaced = 0
            refused = set()
            for n, (key, model, year) in enumerate(rows):
                if n in known:
                    repeated += 1
                elif year == "never" or not key:
                    refused.add(n)
                elif key in here or key in standing:
                    if here.get(key, standing.get(key)) == model:
                        repeated += 1
                    else:
                        refused.add(n)
                else:
                    standing[key] = model
                    if self.rows.get(key) == model:
                        repeated += 1
                    else:
                        accepted += 1
                        replaced += key in self.rows
                        fresh[key] = model
            refused_of[text] = refused_of.get(text, set()) | refused
            told.append((len(rows), accepted, repeated, len(refused), replaced))
        if any(accepted for _, accepted, *_ in told):  # else nothing is published
            self.rows = fresh
            self.refused_of |= refused_of
        return told


vehicle_files = st.lists(
    st.lists(
        st.tuples(
            st.sampled_from(["V1", "V2", "V3", ""]), st.sampled_from(["A", "B"]), st.sampled_from(["", "", "never"])
        ),
        max_size=5,
    ),
    min_size=1,
    max_size=3,
)


@settings(SMALL, max_examples=12)
@given(
    vehicle_files, st.lists(st.lists(st.integers(0, 2), min_size=1, max_size=3, unique=True), min_size=1, max_size=4)
)
def test_any_series_of_loads_does_what_the_rules_say(contents, loads) -> None:
    texts = [csv(("vehicle_id", "model", "in_service_on"), rows) for rows in contents]
    with tempfile.TemporaryDirectory() as folder:
        model, store = Model(), Path(folder, "store")
        for number, chosen in enumerate(loads):
            files = [texts[index] for index in chosen if index < len(texts)]
            paths = [Path(folder, f"vehicles-{number}-{place}.csv") for place in range(len(files))]
            for path, text in zip(paths, files, strict=True):
                path.write_text(text, encoding="utf-8")
            if not paths:
                continue
            report = load(paths, store)
            assert [
                (file.rows_in, file.accepted, file.repeated, file.refused, file.replaced) for file in report.files
            ] == model.load(files)
            stored = [
                row
                for query, rows in content(store).items()
                if query.endswith("from vehicles order by all")
                for row in rows
            ]
            assert {str(row[0]): str(row[4]) for row in stored} == model.rows
