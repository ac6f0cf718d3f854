"""Text made even, letter by letter, so that a position in it is a position in what was written."""

import unicodedata
from functools import cache

__all__ = ["folded"]

_SAME = {
    "\u2018": "'",
    "\u2019": "'",
    "\u201b": "'",
    "\u00b4": "'",
    "`": "'",
    "\u201c": '"',
    "\u201d": '"',
    "\u2010": "-",
    "\u2011": "-",
    "\u2012": "-",
    "\u2013": "-",
    "\u2014": "-",
    "\u2212": "-",
}


@cache
def _even(letter: str) -> str:
    known = _SAME.get(letter)
    if known:
        return known
    if letter.isspace() and letter not in "\r\n":
        return " "
    plain = unicodedata.normalize("NFKD", letter)[:1] or letter
    lower = plain.lower()
    return lower if len(lower) == 1 else letter


def folded(text: str) -> str:
    """`text` in lower case without accents, with plain quotes, dashes, blanks and digits; as long as `text` is."""
    if text.isascii():
        return text.lower().replace("\t", " ").replace("`", "'")
    return "".join(map(_even, text))
