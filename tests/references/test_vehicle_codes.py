"""VIN check digits, trouble codes and J1939 entries as bytes; basis of each row in its data file."""

from fleetlens.vocabulary import code_bytes, codes, vin


def test_vin_check_digits(table) -> None:
    """49 CFR 565.15 (c)(4): rule and worked examples read; two spoilt on purpose."""
    weights = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
    letters = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", [*range(1, 9), *range(1, 6), 7, 9, *range(2, 10)], strict=True))
    rows = table("vin_check_digit")
    assert len(rows) == 6
    for row in rows.iter_rows(named=True):
        values = [letters.get(letter) or int(letter) for letter in row["vin"]]
        assert sum(map(int.__mul__, values, weights)) == row["sum"]
        assert vin.check_digit(row["vin"]) == str(row["check_digit"])
        assert vin.is_valid(row["vin"]) is (row["valid"] == 1)


def test_trouble_codes_as_two_bytes(table) -> None:
    """SAE J1979 / ISO 15031-5 two-byte form: layout and P0135 read, U0158 and others from memory, the rest made."""
    rows = table("trouble_code_bytes")
    assert len(rows) == 17
    for row in rows.iter_rows(named=True):
        pair = bytes.fromhex(row["bytes_hex"])
        assert int.from_bytes(pair, "big") == row["value"]
        assert code_bytes.encode_trouble_code(row["code"]) == pair
        found = code_bytes.decode_trouble_code(pair)
        assert found == (None if row["code"] == "P0000" else codes.Code(row["code"]))


def test_j1939_entries_as_four_bytes(table) -> None:
    """SAE J1939-73 DM1, conversion method 4: layout read in several decoders, SPN 1208 from memory, the rest made."""
    rows = table("j1939_dtc")
    assert len(rows) == 9
    for row in rows.iter_rows(named=True):
        four = bytes.fromhex(row["bytes_hex"])
        count = None if row["occurrence"] == 127 else row["occurrence"]
        trouble = code_bytes.J1939Trouble(row["spn"], row["fmi"], count)
        assert code_bytes.decode_j1939(four) == trouble
        assert code_bytes.encode_j1939(trouble) == four
        assert codes.normalise(trouble.code.code) == trouble.code
