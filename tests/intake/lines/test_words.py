"""A fleet's own words: they add to ours, win over ours, and what can't be read is said with its remedy."""

import polars as pl
import pytest

from fleetlens.errors import FleetlensError
from fleetlens.intake.lines.explaining import explain
from fleetlens.intake.lines.reader import LineReader
from fleetlens.intake.lines.words import load_words

OWN = """
[components.tail_lift]
label = "Tail lift"
synonyms = ["tail lift", "lift deck"]

[components.egr_valve]
synonyms = ["gas valve"]

[components.water_pump]
synonyms = ["stat"]

[actions.replace]
verbs = ["bunged in a new"]

[causes.mice]
label = "Mice"
words = ["mice"]

[codes.P1234]
description = "Our own code"
"""


@pytest.fixture
def own(tmp_path):
    path = tmp_path / "words.toml"
    path.write_text(OWN, encoding="utf-8")
    return path


def done(reader, text):
    return {(one.component, one.action) for one in reader.read(text).done}


def test_own_words_are_read(own, reader):
    ours = LineReader(load_words(own))
    assert done(ours, "lift-deck greased, gas valve cleaned") == {("tail_lift", "lubricate"), ("egr_valve", "clean")}
    assert done(ours, "bunged in a new turbo") == {("turbocharger", "replace")}
    assert done(reader, "lift deck greased") == set()
    assert [one.cause for one in ours.read("mice in loom").causes] == ["mice"]
    assert load_words(own).codes == {"P1234": "Our own code"}


def test_own_words_win_over_ours(own):
    assert done(LineReader(load_words(own)), "stat replaced") == {("water_pump", "replace")}


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("[actions.polish]\nverbs = ['polished']", "'polish'"),
        ("[codes.P12]\ndescription = 'x'", "'P12'"),
        ("[components.egr_valve]\nsynonyms = 'egr'", "synonyms"),
        ("[components.egr_valve]\nsynonyms = [3]", "3"),
        ("[components.egr_valve]\nnames = ['egr']", "'names'"),
        ("[parts.egr_valve]\nsynonyms = ['egr']", "'parts'"),
        ("components = 3", "components"),
        ("[components", "TOML"),
    ],
)
def test_what_cannot_be_read_is_said_with_its_remedy(tmp_path, text, named):
    path = tmp_path / "words.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FleetlensError, match=named) as raised:
        load_words(path)
    assert str(path) in raised.value.where
    assert raised.value.do


def test_a_missing_file_is_said(tmp_path):
    with pytest.raises(FleetlensError, match="no such file"):
        load_words(tmp_path / "words.toml")


def test_many_lines_give_a_row_each_in_order(reader):
    frame = reader.read_lines(["egr cleaned, P0401", None, "", "egr cleaned, P0401"])
    assert frame["codes"].to_list() == [["P0401"], [], [], ["P0401"]]
    assert frame["done"].to_list()[0] == [{"component": "egr_valve", "action": "clean", "words": "egr cleaned"}]
    assert frame.schema["done"] == pl.List(pl.Struct({"component": pl.String, "action": pl.String, "words": pl.String}))
    assert reader.read_lines([]).height == 0


def test_a_line_is_explained_by_its_words(reader):
    told = explain(reader.read("P0401 read, egr stuck, cleaned. advised cooler clean"), reader.words)
    assert any("P0401" in one and "EGR" in one for one in told)
    assert "Done: clean of EGR valve, from 'egr stuck, cleaned'." in told
    assert any(one.startswith("Not done (advised)") for one in told)
    assert any(one.startswith("Cause: Sticking") for one in told)
