"""JSON: the keys that the issue promises, ISO dates, null for unknown, nothing that JSON lacks."""

import json
from datetime import date, datetime
from decimal import Decimal

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.output.records import as_text, plain, record


def test_each_finding_is_one_object_with_all_its_evidence(every):
    told = json.loads(as_text(record(every)), parse_constant=pytest.fail)
    assert list(told) == [
        "question",
        "rows",
        "method",
        "period",
        "excluded",
        "counted",
        "assumed",
        "notes",
        "filters",
        "snapshot",
        "cautions",
    ]
    assert told["period"] == {"start": "2020-01-01", "end": "2025-12-31"}
    assert told["excluded"] == [{"reason": "ended before the record began", "count": 3, "what": "lives"}]
    assert told["filters"] == {"model": ["Alder 3", "Birch"]}
    assert [list(row) for row in told["rows"]] == [every.rows.columns] * every.rows.height


def test_nested_figures_stay_nested(make):
    lives = record(make["lives"]())["rows"]
    assert lives[0]["survival"][0] == {"km": 50000.0, "share": 0.8641, "low": 0.821, "high": 0.899}
    assert lives[1]["survival"][1] == {"km": 100000.0, "share": None, "low": None, "high": None}
    assert record(make["comebacks"]())["rows"][0]["kinds"] == {
        "same_component": 2,
        "other_cause": 1,
        "nothing_found": 0,
    }


def test_dates_are_iso_and_unknown_is_null(make):
    rows = record(make["vehicle"]())["rows"]
    assert (rows[0]["opened_on"], rows[0]["closed_on"], rows[1]["closed_on"]) == (
        "2024-03-01",
        "2024-03-02",
        None,
    )


def test_nan_in_a_row_is_null(make):
    one = make["finding"](pl.DataFrame({"shape": [float("nan"), float("inf"), 1.5]}))
    assert [row["shape"] for row in record(one)["rows"]] == [None, None, 1.5]


def test_letters_stay_as_they_are():
    assert as_text({"complaint": "Kühler – 冷却"}) == '{\n  "complaint": "Kühler – 冷却"\n}'


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text() | st.dates() | st.datetimes() | st.decimals(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=10,
)


@given(values)
def test_any_value_becomes_json_that_reads_back(value):
    assert json.loads(as_text(value), parse_constant=pytest.fail) == plain(value)


def test_plain_values():
    assert plain([date(2025, 2, 3), datetime(2025, 2, 3, 4, 5, 6), Decimal("1.5"), (1, True)]) == [
        "2025-02-03",
        "2025-02-03T04:05:06",
        1.5,
        [1, True],
    ]
