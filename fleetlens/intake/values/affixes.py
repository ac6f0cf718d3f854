"""What stands around a number: currencies, units of time and distance, pieces, k for thousands."""

import re
from dataclasses import dataclass, replace
from typing import Literal

from fleetlens.vocabulary.units import km_factor

__all__ = ["Affix", "Kind", "read"]

Kind = Literal["currency", "distance", "hours", "pieces", "percent", "label", "other"]

# ISO 4217 codes, and signs and short words for them; a sign that several currencies share keeps its own name.
_CODES = (
    "EUR GBP USD CHF PLN SEK NOK DKK CZK HUF RON BGN ISK UAH TRY CAD AUD NZD ZAR JPY CNY INR BRL MXN SGD HKD AED SAR "
    "KES NGN EGP MAD ILS KRW THB MYR IDR PHP VND CLP COP ARS PEN"
)
_CURRENCIES = {code.lower(): code for code in _CODES.split()} | {
    "€": "EUR",
    "euro": "EUR",
    "euros": "EUR",
    "£": "GBP",
    "us$": "USD",
    "a$": "AUD",
    "c$": "CAD",
    "nz$": "NZD",
    "r$": "BRL",
    "sfr": "CHF",
    "fr": "CHF",
    "zł": "PLN",
    "zl": "PLN",
    "kč": "CZK",
    "ft": "HUF",
    "lei": "RON",
    "₺": "TRY",
    "₹": "INR",
    "$": "$",
    "¥": "¥",
    "kr": "kr",
    "rs": "Rs",
}
# Hours in one of each.
_HOUR_WORDS = (
    "h hr hrs hour hours std stunde stunden uur uren u heure heures ora ore hora horas godz godziny tim timmar timer"
)
_MINUTE_WORDS = "min mins minute minutes minuten minuti minutos minuter minutter m mn"
_DAY_WORDS = "d day days tag tage dag dagen jour jours giorno giorni dia dias día días dni"
_HOURS = (
    dict.fromkeys(_HOUR_WORDS.split(), 1.0)
    | dict.fromkeys(_MINUTE_WORDS.split(), 1 / 60)
    | dict.fromkeys(_DAY_WORDS.split(), 24.0)
)
_PIECES = "pc pcs piece pieces ea each x no off qty st stk stck stück stueck pce pz pza ud uds un und szt unit units"
_LABELS = "~ ca circa approx about abt odo odometer tacho kmstand km-stand kilometerstand mileage stand"
_THOUSANDS = re.compile(r"^(?:k|tsd|tys|thou|thousand)(?=$|[\s.]|mi|km)\.?\s*|^t(?=km)")


@dataclass(frozen=True, slots=True)
class Affix:
    """What one text beside a number says: `kind` and its `name`, `factor` to the base unit of the kind.

    Base units: hours (hours), kilometres (distance). `thousands`: it says k as well.
    """

    kind: Kind
    name: str
    factor: float = 1.0
    thousands: bool = False


_SHARED = {"": Affix("label", ""), "%": Affix("percent", "%")} | {
    word: Affix("currency", name) for word, name in _CURRENCIES.items()
}
_TIMES = {word: Affix("hours", word, factor) for word, factor in _HOURS.items()}
_REST = {word: Affix("pieces", word) for word in _PIECES.split()} | {
    word: Affix("label", word) for word in _LABELS.split()
}


def read(text: str, hours: bool) -> Affix:
    """What `text` beside a number says; kind "other" where it isn't known.

    `hours`: the column holds durations, so "m" is minutes; else it is miles, as on odometers.
    """
    low = text.strip().casefold().strip(":= ")
    rest = _THOUSANDS.sub("", low).strip()
    tidy = rest.rstrip(". ")
    found = (
        _SHARED.get(tidy)
        or (_TIMES.get(tidy) if hours else None)
        or _distance(tidy)
        or _TIMES.get(tidy)
        or _REST.get(tidy)
        or Affix("other", text.strip())
    )
    return replace(found, thousands=rest != low)


def _distance(tidy: str) -> Affix | None:
    factor = km_factor(tidy)
    return None if factor is None else Affix("distance", "km" if factor == 1 else "mi", factor)
