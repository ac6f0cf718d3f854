"""How well the reader does without the words that only the lines in question speak for.

Run by hand: python tests/intake/lines/crossed.py. All labelled lines are dealt out in ten parts. Each part is read by a
reader from whose lists every phrase has been taken that stands in lines of that part, in no other labelled line, and
not in components.csv or actions.csv. What this can't take away is rules of the code that a line of the part has led to:
the figure is an upper bound of what to expect of new lines; the first sight of fresh sets is not.
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from intake.lines.scoring import HERE, Report, Score, add, labelled

from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import Words, load_words
from fleetlens.vocabulary.actions import actions
from fleetlens.vocabulary.components import components

PARTS = 10
Line = tuple[str, set[str], set[str]]


def all_lines() -> list[Line]:
    """Every labelled line, each text once, in a stable order."""
    files = ["phrases_labelled.csv", *sorted(path.name for path in HERE.glob("fresh_*.csv"))]
    return list({text: (text, codes, pairs) for name in files for text, codes, pairs in labelled(name)}.values())


def parts(lines: list[Line], count: int) -> Iterator[tuple[list[Line], list[Line]]]:
    """The lines of each part, dealt out in turn, and all others."""
    for part in range(count):
        yield lines[part::count], [line for at, line in enumerate(lines) if at % count != part]


def without(words: Words, part: list[Line], others: list[Line]) -> Words:
    """`words` without the phrases that only lines of `part` speak for."""
    seen, elsewhere = _plain(part), _plain(others)
    given = {spelt for one in components().values() for spelt in one.synonyms}
    given |= {spelt for one in actions().values() for spelt in one.verbs}

    def kept(phrases: tuple[str, ...]) -> tuple[str, ...]:
        plain = ((phrase, " ".join(["", *_words(phrase), ""])) for phrase in phrases)
        return tuple(phrase for phrase, spelt in plain if phrase in given or spelt not in seen or spelt in elsewhere)

    return replace(
        words,
        components={key: kept(phrases) for key, phrases in words.components.items()},
        actions={key: kept(phrases) for key, phrases in words.actions.items()},
        causes={key: kept(phrases) for key, phrases in words.causes.items()},
        roles=tuple((role, key, kept(phrases)) for role, key, phrases in words.roles),
    )


def _plain(lines: list[Line]) -> str:
    return "\n".join(" ".join(["", *_words(text), ""]) for text, _, _ in lines)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", folded(text).replace("'", ""))


def crossed(count: int = PARTS) -> Report:
    """The counts over all parts, each read without its own words."""
    report = Report(Score(), Score(), 0, 0)
    for part, others in parts(all_lines(), count):
        add(report, LineReader(without(load_words(), part, others)), part)
    return report


if __name__ == "__main__":
    print(crossed())  # noqa: T201 - the report is the point
