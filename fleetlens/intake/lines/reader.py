"""The reader of job lines: text in, what it says out, always the same for the same words."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, TypeVar

import polars as pl

from fleetlens.intake.lines.causes import CheckFinder, causes
from fleetlens.intake.lines.clauses import clauses
from fleetlens.intake.lines.code_mentions import codes_in
from fleetlens.intake.lines.codes_now import read_now
from fleetlens.intake.lines.folding import folded
from fleetlens.intake.lines.found import Cause, Check, Done, Found, Line, NotDone
from fleetlens.intake.lines.lexicon import Lexicon
from fleetlens.intake.lines.marks import marked
from fleetlens.intake.lines.memory import FLUIDS, Pair
from fleetlens.intake.lines.pairing import pairs
from fleetlens.intake.lines.scope import govern
from fleetlens.intake.lines.tokens import tokens
from fleetlens.intake.lines.words import Words

__all__ = ["LineReader", "record"]

_LONGEST = 4_000  # letters of a text read in one go
Label = TypeVar("Label", Found, Done, NotDone, Cause, Check)


class LineReader:
    """Reads lines with one set of words."""

    def __init__(self, words: Words) -> None:
        self.words = words
        self._lexicon = Lexicon(words)
        self._checks = CheckFinder(words)

    def read(self, text: str) -> Line:
        """What one line says. Any text can be read; one that says nothing gives an empty Line.

        A text of more than a few thousand letters is read in pieces that know nothing of each other, so that the time
        taken grows with its length only.
        """
        if len(text) > _LONGEST:
            return _put_together(text, [(start, self.read(piece)) for start, piece in _pieces(text)])
        if not text or text.isspace():
            return Line(text)
        codes = codes_in(text)
        even = folded(text)
        found, asked = tokens(even, _spans(codes), self._lexicon.dotted)
        if not found:
            return Line(text, codes)
        parted = clauses(marked(found, self._lexicon, codes), asked)
        govern(parted)
        done, not_done = _told(text, pairs(parted))
        wrong = causes(text, parted)
        return Line(text, read_now(codes, parted), done, not_done, wrong, self._checks.checks(text, even, parted))

    def read_lines(self, texts: Iterable[str | None]) -> pl.DataFrame:
        """What many lines say: one row per line, in order, empty for a line that is None.

        Columns: codes (list of text), done (list of {component, action, words}), not_done (the same with why),
        causes (list of {cause, component, words}), checks (list of {check, component, value, unit, passed, words}).
        """
        seen: dict[str, Line] = {}
        rows = []
        for text in texts:
            line = seen.get(text or "")
            if line is None:
                line = seen[text or ""] = self.read(text or "")
            rows.append(record(line))
        return pl.DataFrame(rows, schema=_SCHEMA)


_TEXT = pl.String
_SCHEMA = {
    "codes": pl.List(_TEXT),
    "done": pl.List(pl.Struct({"component": _TEXT, "action": _TEXT, "words": _TEXT})),
    "not_done": pl.List(pl.Struct({"component": _TEXT, "action": _TEXT, "why": _TEXT, "words": _TEXT})),
    "causes": pl.List(pl.Struct({"cause": _TEXT, "component": _TEXT, "words": _TEXT})),
    "checks": pl.List(
        pl.Struct(
            {
                **{"check": _TEXT, "component": _TEXT, "value": pl.Float64, "unit": _TEXT},
                **{"passed": pl.Boolean, "words": _TEXT},
            }
        )
    ),
}


def record(line: Line) -> dict[str, list[Any]]:
    """The line as plain lists and dicts, as `fleetlens lines --json` prints it."""
    return {
        "codes": [code.code for code in line.codes],
        "done": [{"component": one.component, "action": one.action, "words": one.words} for one in line.done],
        "not_done": [
            {"component": one.component, "action": one.action, "why": one.why, "words": one.words}
            for one in line.not_done
        ],
        "causes": [{"cause": one.cause, "component": one.component, "words": one.words} for one in line.causes],
        "checks": [
            {
                **{"check": one.check, "component": one.component, "value": one.value, "unit": one.unit},
                **{"passed": one.passed, "words": one.words},
            }
            for one in line.checks
        ],
    }


def _pieces(text: str) -> Iterator[tuple[int, str]]:
    """Pieces of a long text, each ending at a line break or blank where there is one."""
    start = 0
    while start < len(text):
        end = start + _LONGEST
        if end < len(text):
            cut = max(text.rfind("\n", start, end), text.rfind(". ", start, end))
            cut = cut if cut > start else text.rfind(" ", start, end)
            end = cut + 1 if cut > start else end
        yield start, text[start:end]
        start = end


def _put_together(text: str, pieces: list[tuple[int, Line]]) -> Line:
    def moved(labels: Callable[[Line], tuple[Label, ...]]) -> tuple[Label, ...]:
        return tuple(
            replace(one, start=one.start + start, end=one.end + start) for start, line in pieces for one in labels(line)
        )

    codes = {code.code: code for code in reversed(moved(lambda line: line.codes))}
    done = {(one.component, one.action): one for one in reversed(moved(lambda line: line.done))}
    return Line(
        text,
        tuple(sorted(codes.values(), key=lambda code: code.start)),
        tuple(sorted(done.values(), key=lambda one: one.start)),
        moved(lambda line: line.not_done),
        moved(lambda line: line.causes),
        moved(lambda line: line.checks),
    )


def _spans(codes: Iterable[Found]) -> list[tuple[int, int]]:
    """The stretches that codes take up, those of one list as one."""
    spans: list[tuple[int, int]] = []
    for code in codes:
        if spans and code.start < spans[-1][1]:
            spans[-1] = (spans[-1][0], max(code.end, spans[-1][1]))
        else:
            spans.append((code.start, code.end))
    return spans


def _told(text: str, found: list[Pair]) -> tuple[tuple[Done, ...], tuple[NotDone, ...]]:
    done: dict[tuple[str, str], Done] = {}
    undone: dict[tuple[str, str, str], NotDone] = {}
    for pair in found:
        marks = [mark for mark in (pair.part, pair.verb) if mark is not None]
        start, end = min(mark.start for mark in marks), max(mark.end for mark in marks)
        if pair.why:
            key = (pair.component, pair.action, pair.why)
            undone.setdefault(key, NotDone(pair.component, pair.action, pair.why, text[start:end], start, end))  # type: ignore[arg-type]
        else:
            done.setdefault(
                (pair.component, pair.action), Done(pair.component, pair.action, text[start:end], start, end)
            )
    stronger = {component for component, action in done if action != "inspect" and component != "vehicle"}
    for component, action in tuple(done):
        if (action == "inspect" and component in stronger) or (
            action == "drain" and component in FLUIDS and (component, "replace") in done
        ):
            del done[component, action]
    kept = tuple(done.values())
    return kept, tuple(undone.values())
