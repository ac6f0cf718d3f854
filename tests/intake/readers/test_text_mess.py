"""Text files as workshops export them, one kind of mess a test.

The numbers in the names are those of our list of messes in job histories (common practice, no source).
"""

import pytest
from intake.readers.reading import left_out, one, ragged, refusal, rows

TABLE = "job;vehicle;km;text\nJ1;V1;100;Düse gereinigt\nJ2;V2;200;für 5 €\n"
WANTED = [(2, "J1", "V1", "100", "Düse gereinigt"), (3, "J2", "V2", "200", "für 5 €")]


@pytest.mark.parametrize(
    ("encoding", "told"),
    [
        pytest.param("utf-8", "UTF-8", id="57-utf-8"),
        pytest.param("utf-8-sig", "UTF-8 with a mark", id="57-mark"),
        pytest.param("cp1252", "cp1252", id="57-cp1252"),
        pytest.param("utf-16", "UTF-16", id="57-utf-16"),
        pytest.param("utf-16-le", "UTF-16 without a mark", id="57-utf-16-little-end-first"),
        pytest.param("utf-16-be", "UTF-16 without a mark", id="57-utf-16-big-end-first"),
        pytest.param("utf-32", "UTF-32", id="57-utf-32"),
    ],
)
def test_57_encodings(tmp_path, encoding, told):
    sheet = one(tmp_path, "jobs.csv", TABLE.encode(encoding))
    assert rows(sheet) == WANTED
    assert sheet.found[0] == told


@pytest.mark.parametrize(
    ("encoding", "text", "told"),
    [
        ("latin-1", "Köln, für Öl £5", "Latin-1"),
        ("cp850", "Köln für Öl, Käse", "cp850"),
        ("latin-1", "a\x81é", "Latin-1"),
    ],
)
def test_57_one_byte_a_character(tmp_path, encoding, text, told):
    sheet = one(tmp_path, "jobs.csv", f"job;text\nJ1;{text}\n".encode(encoding))
    assert rows(sheet) == [(2, "J1", text)]
    assert sheet.found[0] == told


def test_57_the_first_strange_character_after_megabytes(tmp_path):
    plain = "J1;nothing\n" * 200_000
    sheet = one(tmp_path, "jobs.csv", ("job;text\n" + plain).encode() + "J2;Köln\n".encode("cp1252"))
    assert rows(sheet)[-1] == (200_002, "J2", "Köln")


def test_57_read_wrongly_once_before(tmp_path):
    once = "job;text\nJ1;Mär £5\nJ2;naïve – “quoted”\n"
    wrong = once.encode().decode("cp1252", "surrogateescape").replace("\udc9d", "\x9d")
    sheet = one(tmp_path, "jobs.csv", wrong)
    assert rows(sheet) == [(2, "J1", "Mär £5"), (3, "J2", "naïve – “quoted”")]
    assert "encoded twice: put right" in sheet.told


def test_57_right_text_is_not_put_right(tmp_path):
    """Â£ in one place, and an honest é elsewhere: then nobody knows."""
    text = "job;text\nJ1;Â£5\nJ2;café\n"
    assert rows(one(tmp_path, "jobs.csv", text)) == [(2, "J1", "Â£5"), (3, "J2", "café")]


def test_57_two_encodings_in_one_file(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "job;text\n1;Düse für Öl\n".encode() + "2;Köln\n".encode("cp1252"))
    assert rows(sheet) == [(2, "1", "Düse für Öl"), (3, "2", "Köln")]
    assert sheet.found[0] == "UTF-8 with 1 byte of cp1252"


@pytest.mark.parametrize("between", [",", ";", "\t", "|"])
def test_58_what_stands_between_columns(tmp_path, between):
    text = f'job;km;cost;text\nJ1;1;1;"a{between} b, c; d"\nJ2;2;2;"x"\n'
    text = "\n".join(
        between.join(part) for part in (["job", "km", "text"], ["J1", "1", f'"a{between} b, c; d"'], ["J2", "2", "x"])
    )
    sheet = one(tmp_path, "jobs.csv", text)
    assert rows(sheet) == [(2, "J1", "1", f"a{between} b, c; d"), (3, "J2", "2", "x")]


