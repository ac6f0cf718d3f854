"""Plain characters, wrong encodings, fillers and ditto marks: what every kind of text needs first.

Repaired: text that was decoded wrongly (by ftfy, a library made for it), no-break and thin blanks, zero-width
characters, curly quotes, dashes, full-width digits and letters. Taken as blank: fillers such as "n/a".
Told, never filled in: ditto marks, because only the rows above know what they stand for.
Refused: what a spreadsheet writes for an error (#REF!), and NUL characters.
"""

import re

import ftfy
import polars as pl

from fleetlens.intake.values.cleaned import Cleaned, by_distinct

__all__ = ["FILLERS", "clean", "dittos", "is_filler", "plain"]

# What people and systems write for "nothing", in small letters without blanks.
FILLERS = (
    *("-", "--", "---", "----", ".", "..", "...", "?", "??", "???", "/", "_", "*", "n/a", "na", "n.a.", "n.a", "#n/a"),
    *("n/k", "nk", "null", "nil", "none", "nan", "nat", "tba", "tbc", "tbd", "t.b.a.", "t.b.c.", "t.b.d."),
    *("unknown", "notknown", "notavailable", "notapplicable", "notrecorded", "blank", "empty", "<null>", "(blank)"),
    *("k.a.", "ka", "k/a", "keine", "keineangabe", "unbekannt", "leer", "entfällt", "entf.", "o.a.", "kein"),
    *("n.v.t.", "nvt", "onbekend", "geen", "inconnu", "inconnue", "néant", "aucun", "aucune", "s/o", "n/d", "n.d."),
    *("nd", "s/d", "s.d.", "desconocido", "ninguno", "ninguna", "sindatos", "sconosciuto", "nessuno", "nessuna"),
    *("desconhecido", "nenhum", "brak", "b/d", "b.d.", "nieznany", "okänd", "saknas", "ukendt", "ukjent", "ingen"),
)
_DITTO = re.compile(
    r"\"|''|``|,,|〃|-\s*(\"|'')\s*-|(do|dto|id|s\.\s?o)\.|ditto|dito|idem|ibid\.?|as\s+above|same\s+as\s+above|same"
    r"|as\s+before|wie\s+oben|siehe\s+oben|zie\s+boven|als\s+boven|comme\s+ci-dessus|como\s+arriba|come\s+sopra"
    r"|como\s+acima|jak\s+wyżej|j\.\s?w\.|som\s+ovan|som\s+ovenfor|som\s+over",
    re.IGNORECASE,
)
_MAYBE_DITTO = r"^[^0-9]{1,29}$"  # no mark is longer, and none holds a digit
_SPREADSHEET_ERROR = r"^#[A-Z/0?!]{2,12}[!?]$"

# One plain character (or none) for each of its many forms.
_PLAIN = (
    {chr(code): chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)}  # full-width forms of ASCII
    | dict.fromkeys(
        "\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000", " "
    )
    | dict.fromkeys("\u200b\u200c\u200d\u200e\u200f\u2060\ufeff\u00ad", "")
    | dict.fromkeys("\u2018\u2019\u201a\u201b\u2032\u00b4", "'")
    | dict.fromkeys("\u201c\u201d\u201e\u201f\u2033", '"')
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212", "-")
)
_FORMS, _PLAINS = list(_PLAIN), list(_PLAIN.values())
_CONFIG = ftfy.TextFixerConfig(
    unescape_html=False,
    remove_terminal_escapes=False,
    uncurl_quotes=False,
    fix_latin_ligatures=False,
    fix_character_width=False,
    fix_line_breaks=False,
    normalization="NFC",
)
_LONGEST = 20_000  # characters of a cell; a longer one is left as it is


def plain(texts: pl.Series) -> pl.Series:
    """The texts in plain characters, without blanks at their ends; blank is null."""
    texts = texts.cast(pl.String)
    if (texts.str.len_bytes() != texts.str.len_chars()).any():
        texts = texts.str.replace_many(_FORMS, _PLAINS)
    texts = texts.str.strip_chars()
    return texts.set(texts == "", None)


def is_filler(texts: pl.Series) -> pl.Series:
    """Whether each plain text stands for nothing; null where it is null."""
    return texts.str.to_lowercase().str.replace_all(r"\s", "").is_in(FILLERS)


def dittos(texts: pl.Series) -> pl.Series:
    """Whether each text says "the same as above"; a blank one doesn't."""
    tidy = plain(texts)
    maybe = tidy.filter(tidy.str.contains(_MAYBE_DITTO).fill_null(False)).unique()
    known = {text: True for text in maybe if _DITTO.fullmatch(text)}
    if not known:
        return pl.repeat(False, len(tidy), eager=True, dtype=pl.Boolean).alias(texts.name)
    return tidy.replace_strict(known, default=False, return_dtype=pl.Boolean).alias(texts.name)


def spreadsheet_error(texts: pl.Series) -> pl.Series:
    """Whether each plain text is what a spreadsheet shows for a formula that failed."""
    return texts.str.contains(_SPREADSHEET_ERROR)


def clean(texts: pl.Series, *, fillers: bool = True) -> Cleaned:
    """Text in plain characters and the right encoding; with `fillers` what stands for nothing is blank."""
    return by_distinct(texts, lambda distinct: _clean(distinct, fillers))


def _clean(texts: pl.Series, fillers: bool) -> pl.DataFrame:
    ends = texts.str.strip_chars()
    right = _right_encoding(ends)
    value = plain(right)
    filler = is_filler(value) if fillers else pl.repeat(False, len(value), eager=True, dtype=pl.Boolean)
    frame = pl.DataFrame(
        {
            "ends": ends,
            "right": right,
            "value": value,
            "filler": filler,
            "error": spreadsheet_error(value) | value.str.contains("\0", literal=True),
        }
    )
    lost = pl.col("value").is_null() | pl.col("error")
    return frame.select(
        value=pl.when(~pl.col("error") & ~pl.col("filler")).then("value"),
        repaired=pl.when(pl.col("filler"))
        .then(pl.lit("filler"))
        .when(lost)
        .then(None)
        .when(pl.col("right") != pl.col("ends"))
        .then(pl.lit("mojibake"))
        .when(pl.col("value") != pl.col("ends"))
        .then(pl.lit("characters")),
        unreadable=pl.col("error").fill_null(False),
        remark=pl.when("error").then(pl.lit("a formula that failed or a broken character, not a value")),
    )


def _right_encoding(texts: pl.Series) -> pl.Series:
    """Texts that were decoded wrongly, decoded rightly; only what isn't ASCII can be wrong."""
    strange = texts.filter((texts.str.len_bytes() != texts.str.len_chars()).fill_null(False)).unique()
    fixed = {
        text: right for text in strange if len(text) <= _LONGEST and (right := ftfy.fix_encoding(text, _CONFIG)) != text
    }
    return texts.replace(fixed) if fixed else texts
