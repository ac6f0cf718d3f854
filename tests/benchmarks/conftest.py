"""Benchmarks run on demand only: `pytest tests/benchmarks --benchmark`."""

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--benchmark", action="store_true", help="run what is marked benchmark, and print the ratios")
    parser.addoption("--gigabytes", type=float, default=0.3, help="size of the files of the benchmark of memory")
    parser.addoption("--vehicles", type=int, default=20_000, help="size of the fleet that questions are timed on")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    # The option exists only where this folder is named on the command line; elsewhere benchmarks are skipped.
    if config.getoption("--benchmark", default=False):
        return
    skip = pytest.mark.skip(reason="a benchmark: pytest tests/benchmarks --benchmark")
    for item in items:
        if item.get_closest_marker("benchmark"):
            item.add_marker(skip)