def test_58_names_of_a_letter_and_a_digit_are_names(tmp_path):
    sheet = one(tmp_path, "a.csv", "X1;X2;X3\nJ1;V1;2024-05-01\nJ2;V1;12,5\n")
    assert sheet.columns == ("X1", "X2", "X3")


def test_58_decimal_commas_are_not_between_columns(tmp_path):
    sheet = one(tmp_path, "costs.csv", "job;labour;parts\n1;12,50;3,10\n2;7,00;0,99\n3;8,00;1,00\n")
    assert rows(sheet)[0] == (2, "1", "12,50", "3,10")
    assert "';' between columns" in sheet.remarkable


def test_58_commas_in_free_text_are_not_between_columns(tmp_path):
    text = "job;text\n" + "".join(f"J{n};egr cleaned, tested, {'ok, ' * (n % 3)}done\n" for n in range(20))
    assert len(rows(one(tmp_path, "jobs.csv", text))) == 20


@pytest.mark.parametrize("mark", [";", "|", "\t", ",", "^"])
def test_58_the_line_that_names_the_separator(tmp_path, mark):
    text = f"sep={mark}\r\njob{mark}km\r\nJ1{mark}5\r\n"
    sheet = one(tmp_path, "jobs.csv", text)
    assert (sheet.columns, rows(sheet), sheet.header_row) == (("job", "km"), [(3, "J1", "5")], 2)
    assert sheet.found[1].endswith("named by the first line")


def test_58_quotes_newlines_and_ends_of_line_of_all_kinds(tmp_path):
    text = b'job;text\r\nJ1;"a ""b"" c"\nJ2;"x\r\ny"\rJ3;5" hose\r\n'
    assert rows(one(tmp_path, "jobs.csv", text)) == [(2, "J1", 'a "b" c'), (3, "J2", "x\r\ny"), (4, "J3", '5" hose')]


def test_58_zero_bytes(tmp_path):
    sheet = one(tmp_path, "jobs.csv", b"job,km\nJ\0001,5\n\0\0\0")
    assert rows(sheet) == [(2, "J1", "5")]
    assert "4 zero bytes dropped" in sheet.told


def test_60_titles_above_the_header(tmp_path):
    text = (
        "Job history of depot North\nPeriod:;03/2024\n\njob;vehicle;opened;km\nJ1;V1;2024-03-01;5\nJ2;V1;2024-03-02;6\n"
    )
    sheet = one(tmp_path, "jobs.csv", text)
    assert (sheet.columns, sheet.header_row) == (("job", "vehicle", "opened", "km"), 3)
    assert rows(sheet) == [(4, "J1", "V1", "2024-03-01", "5"), (5, "J2", "V1", "2024-03-02", "6")]
    assert "header in row 3" in sheet.remarkable
    assert left_out(sheet) == {"title row": 2}


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(",Start,,End,\nJob,Date,Km,Date,Km\n", id="groups-above"),
        pytest.param("Job,Start,,End,\n,Date,Km,Date,Km\n", id="gaps-below"),
    ],
)
def test_60_two_header_rows(tmp_path, text):
    sheet = one(tmp_path, "jobs.csv", text + "J1,2024-01-01,5,2024-01-02,7\nJ2,2024-01-03,8,2024-01-04,9\n")
    assert sheet.columns == ("Job", "Start Date", "Start Km", "End Date", "End Km")
    assert "header in rows 1 and 2, joined" in sheet.told
    assert [row[0] for row in rows(sheet)] == [3, 4]


def test_60_names_twice_and_missing(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "job,date,date,,date\nJ1,a,b,c,d\n")
    assert sheet.columns == ("job", "date", "date (2)", "column 4", "date (3)")
    assert sheet.written == ("job", "date", "date", "", "date")
    assert "names there twice, numbered: date" in sheet.told


def test_60_a_name_that_would_be_made_twice(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "a,a,a (2),\nw,x,y,z\n")
    assert len(set(sheet.columns)) == 4


def test_31_ditto_cells_are_filled_from_above(tmp_path):
    text = 'job,vehicle,text\nJ1,V1,egr cleaned\n"""",do.,as above\nJ2,V2,"x"\nJ3,ditto,y\n'
    sheet = one(tmp_path, "jobs.csv", text)
    assert [row[1:] for row in rows(sheet)] == [
        ("J1", "V1", "egr cleaned"),
        ("J1", "V1", "egr cleaned"),
        ("J2", "V2", "x"),
        ("J3", "V2", "y"),
    ]
    assert "4 ditto cells filled" in sheet.told
    assert sheet.left_out == ()


