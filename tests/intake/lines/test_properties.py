"""What holds for any line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from intake.lines.scoring import labelled

from fleetlens.intake.lines.explaining import explain
from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import load_words
from fleetlens.vocabulary.actions import done_actions
from fleetlens.vocabulary.codes import normalise
from fleetlens.vocabulary.components import components

READER = LineReader(load_words())
LINES = [text for name in ("phrases_labelled.csv", "fresh_2.csv") for text, _, _ in labelled(name)]
WORDS = sorted(
    {word for text in LINES for word in text.split()} | {",", "-", ".", "?", "(", ")", ";", "&", "\n", "not"}
)
lines = st.one_of(st.text(max_size=80), st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join))


def labels(line):
    return {(one.component, one.action) for one in line.done}, {one.code for one in line.codes}


@given(lines)
def test_any_text_can_be_read_and_every_label_has_its_words(text):
    line = READER.read(text)
    for one in (*line.codes, *line.done, *line.not_done, *line.causes, *line.checks):
        assert 0 <= one.start < one.end <= len(text)
        assert one.words == text[one.start : one.end]
    for one in (*line.done, *line.not_done):
        assert one.component in components()
        assert one.action in done_actions()
    assert all(normalise(code.code) for code in line.codes)
    assert explain(line, READER.words)


@given(lines)
def test_case_and_blanks_around_do_not_matter(text):
    assert labels(READER.read(text.upper())) == labels(READER.read(text.lower()))
    assert labels(READER.read(f"  {text}\t")) == labels(READER.read(text))


@pytest.mark.parametrize(
    "clause", [", customer declined", " - cust declined", ", quoted", ", not authorised", ", on order"]
)
@pytest.mark.parametrize("part", [LINES[::2], LINES[1::2]])
def test_a_refusal_after_a_line_never_adds_work(part, clause):
    for text in part:
        assert labels(READER.read(text + clause))[0] <= labels(READER.read(text))[0], text


@given(st.lists(st.sampled_from(WORDS), max_size=10).map(" ".join))
def test_a_refusal_after_any_words_never_adds_work(text):
    before, after = labels(READER.read(text))[0], labels(READER.read(text + ", customer declined"))[0]
    # A check comes to light where the work that it gave way to was refused: "check egr, clean egr, declined".
    seen = {(component, "inspect") for component, _ in before}
    assert after <= before | seen


@given(lines)
def test_the_same_line_is_always_read_the_same(text):
    assert READER.read(text) == LINES_READ.setdefault(text, READER.read(text))


LINES_READ: dict = {}


def test_a_long_text_is_read_in_pieces_with_its_own_places():
    text = "P0401 stored, egr cleaned. " * 2_000 + "maf replaced"
    line = READER.read(text)
    assert labels(line) == ({("egr_valve", "clean"), ("maf_sensor", "replace")}, {"P0401"})
    assert line.done[-1].words == text[line.done[-1].start : line.done[-1].end] == "maf replaced"
    assert len(READER.read("x" * 10_000).done) == 0
