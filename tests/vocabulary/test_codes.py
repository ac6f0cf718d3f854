"""Fault codes: one spelling each, and every code of our list keeps its own."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.errors import FleetlensError
from fleetlens.vocabulary import code_bytes, codes
from fleetlens.vocabulary.codes import Code
from fleetlens.vocabulary.components import components


@pytest.mark.parametrize("code", codes.known_codes())
def test_every_code_of_our_list_is_its_own_spelling_and_described(code) -> None:
    assert codes.normalise(code) == Code(code)
    assert codes.description(code)
    assert codes.system(code)
    assert codes.typical_component(code) in components()


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("P0401", Code("P0401")),
        (" p0401\t", Code("P0401")),
        ("p242f", Code("P242F")),  # the last three are hexadecimal: SAE J2012 / ISO 15031-6
        ("P0401-64", Code("P0401", "64")),
        ("p0401:1f", Code("P0401", "1F")),
        ("U3FFF", Code("U3FFF")),
        ("SPN 1208 FMI 3", Code("SPN 1208 FMI 3")),
        (" spn 1208 fmi 03 ", Code("SPN 1208 FMI 3")),
        ("SPN 524287 FMI 31", Code("SPN 524287 FMI 31")),  # 19 and 5 bits: SAE J1939-73
    ],
)
def test_codes(text, code) -> None:
    assert codes.normalise(text) == code


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "P0000",  # filler for "no code"
        "P4401",
        "X0401",
        "P040",
        "P04011",
        "P040G",
        "P0 401",
        "P0401 64",
        "P0401-6",
        "P0401-640",
        "P0401-6G",
        "P0401, P0402",
        "1208/3",
        "SPN 1208",
        "SPN 1208 FMI 32",
        "SPN 524288 FMI 3",
        "SPN1208FMI3",
        "P\u0660401",  # a digit of another script
        "none",
    ],
)
def test_what_is_no_code(text) -> None:
    assert codes.normalise(text) is None
    assert (codes.description(text), codes.system(text), codes.typical_component(text)) == (None, None, None)


def test_a_code_outside_our_list_has_no_description() -> None:
    assert codes.normalise("P3FFF") == Code("P3FFF")
    assert codes.description("P3FFF") is None


def test_a_failure_type_is_passed_over_in_the_description() -> None:
    assert codes.description("p0401-64") == codes.description("P0401") == "EGR flow too low"
    assert codes.system("P0401") == "egr"
    assert codes.typical_component("P0401") == "egr_valve"


@given(st.text(max_size=12))
def test_a_spelling_that_is_read_stays_as_it_is(text) -> None:
    code = codes.normalise(text)
    if code:
        assert codes.normalise(code.code) == Code(code.code)


def test_all_two_byte_codes_come_back() -> None:
    for value in range(1, 2**16):
        pair = value.to_bytes(2, "big")
        code = code_bytes.decode_trouble_code(pair)
        assert code is not None
        assert codes.normalise(code.code) == code
        assert code_bytes.encode_trouble_code(code.code) == pair


@given(st.integers(0, 2**19 - 1), st.integers(0, 31), st.none() | st.integers(0, 126))
def test_all_j1939_entries_come_back(spn, fmi, occurrences) -> None:
    trouble = code_bytes.J1939Trouble(spn, fmi, occurrences)
    assert code_bytes.decode_j1939(code_bytes.encode_j1939(trouble)) == trouble


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: code_bytes.decode_trouble_code(b"\x04"),
            "a fault code is two bytes, not 1\n  try: pass two bytes, such as 04 01 for P0401",
        ),
        (
            lambda: code_bytes.encode_trouble_code("P0401-64"),
            "this is no two-byte fault code: 'P0401-64'\n  try: give a code such as P0401",
        ),
        (
            lambda: code_bytes.encode_trouble_code("SPN 1208 FMI 3"),
            "this is no two-byte fault code: 'SPN 1208 FMI 3'\n  try: give a code such as P0401",
        ),
        (
            lambda: code_bytes.decode_j1939(b"\x01\x02"),
            "a J1939 entry is four bytes, not 2\n  try: pass four bytes of a DM1 message",
        ),
        (
            lambda: code_bytes.decode_j1939(bytes.fromhex("B804038A")),
            "this J1939 entry has an older layout (conversion bit set): B8 04 03 8A\n"
            "  try: read the code with a tool that knows the control unit's layout",
        ),
        (
            lambda: code_bytes.encode_j1939(code_bytes.J1939Trouble(2**19, 3, 1)),
            "this doesn't fit into a J1939 entry: J1939Trouble(spn=524288, fmi=3, occurrences=1)\n"
            "  try: SPN goes to 524287, FMI to 31, occurrences to 126",
        ),
    ],
)
def test_refusals(call, message) -> None:
    with pytest.raises(FleetlensError) as caught:
        call()
    assert str(caught.value) == message
