"""The reader against labelled lines, all invented. Run with -s to see the figures."""

import pytest
from intake.lines.scoring import labelled, score

from fleetlens.vocabulary.actions import done_actions
from fleetlens.vocabulary.codes import normalise
from fleetlens.vocabulary.components import components

FILES = ("phrases_labelled.csv", *(f"fresh_{number}.csv" for number in range(1, 9)))


@pytest.mark.parametrize(
    ("name", "precision", "recall", "exact"),
    [
        ("phrases_labelled.csv", 0.99, 0.99, 0.99),
        ("fresh_1.csv", 0.99, 0.99, 0.98),
        ("fresh_2.csv", 0.98, 0.98, 0.97),
        ("fresh_3.csv", 0.98, 0.97, 0.96),
        ("fresh_4.csv", 0.98, 0.98, 0.96),
        ("fresh_5.csv", 0.98, 0.98, 0.97),
        ("fresh_6.csv", 0.99, 0.98, 0.97),
        ("fresh_7.csv", 0.99, 0.99, 0.98),
        ("fresh_8.csv", 0.98, 0.95, 0.92),
    ],
)
def test_pairs_and_codes_stay_above_their_floor(reader, name, precision, recall, exact):
    report = score(reader, name)
    print(f"\n{name}: {report}")  # noqa: T201 - the report is the point
    assert report.pairs.precision >= precision
    assert report.pairs.recall >= recall
    assert report.codes.precision >= 0.99
    assert report.codes.recall >= 0.99
    assert report.exact >= exact * report.lines


@pytest.mark.parametrize("name", FILES)
def test_the_labels_themselves_are_in_order(name):
    seen = set()
    for text, codes, pairs in labelled(name):
        assert text not in seen
        seen.add(text)
        assert all(normalise(code) for code in codes)
        for component, action in (pair.split(":") for pair in pairs):
            assert component in components()
            assert action in done_actions()
