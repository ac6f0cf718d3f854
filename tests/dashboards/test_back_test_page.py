"""The page of the back-test."""

from pathlib import Path

import pytest
from dashboards.house import Open

from fleetlens.advice.cautions import CAUTIONS
from fleetlens.intake.load import load
from fleetlens.places import folder


@pytest.fixture(scope="module")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("tried") / "store"
    load([folder("sample_fleet")], store)
    return store


def test_it_says_what_was_borne_out_with_its_cautions(open_app: Open, loaded: Path) -> None:
    app = open_app(loaded, "back_test")
    assert not app.exception
    told = "\n".join(element.value for element in app.text)
    assert "were foreseen" in told
    assert "Failures observed and foreseen by fifths" in told
    for caution in CAUTIONS:
        assert caution in told


def test_the_parts_open(open_app: Open, loaded: Path) -> None:
    app = open_app(loaded, "back_test", component="dpf", rows="true")
    assert not app.exception
    assert len(app.dataframe) >= 2


@pytest.mark.parametrize("store", ["one vehicle", "no jobs", "empty"])
def test_a_small_store_gets_a_sentence(open_app: Open, store: str) -> None:
    app = open_app(store, "back_test")
    assert not app.exception
    assert app.info or app.error or app.text
