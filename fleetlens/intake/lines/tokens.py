"""A line cut into words, with what stands between them."""

import re
from collections.abc import Container, Sequence
from enum import IntEnum
from typing import NamedTuple

__all__ = ["CODE", "Gap", "Token", "tokens"]

CODE = "<code>"
_WORD = re.compile(r"\d+(?:[.,:]\d+)*%?[a-z]*|[^\W_]+(?:'[^\W_]+)*")
_SHORT = 2  # letters up to which a slash abbreviates: i/c, t/body


class Gap(IntEnum):
    """What stands before a word, the stronger the later."""

    SOFT = 0
    AND = 1
    COMMA = 2
    DASH = 3
    COLON = 4
    PAREN = 5
    SEMICOLON = 6
    STOP = 7
    QUESTION = 8


_SIGNS = {
    **dict.fromkeys("&+/", Gap.AND),
    **dict.fromkeys(",|", Gap.COMMA),
    **dict.fromkeys("-=>*", Gap.DASH),
    ":": Gap.COLON,
    **dict.fromkeys("()[]", Gap.PAREN),
    ";": Gap.SEMICOLON,
    **dict.fromkeys(".!\n\r", Gap.STOP),
    "?": Gap.QUESTION,
}


class Token(NamedTuple):
    """A word in even letters, where it stands in the text, and what stands before it."""

    word: str
    start: int
    end: int
    gap: Gap


def tokens(even: str, code_spans: Sequence[tuple[int, int]], dotted: Container[str]) -> tuple[list[Token], bool]:
    """The words of an even line; a code is one word, CODE. The bool tells whether a question mark ends it.

    A dot after a word of `dotted` shortens that word and ends nothing.
    """
    found: list[Token] = []
    before, spans, at = 0, iter(code_spans), next(iter(code_spans), None)
    spans = iter(code_spans[1:])
    for match in _WORD.finditer(even):
        start, end = match.span()
        word, rest = match[0], None
        while at is not None and start >= at[1]:
            at = next(spans, None)
        if at is not None and end > at[0]:
            if found and found[-1].word == CODE and found[-1].start == at[0]:
                continue
            rest = (at[1], end, even[at[1] : end])
            start, end, word = at[0], at[1], CODE
        if "'" in word:
            word = word.replace("'", "")
        between = even[before:start] if start > before else ""
        left = found[-1].word if found else ""
        gap = Gap.SOFT if between in (" ", "") else _gap(between, left, word, dotted)
        found.append(Token(word, start, end, gap))
        before = max(before, end)
        if rest is not None and rest[0] < rest[1]:  # a word run into the code
            found.append(Token(rest[2], rest[0], rest[1], Gap.COMMA))
            before = rest[1]
    return found, "?" in even[before:]


def _gap(between: str, left: str, right: str, dotted: Container[str]) -> Gap:
    """The strongest of the signs between two words, once those that only abbreviate are told apart."""
    signs = between.strip(" ")
    if not signs:
        return Gap.SOFT
    tight = signs == between
    if signs == "." and (
        (tight and min(len(left), len(right)) <= _SHORT and left != "no") or _dots(left, right, dotted)
    ):
        return Gap.SOFT
    if tight and (signs == "-" or (signs in "/&" and _abbreviates(signs, left, right))):
        return Gap.SOFT
    strongest = max((_SIGNS.get(sign, Gap.SOFT) for sign in signs), default=Gap.SOFT)
    if strongest == Gap.STOP and "." in signs and _dots(left, right, dotted) and "\n" not in signs:
        return Gap.COMMA if "," in signs else Gap.SOFT
    return strongest


def _dots(left: str, right: str, dotted: Container[str]) -> bool:
    return left in dotted and (left != "no" or right[:1].isdigit())


def _abbreviates(sign: str, left: str, right: str) -> bool:
    """Whether the sign stands in a short form: i/c, t/body, s&f."""
    sizes = len(left), len(right)
    if CODE in (left, right):
        return False
    return max(sizes) == 1 if sign == "&" else min(sizes) <= _SHORT and left.isalpha()
