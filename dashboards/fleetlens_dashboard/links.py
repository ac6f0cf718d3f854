"""Addresses of other pages, with the filters that are set."""

from collections.abc import Mapping, Sequence
from urllib.parse import urlencode

from fleetlens.findings.filters import Filters

Address = dict[str, list[str]]


def parameters(filters: Filters = Filters(), **choices: str) -> Address:  # noqa: B008 - frozen
    """The filters and choices as they stand in an address."""
    kept: Mapping[str, Sequence[str]] = {
        name: values for name, values in filters.named().items() if name not in choices
    }
    return {name: list(values) for name, values in kept.items()} | {name: [value] for name, value in choices.items()}


def address(page: str, parameters: Address) -> str:
    """The address of `page`, relative to any other page."""
    return f"{page}?{urlencode(parameters, doseq=True)}"
