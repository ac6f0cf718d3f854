"""How fast job lines are read: the invented lines of the tests, each different, on one core."""

import time

import pytest
from intake.lines.scoring import labelled

from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import load_words

LEAST_PER_SECOND = 4_000


@pytest.mark.benchmark
def test_lines_are_read_fast() -> None:
    reader = LineReader(load_words())
    texts = [text for name in ("phrases_labelled.csv", "fresh_1.csv", "fresh_2.csv") for text, _, _ in labelled(name)]
    taken = []
    for _ in range(5):
        start = time.process_time()
        for text in texts:
            reader.read(text)
        taken.append(time.process_time() - start)
    speed = len(texts) / min(taken)
    print(f"\n{speed:,.0f} different lines a second")  # noqa: T201 - the figure is the point
    assert speed >= LEAST_PER_SECOND
