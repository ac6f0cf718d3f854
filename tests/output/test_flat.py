"""Rows spread out: no figure lost, no name without words."""

import polars as pl
import pytest

from fleetlens.output.flat import flat, heading, text_of


def test_every_nested_column_is_spread(every):
    table = flat(every.rows)
    assert table.height == every.rows.height
    assert not any(kind.is_nested() for kind in table.schema.values())


def test_kinds_and_survival_keep_their_figures(make):
    assert flat(make["comebacks"]().rows)["kinds_other_cause"].to_list() == [1, 0]
    lives = flat(make["lives"]().rows)
    assert [name for name in lives.columns if name.startswith("survival_")] == [
        f"survival_{km}_{end}" for km in (50000, 100000) for end in ("share", "low", "high")
    ]
    assert lives["survival_100000_share"].to_list() == [0.4821, None]


def test_a_distance_that_only_one_row_has_is_null_in_the_others():
    point = pl.Struct({"km": pl.Float64, "share": pl.Float64, "low": pl.Float64, "high": pl.Float64})
    rows = pl.DataFrame(
        {"survival": [[{"km": 2.5, "share": 0.5, "low": 0.4, "high": 0.6}], None, []]},
        schema={"survival": pl.List(point)},
    )
    assert flat(rows).to_dict(as_series=False) == {
        "survival_2.5_share": [0.5, None, None],
        "survival_2.5_low": [0.4, None, None],
        "survival_2.5_high": [0.6, None, None],
    }


def test_what_is_no_number_becomes_null():
    rows = pl.DataFrame({"shape": [1.0, float("nan"), float("inf"), -float("inf"), None]})
    assert flat(rows)["shape"].to_list() == [1.0, None, None, None, None]


def test_a_list_of_words_becomes_text():
    assert flat(pl.DataFrame({"codes": [["P0401", "P0403"], [], None]}))["codes"].to_list() == [
        "P0401, P0403",
        "",
        None,
    ]


def test_no_rows_and_no_columns():
    assert flat(pl.DataFrame()).is_empty()
    assert flat(pl.DataFrame(schema={"code": pl.String, "km": pl.Float64})).columns == ["code", "km"]


def test_every_column_has_words(every):
    assert [name for name in flat(every.rows).columns if not text_of(name).meaning] == []


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("median_km", "Median life (km)"),
        ("failures", "Failures"),
        ("survival_50000_low", "Surviving at 50,000 km, lower limit (share)"),
        ("something_else", "Something else"),
    ],
)
def test_headings_say_the_unit_once(name, told):
    assert heading(name) == told
