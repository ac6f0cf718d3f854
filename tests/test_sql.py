"""Every query is a file with a header that tells the truth, in SQL that another engine can read."""

import re
from datetime import date
from pathlib import Path

import duckdb
import pytest
import sqlglot
from sqlglot import exp

from fleetlens.places import folder
from fleetlens.store import marts, queries

HEADER = re.compile(r"^-- (One row is|Reads|Parameters|Columns):\s+(.*)$", re.MULTILINE)
FILES = sorted((folder("sql") / "marts").glob("*.sql")) + sorted((folder("sql") / "findings").glob("*.sql"))
EXAMPLE = {
    "models": ["Corvo 3"],
    "duties": None,
    "depots": None,
    "components": ["egr_valve"],
    "window_days": 90,
    "window_km": 5000.0,
    "technicians": False,
    "by": "component",
    "downtime_rate": 0.0,
    "treated": ["2024-01-01 2023-01-01 2025-01-01 V1"],
    "treated_component": None,
    "treated_action": None,
    "from_on": None,
    **{f"common_{day}": date(2024, 1, 1) for day in ("on", "from", "to")},
    "code": "P0401",
    "names": ["P0401"],
    "months": 3,
    "each_name": True,
    "each_model": True,
    "each_duty": False,
    "each_depot": False,
    "join_days": 14,
    "supply_codes": ["P0562"],
    "needed": 2,
    "what": "component",
    "about": "egr_valve",
    "window": 60.0,
    "by_km": False,
    "codes": ["P0401"],
    "vehicle_id": "V1",
    "jobs_at_once": 1_000,
    "since": date(2024, 1, 1),
    "until": date(2024, 12, 31),
}
# What means something else, or nothing, on Apache Spark (checked against Spark 4.3; write the other form).
FOREIGN = {
    "quantile_cont", "percentile_cont", "product", "list", "isodow", "week", "to_days", "generate_series", "log",
}  # fmt: skip
FOREIGN_NODES = (exp.PercentileCont, exp.Pivot, exp.Log)


@pytest.fixture(scope="module")
def store() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect()
    connection.execute(queries.text("schema/tables"))
    marts.build(connection)
    return connection


def header(sql: str) -> dict[str, str]:
    return dict(HEADER.findall(sql))


def words(told: str, separator: str = ", ") -> set[str]:
    """The names that a header line tells, without what it says of them in brackets."""
    plain = re.sub(r"\([^()]*\)", "", told)
    return {word.strip().split(" ")[0] for part in plain.split(separator) for word in part.split(";")} - {"none", ""}


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_header_tells_the_truth(path: Path, store: duckdb.DuckDBPyConnection) -> None:
    sql = path.read_text(encoding="utf-8")
    head = header(sql)
    tree = sqlglot.parse_one(sql, read="duckdb")
    own = {cte.alias for cte in tree.find_all(exp.CTE)}
    assert {table.name for table in tree.find_all(exp.Table) if table.name} - own == words(head["Reads"])
    bound = set(re.findall(r"\$(\w+)", re.sub(r"--.*", "", sql)))
    assert bound == words(head["Parameters"])
    with store.cursor() as cursor:
        rows = cursor.sql(sql, params={name: EXAMPLE[name] for name in bound} or None)
        told = [column.strip().split(" ")[0] for column in re.sub(r"\([^()]*\)", "", head["Columns"]).split(";")]
        assert rows.columns == told


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_another_engine_can_read_it(path: Path) -> None:
    sql = path.read_text(encoding="utf-8")
    tree = sqlglot.parse_one(sql, read="duckdb")
    called = {node.name.lower() for node in tree.find_all(exp.Anonymous)}
    assert not called & FOREIGN
    assert not [node for node in tree.find_all(*FOREIGN_NODES)]
    assert not [join for join in tree.find_all(exp.Join) if join.args.get("method") == "ASOF"]
    assert not [
        cast for cast in tree.find_all(exp.Cast)
        if cast.to.is_type("int") and not isinstance(cast.this, exp.Literal | exp.Null | exp.Window | exp.Column)
    ]  # fmt: skip
    assert sqlglot.transpile(sql, read="duckdb", write="spark", unsupported_level=sqlglot.ErrorLevel.RAISE)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_the_result_is_ordered_or_one_row(path: Path) -> None:
    tree = sqlglot.parse_one(path.read_text(encoding="utf-8"), read="duckdb")
    if path.stem in marts.VIEWS:
        return  # never shown, and whoever reads it orders its own result
    single = header(path.read_text(encoding="utf-8"))["One row is"]
    assert tree.args.get("order") or single.startswith(
        ("all ", "the record as a whole", "the switchable rules", "a vehicle, with its record")
    )


def test_every_mart_has_its_file_and_every_file_is_a_mart() -> None:
    assert sorted(marts.MARTS) == sorted(path.stem for path in (folder("sql") / "marts").glob("*.sql"))


def test_a_missing_or_needless_value_is_refused(store: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(duckdb.Error):
        queries.frame(store, "findings/vehicle")
    with pytest.raises(duckdb.Error):
        queries.frame(store, "findings/record_end", as_of=date(2026, 1, 1))
