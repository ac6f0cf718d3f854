"""Simulations run on demand only: `pytest tests/simulation --simulation -s`."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--simulation", action="store_true", help="run what is marked simulation, and print")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    # The option exists only where this folder is named on the command line; elsewhere simulations are skipped.
    if config.getoption("--simulation", default=False):
        return
    skip = pytest.mark.skip(reason="a simulation: pytest tests/simulation --simulation")
    for item in items:
        if item.get_closest_marker("simulation"):
            item.add_marker(skip)
