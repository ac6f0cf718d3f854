"""The names of the months in eleven languages, whole or cut short."""

import unicodedata
from functools import cache

__all__ = ["month"]

# Small letters without accents; January first, variants of one month with a bar.
_NAMES = (
    "january february march april may june july august september october november december",  # English
    "januar|janner februar|feber marz april mai juni juli august september oktober november dezember",  # German
    "janvier fevrier mars avril mai juin juillet aout septembre octobre novembre decembre",  # French
    "januari februari maart|mrt april mei juni juli augustus september oktober november december",  # Dutch
    "enero febrero marzo abril mayo junio julio agosto septiembre|setiembre octubre noviembre diciembre",  # Spanish
    "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",  # Italian
    "janeiro fevereiro marco abril maio junho julho agosto setembro outubro novembro dezembro",  # Portuguese
    "styczen|stycznia luty|lutego marzec|marca kwiecien|kwietnia maj|maja czerwiec|czerwca lipiec|lipca "
    "sierpien|sierpnia wrzesien|wrzesnia pazdziernik|pazdziernika listopad|listopada grudzien|grudnia",  # Polish
    "januari februari mars april maj juni juli augusti september oktober november december",  # Swedish
    "januar februar marts april maj juni juli august september oktober november december",  # Danish
    "januar februar mars april mai juni juli august september oktober november desember",  # Norwegian
)
_EXTRA = {"mrz": 3, "mrs": 3, "jly": 7, "ags": 8, "spt": 9}  # cut short otherwise than at the end
_SHORTEST = 3


def month(name: str) -> int | None:
    """The number of the month that `name` says in any of the languages; None where it says none.

    Case and accents don't matter. A name may be cut short to three letters or more, as long as what is left
    begins the name of one month only: "jui" begins two (French) and says none.
    """
    letters = unicodedata.normalize("NFKD", name.casefold().rstrip("."))
    return _by_beginning().get("".join(letter for letter in letters if not unicodedata.combining(letter)))


@cache
def _by_beginning() -> dict[str, int]:
    found: dict[str, set[int]] = {}
    for line in _NAMES:
        for number, names in enumerate(line.split(), start=1):
            for name in names.split("|"):
                for length in range(_SHORTEST, len(name) + 1):
                    found.setdefault(name[:length], set()).add(number)
    return {start: numbers.pop() for start, numbers in found.items() if len(numbers) == 1} | _EXTRA
