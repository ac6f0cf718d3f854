"""Words and marks for yes and no in several languages, written as true and false.

Repaired: the words below and those the map adds. Taken as blank: fillers. Refused: anything else.
"""

from dataclasses import dataclass

import polars as pl

from fleetlens.intake.values.cleaned import Cleaned, by_distinct
from fleetlens.intake.values.text import is_filler, plain

__all__ = ["FlagForm", "clean"]

_YES = (
    *("yes", "y", "1", "1.0", "true", "t", "x", "on", "ok", "✓", "✔", "☑", "✅", "yep", "yeah", "pass", "passed"),
    *("ja", "j", "wahr", "oui", "vrai", "waar", "sí", "si", "s", "verdadero", "sì", "vero", "sim", "verdadeiro"),
    *("tak", "prawda", "sant", "sandt", "sann"),
)
_NO = (
    *("no", "n", "0", "0.0", "false", "f", "off", "✗", "✘", "☐", "❌", "nope", "fail", "failed"),
    *("nein", "falsch", "non", "faux", "nee", "onwaar", "falso", "não", "nao", "nie", "fałsz", "nej", "nei"),
    *("falskt", "falsk", "usann"),
)
_ANSWERS = dict.fromkeys(_YES, "true") | dict.fromkeys(_NO, "false")


@dataclass(frozen=True, slots=True)
class FlagForm:
    """Words that the map adds; they come before ours, so "x" can be made to mean no."""

    true: tuple[str, ...] = ()
    false: tuple[str, ...] = ()


def clean(texts: pl.Series, form: FlagForm | None = None) -> Cleaned:
    """Each text as true or false; null where blank or unreadable. Case and a full stop behind don't matter."""
    form = form or FlagForm()
    answers = dict(_ANSWERS)
    answers |= dict.fromkeys((word.strip().lower() for word in form.true), "true")
    answers |= dict.fromkeys((word.strip().lower() for word in form.false), "false")

    def read(distinct: pl.Series) -> pl.DataFrame:
        tidy = plain(distinct)
        low = tidy.str.to_lowercase().str.strip_suffix(".")
        value = low.replace_strict(answers, default=None, return_dtype=pl.String)
        filler = (is_filler(tidy) & value.is_null()).fill_null(False)
        lost = value.is_null() & ~filler & tidy.is_not_null()
        frame = pl.DataFrame({"value": value, "given": distinct.str.strip_chars(), "filler": filler, "lost": lost})
        return frame.select(
            "value",
            repaired=pl.when("filler")
            .then(pl.lit("filler"))
            .when(pl.col("value") != pl.col("given"))
            .then(pl.lit("flag")),
            unreadable=pl.col("lost"),
            remark=pl.when("lost").then(pl.lit("neither yes nor no in any language we know: add it to the map")),
        )

    return by_distinct(texts, read)