def test_31_a_ditto_takes_from_the_last_row_that_is_one(tmp_path):
    text = 'job,vehicle,km\nJ1,V1,5\nTotal,,5\n,,\n"""",do.,6\n'
    assert rows(one(tmp_path, "jobs.csv", text))[-1] == (5, "J1", "V1", "6")


def test_31_a_ditto_with_nothing_above_stays(tmp_path):
    assert rows(one(tmp_path, "jobs.csv", "job,km\ndo.,5\n")) == [(2, "do.", "5")]


def test_31_a_ditto_reaches_over_the_edge_of_a_batch(tmp_path, monkeypatch):
    monkeypatch.setattr("fleetlens.intake.readers.delimited._BLOCK", 64)
    text = "job,km\n" + "".join(f"J{n:03},{n}\n" if n % 9 == 0 else f"do.,{n}\n" for n in range(90))
    found = rows(one(tmp_path, "jobs.csv", text))
    assert [row[1] for row in found] == [f"J{n // 9 * 9:03}" for n in range(90)]


@pytest.mark.parametrize(
    "line",
    [
        "Total;;300;",
        "TOTAL:;;1.234,50 €;",
        ";Subtotal;300;",
        ";;Summe;300",
        "Totaal V1;;300;",
        "Grand total;2 jobs;300;",
        "Balance brought forward;;1,200.00;",
        "Zwischensumme;;(300,00);",
        "Total;300",
    ],
)
def test_33_totals(tmp_path, line):
    sheet = one(tmp_path, "jobs.csv", f"job;vehicle;km;text\nJ1;V1;100;a\n{line}\nJ2;V2;200;b\n")
    assert [row[:2] for row in rows(sheet)] == [(2, "J1"), (4, "J2")]
    assert ragged(sheet) == []
    assert "1 total row left out" in sheet.told


@pytest.mark.parametrize(
    "line", ["Printed on 04.03.2024 10:15", "Page 3 of 7;;;", ";;;Seite 2", "*** End of report ***", "2 jobs listed"]
)
def test_33_footers(tmp_path, line):
    sheet = one(tmp_path, "jobs.csv", f"job;vehicle;km;text\nJ1;V1;100;a\n{line}\nJ2;V2;200;b\n")
    assert [row[:2] for row in rows(sheet)] == [(2, "J1"), (4, "J2")]
    assert (ragged(sheet), left_out(sheet)) == ([], {"footer": 1})


def test_33_page_headers_again(tmp_path):
    page = "Depot North\njob;vehicle;km;text\n"
    text = page + "J1;V1;100;a\nJ3;V1;100;a\n" + page + "J2;V2;200;b\n" + page + ";;;\nJ4;V2;300;c\n"
    sheet = one(tmp_path, "jobs.csv", text)
    assert [row[1] for row in rows(sheet)] == ["J1", "J3", "J2", "J4"]
    assert left_out(sheet) == {"title row": 3, "header again": 2, "blank row": 1}
    assert "2 headers again left out" in sheet.told


def test_63_a_file_cut_off_in_a_row_or_in_quotes(tmp_path):
    sheet = one(tmp_path, "jobs.csv", "job,vehicle,km\nJ1,V1,5\nJ2,V")
    assert [(row.row, row.values) for row in ragged(sheet)] == [(3, 2)]
    path = tmp_path / "cut.csv"
    path.write_text('job,text\nJ1,"a\nb\nc', encoding="utf-8")
    assert refusal(path).startswith("a quotation mark is opened and never closed")


@pytest.mark.parametrize("text", ["", "\n\n", ",,\n,,\n", "\ufeff", "sep=;\n"])
def test_a_file_with_nothing_in_it(tmp_path, text):
    path = tmp_path / "jobs.csv"
    path.write_text(text, encoding="utf-8")
    assert refusal(path) == "this file is empty"


@pytest.mark.parametrize("end", ["", "\n", "\r\n\r\n"])
def test_only_a_header(tmp_path, end):
    sheet = one(tmp_path, "jobs.csv", f"job,km{end}")
    assert (sheet.columns, rows(sheet)) == (("job", "km"), [])
