"""The queries of the intake say in their headers what they read, take and give."""

import re
from collections.abc import Iterator

import duckdb
import pytest
import sqlglot
from sqlglot import exp

from fleetlens.places import folder
from fleetlens.store import queries

HEADER = re.compile(r"^-- (One row is|Reads|Parameters|Columns):\s+(.*)$", re.MULTILINE)
FILES = sorted((folder("sql") / "intake").glob("*.sql"))
EXAMPLE = {"sha256": "0" * 64, "table_name": "jobs", "first_key": 1, "last_key": 9, "most": 100}
EXAMPLE |= {"source": "north", "days": 60}
CHANGING = re.compile(r"; (changes|makes) ")  # statements that give no rows


@pytest.fixture(scope="module")
def store() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as connection:
        connection.execute(queries.text("schema/tables"))
        connection.execute(queries.text("intake/staging"))
        yield connection


def names(told: str) -> list[str]:
    """The names that a header line tells, without what it says of them in brackets."""
    return [word.split(" ")[0] for word in re.split(r"[;,] ?", re.sub(r" \([^()]*\)", "", told))]


@pytest.mark.parametrize("path", [path for path in FILES if path.stem != "staging"], ids=lambda path: path.stem)
def test_the_header_tells_the_truth(path, store) -> None:
    sql = path.read_text(encoding="utf-8")
    head = dict(HEADER.findall(sql))
    tree = sqlglot.parse_one(sql, read="duckdb")
    own = {cte.alias for cte in tree.find_all(exp.CTE)}
    touched = {table.name for table in tree.find_all(exp.Table)} - own
    told = set(re.findall(r"\w+", head["Reads"])) - {"changes", "makes", "the", "temporary", "table"}
    assert touched <= told
    bound = sorted(set(re.findall(r"\$(\w+)", re.sub(r"--.*", "", sql))))
    assert bound == ([] if head["Parameters"] == "none" else sorted(names(head["Parameters"])))
    if CHANGING.search(head["Reads"]):
        return
    assert touched == set(names(head["Reads"]))
    question = re.sub(r"^insert into .*$", "", sql, flags=re.MULTILINE)
    given = store.sql(f"describe {question}", params={name: EXAMPLE[name] for name in bound} or None).fetchall()
    assert [row[0] for row in given] == names(head["Columns"])


def test_every_query_is_used() -> None:
    package = (
        folder("sql").parent / "fleetlens" if (folder("sql").parent / "fleetlens").is_dir() else folder("sql").parent
    )
    code = "\n".join(
        path.read_text(encoding="utf-8") for part in ("intake", "store") for path in (package / part).rglob("*.py")
    )
    for path in FILES:
        shared = re.sub(r"_(jobs|odometer)$", "_{", path.stem)  # one query a table, named by it
        assert (
            f"intake/{shared}" in code
            or f'intake/{path.stem}"' in code
            or f'("{path.stem.removeprefix("incoming_")}",' in re.sub(r"\(\s+", "(", code)
        )
