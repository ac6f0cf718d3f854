"""The sample fleet, loaded once for the tests of the plan."""

from collections.abc import Iterator

import pytest

from fleetlens import load, open_store
from fleetlens.advice.planning.plan import Plan, cleaning_plan
from fleetlens.places import folder
from fleetlens.store.preferences import Planning, Preferences, Workshop
from fleetlens.store.reader import Snapshot

WANTED = Preferences(plan=Planning(visit_cost=30.0, weeks=6), workshop=Workshop(hours_a_day=4, bays=2))


@pytest.fixture(scope="session")
def sample(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Snapshot]:
    store = tmp_path_factory.mktemp("planned") / "store"
    load([folder("sample_fleet")], store)
    with open_store(store) as snapshot:
        yield snapshot


@pytest.fixture(scope="session")
def made(sample: Snapshot) -> Plan:
    return cleaning_plan(sample, preferences=WANTED)
