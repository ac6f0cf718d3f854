"""VINs: the check digit where rules ask for one, a remark where they don't. Worked examples: tests/references."""

import pytest

from fleetlens.errors import FleetlensError
from fleetlens.vocabulary import vin

SELF_TEST = "1" * 17  # its own check digit is 1; from memory


def test_a_sound_vin_has_nothing_against_it() -> None:
    for text in (SELF_TEST, f" {SELF_TEST} ", "11111111111111111".lower()):
        assert (vin.problems(text), vin.remarks(text), vin.is_valid(text)) == ((), (), True)


@pytest.mark.parametrize(
    ("text", "problems"),
    [
        ("", ("a VIN has 17 characters, this one 0",)),
        ("1" * 16, ("a VIN has 17 characters, this one 16",)),
        ("1" * 16 + "O", ("a VIN holds digits and capital letters without I, O and Q; this one has 'O'",)),
        (
            "QI-1",
            (
                "a VIN has 17 characters, this one 4",
                "a VIN holds digits and capital letters without I, O and Q; this one has '-IQ'",
            ),
        ),
        ("1" * 8 + "2" + "1" * 8, ("the check digit (place 9) should be 1, not 2",)),
    ],
)
def test_problems(text, problems) -> None:
    assert vin.problems(text) == problems
    assert not vin.is_valid(text)


def test_outside_north_america_a_missing_check_digit_is_a_remark() -> None:
    """ISO 3779 leaves place 9 free; the first character tells the region (ISO 3780)."""
    text = "WZZ0000Z000000000"  # invented
    assert vin.check_digit(text) != text[8]
    assert vin.problems(text) == ()
    assert vin.is_valid(text)
    assert vin.remarks(text) == ("place 9 holds no check digit; that is usual outside North America",)


def test_one_wrong_character_is_noticed_wherever_the_weight_is_not_0() -> None:
    for place in set(range(17)) - {8}:
        spoilt = SELF_TEST[:place] + "2" + SELF_TEST[place + 1 :]
        assert vin.check_digit(spoilt) != "1", place


def test_a_check_digit_of_no_vin_is_refused() -> None:
    with pytest.raises(FleetlensError) as caught:
        vin.check_digit("short")
    assert str(caught.value) == (
        "this VIN can't be read: 'short' (a VIN has 17 characters, this one 5; a VIN holds digits and capital letters "
        "without I, O and Q; this one has 'O')\n  try: correct it, or leave it empty"
    )
