"""The page of the cleaning plan: it shows the plan, takes changes, and gives its files."""

import importlib
import shutil
from datetime import date
from pathlib import Path

import polars as pl
import pytest
from dashboards.house import Open

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.advice.planning.wishes import EXCLUDE, PIN, Wish
from fleetlens.intake.load import load
from fleetlens.places import folder


def said(app) -> str:
    return "\n".join(element.value for element in app.text)


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store of the sample fleet that travels along: large enough for a schedule to be worth it."""
    store = tmp_path_factory.mktemp("planned") / "store"
    load([folder("sample_fleet")], store)
    return store


@pytest.fixture
def wide(loaded: Path, tmp_path: Path) -> Path:
    """A copy of it, whose preferences may change."""
    return Path(shutil.copytree(loaded, tmp_path / "store"))


def test_it_shows_the_plan_with_reasons_cautions_and_files(open_app: Open, wide) -> None:
    app = open_app(wide, "cleaning_plan")
    assert not app.exception
    told = said(app)
    assert "expected to save" in told
    assert "Hours planned by week" in told
    for caution in CAUTIONS:
        assert caution in told
    assert len(app.get("download_button")) >= 6
    assert "snapshot" in told.lower()


def test_changes_are_held_shown_and_taken_back(open_app: Open, wide) -> None:
    app = open_app(wide, "cleaning_plan")
    app.session_state["plan_wishes"] = {("V000001", "egr_valve", ""): Wish(EXCLUDE, "V000001", "egr_valve", "")}
    app.run()
    assert not app.exception
    assert "V000001:egr_valve: left out" in said(app)
    next(button for button in app.button if button.label == "Take all changes back").click().run()
    assert "V000001:egr_valve: left out" not in said(app)


def test_a_store_without_worthwhile_tasks_says_so(open_app: Open) -> None:
    app = open_app("one vehicle", "cleaning_plan")
    assert not app.exception
    assert any("No task saves enough" in box.value for box in app.info)


def test_a_store_without_jobs_says_so(open_app: Open) -> None:
    app = open_app("no jobs", "cleaning_plan")
    assert not app.exception
    assert app.info


def test_a_faulty_preference_is_named(open_app: Open, wide) -> None:
    (wide / "fleetlens.toml").write_text("[plan]\nweeks = 0\n")
    app = open_app(wide, "cleaning_plan")
    assert not app.exception
    assert "weeks can't be 0" in said(app)


ROWS = pl.DataFrame(
    {
        "vehicle_id": ["V1", "V2", "V3"],
        "component": ["egr_valve"] * 3,
        "position": [""] * 3,
        "week_from": [date(2026, 7, 6)] * 3,
        "wish": [None, PIN, None],
    }
)


@pytest.mark.parametrize(
    ("edits", "wishes"),
    [
        ({}, ()),
        ({0: {"pin": True}}, (Wish(PIN, "V1", "egr_valve", "", date(2026, 7, 6)),)),
        ({0: {"week_from": "2026-07-13"}}, (Wish(PIN, "V1", "egr_valve", "", date(2026, 7, 13)),)),
        ({2: {"leave_out": True, "pin": True}}, (Wish(EXCLUDE, "V3", "egr_valve", ""),)),
        ({1: {"pin": False}}, ()),
        ({1: {"week_from": "2026-07-20", "pin": False}}, ()),
    ],
)
def test_edits_become_wishes(edits, wishes, monkeypatch: pytest.MonkeyPatch) -> None:
    plan_wishes = importlib.import_module("fleetlens_dashboard.plan_wishes")
    kept: dict[str, object] = {}
    monkeypatch.setattr(plan_wishes.st, "session_state", kept)
    plan_wishes.changed(ROWS, edits)
    assert plan_wishes.held() == wishes
    plan_wishes.forget()
    assert plan_wishes.held() == ()
