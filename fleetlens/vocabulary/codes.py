"""Fault codes: how they are spelt, and what our list says about them."""

import re
from dataclasses import dataclass
from functools import cache

from fleetlens.vocabulary import lists

__all__ = [
    "Code",
    "KnownCode",
    "description",
    "known_codes",
    "normalise",
    "supply_fault",
    "system",
    "typical_component",
]

# SAE J2012 / ISO 15031-6: letter, digit 0 to 3, three hexadecimal digits; the failure type is one byte.
_TROUBLE = re.compile(r"([PCBU][0-3][0-9A-F]{3})(?:[-:]([0-9A-F]{2}))?", re.ASCII)
_SPN = re.compile(r"SPN (\d{1,6}) FMI (\d{1,2})", re.ASCII)
_LAST_SPN, _LAST_FMI = 2**19 - 1, 2**5 - 1  # 19 and 5 bits in SAE J1939-73
_NO_CODE = "P0000"  # what a control unit sends to fill up a reply: "no code"
# System voltage; sensor reference voltages A to D (SAE J2012; those not in our list from memory). Battery and
# sensor supply of SAE J1939-71 (from memory).
_SUPPLY = frozenset({
    *("P0560", "P0561", "P0562", "P0563", "P0641", "P0642", "P0643", "P0651", "P0652", "P0653"),
    *("P0697", "P0698", "P0699", "P06A3", "P06A4", "P06A5"),
})  # fmt: skip
_SUPPLY_SPN = frozenset({158, 168, 3509, 3510, 3511, 3512})


@dataclass(frozen=True, slots=True)
class Code:
    """A fault code in its one spelling: `code` "P0401" or "SPN 1208 FMI 3", `failure_type` "64" or None."""

    code: str
    failure_type: str | None = None


@dataclass(frozen=True, slots=True)
class KnownCode:
    """A code of our list: `description` in our own words, `typical_component` from our components."""

    code: str
    system: str
    description: str
    typical_component: str


def normalise(text: str) -> Code | None:
    """The code that `text` spells, or None where it spells none.

    Case and blanks at the ends don't matter; the rest must be tidy: P0401, P0401-64, P0401:64,
    SPN 1208 FMI 3.
    P0000 is filler for "no code" and gives None.
    Structure: SAE J2012 / ISO 15031-6 and SAE J1939-73.
    """
    tidy = text.strip().upper()
    if match := _TROUBLE.fullmatch(tidy):
        return None if match[1] == _NO_CODE else Code(match[1], match[2])
    if match := _SPN.fullmatch(tidy):
        spn, fmi = int(match[1]), int(match[2])
        if spn <= _LAST_SPN and fmi <= _LAST_FMI:
            return Code(f"SPN {spn} FMI {fmi}")
    return None


@cache
def known_codes() -> dict[str, KnownCode]:
    """The codes of our list by their spelling."""
    return {
        row["code"]: KnownCode(row["code"], row["system"], row["description"], row["typical_component"])
        for row in lists.rows("codes")
    }


def _known(text: str) -> KnownCode | None:
    code = normalise(text)
    return known_codes().get(code.code) if code else None


def description(code: str) -> str | None:
    """What `code` means, in our words; None where it isn't in our list. A failure type is passed over."""
    known = _known(code)
    return known.description if known else None


def system(code: str) -> str | None:
    """The system that `code` belongs to ("egr", "fuel", ...); None where it isn't in our list."""
    known = _known(code)
    return known.system if known else None


def typical_component(code: str) -> str | None:
    """The component that `code` most often points at, or None where it isn't in our list.

    A place to start looking, never a diagnosis.
    """
    known = _known(code)
    return known.typical_component if known else None


def supply_fault(code: str) -> bool:
    """Whether `code` tells of a fault in the supply voltage or in a sensor reference voltage.

    A weak battery or a lost reference sets many other codes at once, which then say nothing of their own parts.
    """
    tidy = normalise(code)
    if tidy is None:
        return False
    spn = _SPN.fullmatch(tidy.code)
    return int(spn[1]) in _SUPPLY_SPN if spn else tidy.code in _SUPPLY
