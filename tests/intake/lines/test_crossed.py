"""Words are taken away from a part of the lines just where no other line and no given list speaks for them."""

from intake.lines.crossed import all_lines, parts, without

from fleetlens.intake.lines.words import load_words


def test_only_words_of_the_part_alone_are_taken_away():
    words = load_words()
    alone, shared, given = "walnut blasted", "de coked", "decoked"
    part = [(f"{alone}, {shared} and {given}", set(), set())]
    left = without(words, part, [(f"egr {shared}", set(), set())]).actions["clean"]
    assert {alone, shared, given} <= set(words.actions["clean"])
    assert alone not in left
    assert {shared, given} <= set(left)


def test_every_line_is_in_one_part():
    lines = all_lines()
    dealt = [text for part, others in parts(lines, 10) for text, _, _ in part if len(part) + len(others) == len(lines)]
    assert sorted(dealt) == sorted(text for text, _, _ in lines)
