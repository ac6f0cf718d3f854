"""Fault codes as bytes, the way control units send them."""

from dataclasses import dataclass

from fleetlens.errors import FleetlensError
from fleetlens.vocabulary.codes import Code, normalise

__all__ = ["J1939Trouble", "decode_j1939", "decode_trouble_code", "encode_j1939", "encode_trouble_code"]

_LETTERS = "PCBU"
_NOT_AVAILABLE = 127  # occurrence count in SAE J1939-73


@dataclass(frozen=True, slots=True)
class J1939Trouble:
    """One entry of a J1939 DM1 message; `occurrences` is None where the control unit keeps no count."""

    spn: int
    fmi: int
    occurrences: int | None

    @property
    def code(self) -> Code:
        """The entry in the spelling of our tables."""
        return Code(f"SPN {self.spn} FMI {self.fmi}")


def decode_trouble_code(pair: bytes) -> Code | None:
    """The code in the two-byte form of SAE J1979 / ISO 15031-5, service 03; None for the filler 00 00.

    Bits 15-14 are the letter (00 P, 01 C, 10 B, 11 U), 13-12 the first digit, then three half-bytes.
    Raises FleetlensError unless two bytes are given.
    """
    if len(pair) != 2:
        raise FleetlensError(
            f"a fault code is two bytes, not {len(pair)}", do="pass two bytes, such as 04 01 for P0401"
        )
    value = int.from_bytes(pair, "big")
    return Code(f"{_LETTERS[value >> 14]}{value >> 12 & 3}{value & 0xFFF:03X}") if value else None


def encode_trouble_code(code: str) -> bytes:
    """The two-byte form of `code` ("P0401"); "P0000" is the filler 00 00. A failure type has no place in it.

    Raises FleetlensError for what is no code of this kind.
    """
    tidy = code.strip().upper()
    known = normalise(tidy)
    if tidy != "P0000" and (known is None or known.failure_type or known.code != tidy or tidy.startswith("SPN")):
        raise FleetlensError(f"this is no two-byte fault code: {code!r}", do="give a code such as P0401")
    value = _LETTERS.index(tidy[0]) << 14 | int(tidy[1]) << 12 | int(tidy[2:], 16)
    return value.to_bytes(2, "big")


def decode_j1939(four: bytes) -> J1939Trouble:
    """The entry in the four-byte form of SAE J1939-73 DM1 (SPN conversion method 4).

    Byte 1 holds SPN bits 0-7, byte 2 bits 8-15, byte 3 SPN bits 16-18 on top of the five bits of the FMI,
    byte 4 the conversion bit and the occurrence count. Raises FleetlensError unless four bytes are given, and
    where the conversion bit is set: the older layouts can't be told apart from the bytes alone.
    """
    if len(four) != 4:
        raise FleetlensError(f"a J1939 entry is four bytes, not {len(four)}", do="pass four bytes of a DM1 message")
    if four[3] >> 7:
        raise FleetlensError(
            f"this J1939 entry has an older layout (conversion bit set): {four.hex(' ').upper()}",
            do="read the code with a tool that knows the control unit's layout",
        )
    spn = four[0] | four[1] << 8 | (four[2] >> 5) << 16
    count = four[3] & 0x7F
    return J1939Trouble(spn, four[2] & 0x1F, None if count == _NOT_AVAILABLE else count)


def encode_j1939(trouble: J1939Trouble) -> bytes:
    """The four-byte form of `trouble`, conversion bit 0. Raises FleetlensError where a number doesn't fit."""
    count = _NOT_AVAILABLE if trouble.occurrences is None else trouble.occurrences
    if not (0 <= trouble.spn < 2**19 and 0 <= trouble.fmi < 2**5 and 0 <= count < 2**7):
        raise FleetlensError(
            f"this doesn't fit into a J1939 entry: {trouble}",
            do="SPN goes to 524287, FMI to 31, occurrences to 126",
        )
    return bytes([trouble.spn & 0xFF, trouble.spn >> 8 & 0xFF, trouble.spn >> 16 << 5 | trouble.fmi, count])
