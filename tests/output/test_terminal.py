"""The terminal: fits its width, breaks no figure, hides nothing, runs nobody's markup."""

import io
import re

import polars as pl
import pytest
from rich.console import Console

from fleetlens.output.columns import columns
from fleetlens.output.terminal import MOST_ROWS, MOST_STEPS, show


def printed(finding, width=80, **console):
    out = Console(file=io.StringIO(), width=width, **console)
    show(finding, out)
    return out.file.getvalue()


def squeezed(text):
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 120, 200])
def test_nothing_is_wider_than_the_terminal_or_cut_off(every, width):
    out = printed(every, width)
    assert max(len(line) for line in out.splitlines()) <= width
    assert "…" not in out


@pytest.mark.parametrize("width", [80, 120])
def test_no_figure_and_no_heading_word_is_broken(every, width):
    out = printed(every, width)
    rows = every.rows.head(1) if "mean_events" in every.rows.columns else every.rows.head(3)
    for column in columns(rows):
        for text in (column.heading, *(column.cells if column.right else ())):
            assert [word for word in text.split() if word not in out] == []


def test_figures_stand_with_their_limits_and_counts_with_their_whole(make):
    out = printed(make["lives"](), 200)
    for told in (
        "Component: egr_valve",
        "120 of 410",
        "98,200 (91,000–106,400)",
        "2.31 (1.98–2.66)",
        "0 of 3",
    ):
        assert told in out
    assert "86% (82–90%)" in out
    assert not re.search(r"\b0 ?%", out)


def test_comebacks_of_nobody_are_no_nought_per_cent(make):
    out = printed(make["comebacks"](), 160)
    assert "3 of 41" in out
    assert "0 of 3" in out
    assert "none (up to 71%)" in out
    assert not re.search(r"\b0(\.0+)?%", out)


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("codes", "– Description: not in our list of codes"),
        ("lives", "– Median life (km): half had not failed while they were observed"),
        ("lives", "– B10 (km): too few failures for a Weibull fit"),
        ("lives", "– Surviving at 100,000 km: no life was observed so far"),
        ("comebacks", "– Comeback share at 90 days: no repair was followed for so long"),
        ("intervals", "– Cleaning interval (km): no interval is advised; see the verdict"),
    ],
)
def test_what_is_unknown_has_its_reason_beneath(make, name, reason):
    assert reason in squeezed(printed(make[name]()))


def test_the_evidence_stands_beneath(make):
    out = squeezed(printed(make["intervals"]()))
    for told in (
        "Method Poisson rate, Garwood interval, 95 %",
        "Period 2020-01-01 to 2025-12-31 (snapshot fleet-000003)",
        "Only model Alder 3, Birch",
        "Counted 1,234 code events: seen in the record",
        "Left out 3 lives: ended before the record began",
        "Assumed Parts of vehicles whose history begins late are taken for the original ones.",
        "Before anyone starts work • Follow the maker's instructions first. • It never replaces",
    ):
        assert told in out


def test_text_is_never_markup_nor_steers_the_terminal(make):
    out = printed(make["vehicle"](), 120, force_terminal=True, color_system="truecolor")
    assert "[link=http://example.invalid]" in out
    assert "\x1b]8" not in out  # the terminal's own form of a link
    assert "\x1b[31m" not in out
    assert "[red]Brack[/red]" in out


def test_a_visit_tells_complaint_work_and_doubtful_odometer(make):
    out = squeezed(printed(make["vehicle"](), 120))
    assert "≈ 84,000" in out
    assert "≈ estimated from the vehicle's usage" in out
    assert "→ egr_valve: clean" in out


def test_a_long_answer_says_how_much_of_it_is_shown(make):
    long = make["finding"](pl.DataFrame({"code": [f"P{number:04}" for number in range(200)]}))
    out = printed(long)
    assert out.count("P0") == MOST_ROWS
    assert "50 of 200 rows; --out FILE or --json gives all." in out


def test_a_curve_keeps_its_first_and_last_step(make):
    out = printed(make["recurrence"](), 120)
    assert f"{MOST_STEPS} of 300 rows" in out
    assert re.search(r"^ +1,000 +40 +1 ", out, re.MULTILINE)
    assert re.search(r"^ +300,000 +40 +300 ", out, re.MULTILINE)


@pytest.mark.parametrize("rows", [pl.DataFrame(), pl.DataFrame(schema={"code": pl.String, "rate_low": pl.Float64})])
def test_no_rows_is_a_sentence(make, rows):
    out = printed(make["finding"](rows))
    assert "Nothing to show" in out
    assert "Left out" in out


def test_wide_rows_become_several_tables_that_repeat_the_keys(make):
    out = printed(make["lives"]())
    assert out.count("Alder 3  parcel") == 2


def test_names_that_are_numbers_have_no_thousands_mark(make):
    assert "2019" in printed(make["finding"](pl.DataFrame({"model_year": [2019, None], "lives": [1000, 2]})))
