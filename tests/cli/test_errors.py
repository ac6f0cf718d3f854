"""What goes wrong: one sentence with a remedy on stderr, nothing on stdout, the right exit code, no traceback."""

import errno

import pytest

from fleetlens.cli import questions
from fleetlens.store.reader import current

MENDABLE = [
    ("codes --store nowhere", "there is no store here yet"),
    ("codes --model Unheard", "no model is called 'Unheard' in this store"),
    ("lives --component nothing", "no component is called 'nothing' in this store"),
    ("lives --by colour", "can't split by 'colour'\n  try: one or more of: model, duty, depot, began_as"),
    ("comebacks --by position", "can't split by 'position'\n  try: one or more of: action, part_grade, cause"),
    ("intervals --by colour", "can't split by 'colour'"),
    ("lives --at 50000,abc", "this distance can't be read: 'abc'\n  at: --at\n  try: km above 0"),
    ("lives --at -5", "this distance can't be read: '-5'"),
    ("lives --at nan", "this distance can't be read: 'nan'"),
    ("lives --at inf", "this distance can't be read: 'inf'"),
    ("lives --unknown-start perhaps", "unknown start can't be 'perhaps'"),
    ("comebacks --days 0", "a window of 0 days"),
    ("comebacks --km 0", "0 km holds no comeback"),
    ("intervals --clean-price=-1", "a price of -1.0 for a planned cleaning can't be"),
    ("plan --weeks 0", "a plan of 0 weeks can't be"),
    ("plan --pin V1", "'V1' can't be read as what to pin"),
    ("plan --by began_as", "a plan can't be split by 'began_as'"),
    ("plan --agreed nowhere.csv", "there is no such file"),
    ("plan --out plan.docx", "no format is known for the ending '.docx'"),
    ("backtest --until 1990-01-01", "1990-01-01 lies outside the record"),
    ("backtest --until 2025-06-30 --months 0", "a window of 0 months can't be"),
    ("vehicle V9", "no vehicle is called 'V9' in this store"),
    ("codes --rows", "--rows needs a code to open"),
    ("codes --code P0401", "--code opens the rows of a code"),
    ("codes --out answer.pdf", "no format is known for the ending '.pdf'"),
    ("codes --out nowhere/answer.csv", "the folder of this file doesn't exist"),
    ("load nowhere", "nowhere"),
    ("load . --as-of 2026-02-30", "this date can't be read: '2026-02-30'"),
    ("sample out --vehicles 0", "a sample of 0 vehicles can't be made"),
    ("sample out --format doc", "the sample can't be written as 'doc'"),
    ("dashboard --store nowhere", "there is no store here yet"),
]


# each as people ask it, and as machines do; a dashboard has no JSON
ASKED = [
    (line + end, message)
    for line, message in MENDABLE
    for end in ("", " --json")
    if not (end and line.startswith("dashboard"))
]


@pytest.mark.parametrize(("line", "message"), ASKED, ids=[line for line, _ in ASKED])
def test_what_a_user_can_mend(used, store, line, message):
    before = current(store)
    told = used(*line.split())
    assert (told.code, told.out) == (2, "")
    assert message in told.err
    assert "try: " in told.err
    assert "Traceback" not in told.err
    assert current(store) == before


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("codes --nope", "No such option"),
        ("nope", "No such command"),
        ("vehicle", "Missing argument"),
        ("comebacks --days soon", "Invalid value"),
        ("dashboard --port 99999", "Invalid value"),
    ],
)
def test_what_is_no_command(run, line, message):
    told = run(*line.split())
    assert (told.code, told.out) == (2, "")
    assert message in told.err


def broken(error):
    def breaks(*_, **__):
        raise error

    return breaks


def test_a_bug_says_that_it_is_one(run, store, monkeypatch):
    monkeypatch.setattr(questions, "recurring_codes", broken(ValueError("odd")))
    told = run("codes", "--store", store, "--json")
    assert (told.code, told.out) == (1, "")
    assert "this is a bug in fleetlens (ValueError: odd)" in told.err
    assert "FLEETLENS_DEBUG=1" in told.err
    assert "Traceback" not in told.err


def test_a_bug_shows_its_traceback_on_request(run, store, monkeypatch):
    monkeypatch.setattr(questions, "recurring_codes", broken(ValueError("odd")))
    monkeypatch.setenv("FLEETLENS_DEBUG", "1")
    told = run("codes", "--store", store)
    assert told.code == 1
    assert "Traceback" in told.err


def test_a_full_disk_is_no_bug(run, store, monkeypatch):
    error = OSError(errno.ENOSPC, "No space left on device", "somewhere")
    monkeypatch.setattr(questions, "recurring_codes", broken(error))
    told = run("codes", "--store", store)
    assert (told.code, told.out) == (2, "")
    assert "the system refused: No space left on device\n  at: somewhere\n  try: " in told.err


def test_an_interrupt_ends_quietly(run, store, monkeypatch):
    monkeypatch.setattr(questions, "recurring_codes", broken(KeyboardInterrupt()))
    told = run("codes", "--store", store)
    assert told.code == 130
    assert "Traceback" not in told.err
