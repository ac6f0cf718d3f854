"""How well the reader reads labelled lines: codes and (component, action) pairs as sets. All lines are invented."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from fleetlens.intake.lines.reader import LineReader

HERE = Path(__file__).parent


@dataclass
class Score:
    """Counts over lines; a share of nothing counts as whole."""

    right: int = 0
    wrong: int = 0
    missed: int = 0

    def add(self, said: set[str], labelled: set[str]) -> None:
        self.right += len(said & labelled)
        self.wrong += len(said - labelled)
        self.missed += len(labelled - said)

    @property
    def precision(self) -> float:
        return self.right / (self.right + self.wrong) if self.right + self.wrong else 1.0

    @property
    def recall(self) -> float:
        return self.right / (self.right + self.missed) if self.right + self.missed else 1.0


@dataclass
class Report:
    """The scores of one file."""

    pairs: Score
    codes: Score
    exact: int
    lines: int

    def __str__(self) -> str:
        return (
            f"pairs {self.pairs.precision:.3f} / {self.pairs.recall:.3f}, "
            f"codes {self.codes.precision:.3f} / {self.codes.recall:.3f} (precision / recall), "
            f"exact {self.exact} of {self.lines} lines"
        )


def labelled(name: str) -> Iterator[tuple[str, set[str], set[str]]]:
    """Text, codes and pairs of each line of a file."""
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            yield row["text"], set(filter(None, row["codes"].split("|"))), set(filter(None, row["done"].split("|")))


def score(reader: LineReader, name: str) -> Report:
    """Read every line of a file and count."""
    report = Report(Score(), Score(), 0, 0)
    add(report, reader, labelled(name))
    return report


def add(report: Report, reader: LineReader, lines: Iterable[tuple[str, set[str], set[str]]]) -> None:
    """Read lines and add to the counts."""
    for text, codes, pairs in lines:
        line = reader.read(text)
        said_codes = {code.code for code in line.codes}
        said_pairs = {f"{one.component}:{one.action}" for one in line.done}
        report.codes.add(said_codes, codes)
        report.pairs.add(said_pairs, pairs)
        report.exact += (said_codes, said_pairs) == (codes, pairs)
        report.lines += 1
