"""Vehicle identification numbers: the check digit and what can be wrong."""

from fleetlens.errors import FleetlensError

__all__ = ["check_digit", "is_valid", "problems", "remarks", "tidy"]

# 49 CFR 565.15 (c)(4): the value of each letter (I, O and Q never occur) and the weight of each place.
_CHARACTERS = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"
_VALUES = dict(zip(_CHARACTERS, map(int, "012345678912345678123457923456789"), strict=True))
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_NORTH_AMERICA = "12345"  # first character, ISO 3780
_CHECK_PLACE = 8


def tidy(vin: str) -> str:
    """`vin` in capitals, without blanks at the ends."""
    return vin.strip().upper()


def _misspelt(vin: str) -> tuple[str, ...]:
    """What keeps `vin`, already tidy, from being 17 letters and digits of ISO 3779."""
    found = []
    if len(vin) != len(_WEIGHTS):
        found.append(f"a VIN has 17 characters, this one {len(vin)}")
    wrong = "".join(sorted(set(vin) - _VALUES.keys()))
    if wrong:
        found.append(f"a VIN holds digits and capital letters without I, O and Q; this one has {wrong!r}")
    return tuple(found)


def check_digit(vin: str) -> str:
    """The check digit ("0" to "9", or "X" for 10) that belongs in place 9 of `vin`.

    Raises FleetlensError where `vin` isn't 17 letters and digits of the allowed kind.
    49 CFR 565.15 (c)(4): the weighted sum's remainder by 11.
    """
    text = tidy(vin)
    if wrong := _misspelt(text):
        raise FleetlensError(
            f"this VIN can't be read: {vin!r} ({'; '.join(wrong)})", do="correct it, or leave it empty"
        )
    remainder = sum(_VALUES[letter] * weight for letter, weight in zip(text, _WEIGHTS, strict=True)) % 11
    return "X" if remainder == 10 else str(remainder)


def _fails_check(vin: str) -> bool:
    return not _misspelt(vin) and check_digit(vin) != vin[_CHECK_PLACE]


def problems(vin: str) -> tuple[str, ...]:
    """What is wrong with `vin`, in words; empty where nothing is.

    A failed check digit is wrong only where the rules ask for one: vehicles built in North America.
    """
    text = tidy(vin)
    found = _misspelt(text)
    if _fails_check(text) and text[0] in _NORTH_AMERICA:
        found += (f"the check digit (place 9) should be {check_digit(text)}, not {text[_CHECK_PLACE]}",)
    return found


def remarks(vin: str) -> tuple[str, ...]:
    """What is worth a second look but isn't wrong: a failed check digit outside North America.

    ISO 3779 leaves place 9 free, so most such vehicles carry none.
    """
    text = tidy(vin)
    if _fails_check(text) and text[0] not in _NORTH_AMERICA:
        return ("place 9 holds no check digit; that is usual outside North America",)
    return ()


def is_valid(vin: str) -> bool:
    """Whether `vin` has no problems."""
    return not problems(vin)
