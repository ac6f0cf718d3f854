"""Words of a fixed list in other spellings and languages (meanings: common practice, no source)."""

import pytest
from intake.values.told import column, told

from fleetlens.errors import FleetlensError
from fleetlens.intake.values import words
from fleetlens.intake.values.words import WordForm
from fleetlens.vocabulary.tables import tables

LISTED = {column.name: column.allowed for table in tables().values() for column in table.columns if column.allowed}


@pytest.mark.parametrize(
    ("word", "value"),
    [
        *(("Panne", "breakdown"), ("Dépannage", "breakdown"), ("pechgeval", "breakdown"), ("awaria", "breakdown")),
        *(("storing", "defect"), ("Störung", "defect"), ("Driver  Defect", "defect"), ("naprawa", "defect")),
        *(("SERVICE", "scheduled"), ("Wartung", "scheduled"), ("tagliando", "scheduled"), ("onderhoud", "scheduled")),
        *(("MOT", "inspection"), ("HU/AU", "inspection"), ("APK", "inspection"), ("ITV", "inspection")),
        *(("Rückruf", "campaign"), ("recall", "campaign"), ("Garantie", "warranty"), ("under warranty.", "warranty")),
    ],
)
def test_reasons(word: str, value: str) -> None:
    assert told(words.clean(column(word), WordForm("reason"))) == [(value, "word")]


@pytest.mark.parametrize(
    ("word", "value"),
    [
        *(("Cleaned", "clean"), ("gereinigt", "clean"), ("nettoyé", "clean"), ("wymiana", "replace")),
        *(("renewed", "replace"), ("ersetzt", "replace"), ("Clear Codes", "clear_codes"), ("NFF", "no_fault_found")),
    ],
)
def test_actions(word: str, value: str) -> None:
    assert told(words.clean(column(word), WordForm("action"))) == [(value, "word")]


def test_52_what_two_workshops_mean_differently_is_left_undecided() -> None:
    assert words.clean(column("R&R"), WordForm("action")).unreadable.to_list() == [True]


@pytest.mark.parametrize("name", LISTED)
def test_our_own_values_stay_and_every_word_means_one_of_them(name: str) -> None:
    assert told(words.clean(column(*LISTED[name]), WordForm(name))) == [(value, None) for value in LISTED[name]]
    assert set(words.known(name).values()) == set(LISTED[name])


def test_the_map_adds_words_and_comes_first() -> None:
    form = WordForm("reason", {"Blue  Job": "campaign", "service": "defect"})
    assert words.clean(column("blue job", "Service", "n/a", "green"), form).values.to_list() == [
        "campaign",
        "defect",
        None,
        None,
    ]


def test_a_map_with_a_value_that_is_not_allowed_is_an_error() -> None:
    with pytest.raises(FleetlensError, match="can't be 'repairs'"):
        words.clean(column("x"), WordForm("reason", {"x": "repairs"}))
    with pytest.raises(FleetlensError, match="no fixed list"):
        words.clean(column("x"), WordForm("model"))
