"""Codes in every spelling of the trade, and what only looks like one. Spellings: common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetlens.intake.lines.code_mentions import codes_in
from fleetlens.vocabulary.codes import normalise


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("p0401", "P0401"),
        ("P 0401", "P0401"),
        ("P0 401", "P0401"),
        ("P-0401", "P0401"),
        ("PO401", "P0401"),
        ("P04O1", "P0401"),
        ("Ｐ０４０１", "P0401"),
        ("DTC:P0401", "P0401"),
        ("fault code 0401", "P0401"),
        ("codes: 0671,0672,0673", "P0671 P0672 P0673"),
        ("P0401, 0404 and 0403", "P0401 P0404 P0403"),
        ("P0401;P0404", "P0401 P0404"),
        ("P0401P0404", "P0401 P0404"),
        ("P0401/4", "P0401 P0404"),
        ("P0401/0404", "P0401 P0404"),
        ("P0671/2/3", "P0671 P0672 P0673"),
        ("P0671-P0674", "P0671 P0672 P0673 P0674"),
        ("P0671-4", "P0671 P0672 P0673 P0674"),
        ("P0201 to P0204", "P0201 P0202 P0203 P0204"),
        ("P0299-P0234", "P0299 P0234"),
        ("P0401-64", "P0401"),
        ("P2463-00, P2452-16", "P2463 P2452"),
        ("P242F P20EE P2BAC U029D", "P242F P20EE P2BAC U029D"),
        ("U 0100", "U0100"),
        ("P0671,72,73", "P0671 P0672 P0673"),
        ("P0671, 72 & 73", "P0671 P0672 P0673"),
        ("P0671 to 74", "P0671 P0672 P0673 P0674"),
        ("fault codes 0201 to 0204", "P0201 P0202 P0203 P0204"),
        ("dtc's 0299, 0234", "P0299 P0234"),
        ("code 401", "P0401"),
        ("P04 01", "P0401"),
        ("P0401x2", "P0401"),
        ("P0401egr", "P0401"),
        ("P0401-egr flow", "P0401"),
        ("p zero four zero one", "P0401"),
        ("SPN 1208/3", "SPN 1208 FMI 3"),
        ("SPN 1208 FMI 3 & 4", "SPN 1208 FMI 3 SPN 1208 FMI 4"),
        ("SPN 1208 FMI 3", "SPN 1208 FMI 3"),
        ("spn:1208/fmi3", "SPN 1208 FMI 3"),
    ],
)
def test_a_spelling_is_read(text, codes):
    found = codes_in(text)
    assert " ".join(code.code for code in found) == codes
    assert all(code.words == text[code.start : code.end] for code in found)


def test_the_failure_type_is_kept_beside_the_code():
    assert [(code.code, code.failure_type) for code in codes_in("P0401-64 P0404:1A P0403")] == [
        ("P0401", "64"),
        ("P0404", "1A"),
        ("P0403", None),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "invoice P2002",
        "P2002 the invoice",
        "inv no P0420, order 2002, job 0401",
        "part no. P0401",
        "part P2563A turbo act",
        "P0401-AB12",
        "order 0401",
        "job sheet B1042",
        "ref. B1042",
        "JC P2463/21",
        "veh C0123 in",
        "radio code 1234",
        "PO 1234",
        "0930 to 1130",
        "ready at 10.30, cost £0401",
        "p 2000 rpm",
        "cold pool polo",
        "2019 model, 148220 km",
        "1208/3",
        "P0000",
        "",
    ],
)
def test_a_lookalike_is_no_code(text):
    assert codes_in(text) == ()


def test_a_time_after_a_code_is_no_code():
    assert [code.code for code in codes_in("P0401 0930 to 1130")] == ["P0401"]


@given(st.text())
def test_any_text_gives_tidy_codes_with_their_words(text):
    for code in codes_in(text):
        assert normalise(code.code)
        assert 0 <= code.start < code.end <= len(text)
        assert code.words == text[code.start : code.end]


@given(
    st.lists(
        st.sampled_from(["P0401", "p 0404", "PO403", "U0100", "P242F", "P0299-64"]), min_size=1, max_size=5, unique=True
    )
)
def test_listed_codes_are_all_read_whatever_stands_between(codes):
    want = ["P" + code[1:].strip().replace("O", "0") if code[0] in "Pp" else code for code in codes]
    for between in (", ", ";", " / ", " ", "\n", " & "):
        assert [code.code for code in codes_in(between.join(codes))] == [
            code.split("-")[0].replace(" ", "") for code in want
        ]
