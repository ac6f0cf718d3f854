"""Stores to look at, and the dashboard opened on them without a browser."""

import sys
from pathlib import Path

import pytest
from dashboards.house import HOUSE, Open, write_hostile
from streamlit.testing.v1 import AppTest

from fleetlens.intake.load import load
from fleetlens.sample import make_sample


@pytest.fixture(autouse=True)
def _script_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """Streamlit puts the folder of its script on the path; so does this."""
    monkeypatch.setattr(sys, "path", [str(HOUSE), *sys.path])


@pytest.fixture(scope="session")
def stores(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The store of a small sample fleet, of one vehicle, of vehicles without jobs, of hostile text, and none at all."""
    place = tmp_path_factory.mktemp("stores")
    sources = {name: place / "tables" / name for name in ("sample", "one vehicle", "no jobs", "hostile")}
    for source in sources.values():
        source.mkdir(parents=True)
    make_sample(sources["sample"], vehicles=60, seed=7)
    make_sample(sources["one vehicle"], vehicles=1, seed=7)
    whole = sources["sample"] / "vehicles.csv"
    (sources["no jobs"] / "vehicles.csv").write_bytes(whole.read_bytes())
    write_hostile(sources["hostile"])
    for name, source in sources.items():
        load([source], place / name)
    return {name: place / name for name in ("sample", "one vehicle", "no jobs", "hostile", "empty")}


@pytest.fixture(name="open_app")
def _open_app(stores: dict[str, Path], monkeypatch: pytest.MonkeyPatch) -> Open:
    """The dashboard on a store, at a page, with what stands in its address."""

    def opened(store: str | Path, page: str, **address: str | list[str]) -> AppTest:
        monkeypatch.setenv("FLEETLENS_STORE", str(stores.get(str(store), store)))
        app = AppTest.from_file(HOUSE / "app.py", default_timeout=60)
        for key, value in address.items():
            app.query_params[key] = value
        return app.run().switch_page(f"views/{page}.py").run()

    return opened
