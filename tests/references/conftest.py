"""Reference values from files, each with its source and basis, and the small data sets they rest on."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl
import pytest

HERE = Path(__file__).parent


def printed(text: str) -> tuple[float, float]:
    """A number as its source prints it, and how far off it may be: half a unit of its last digit."""
    decimals = len(text.partition(".")[2])
    return float(text), 0.5 * 10**-decimals * (1 + 1e-6)


@dataclass(frozen=True)
class Reference:
    """One check: `basis` says where the printed figures come from (read, from memory, or computed only)."""

    name: str
    source: str
    basis: str
    data: str
    tolerance: Mapping[str, float]
    values: Mapping[str, float]
    published: Mapping[str, str]
    disputed: Mapping[str, Any]
    inputs: Mapping[str, float]

    def holds(self, ours: Mapping[str, float | None], *, not_ours: frozenset[str] = frozenset()) -> None:
        """Every value is ours to the tolerance and to each printed digit; none is passed over but `not_ours`."""
        assert set(ours) | not_ours == set(self.values), self.name
        for key, value in ours.items():
            assert value == pytest.approx(self.values[key], **self._slack(key)), f"{self.name}: {key}"
        for key, text in self.published.items():
            value, slack = printed(text)
            assert ours[key] == pytest.approx(value, abs=slack, rel=0), f"{self.name}: {key}, printed {text}"

    def _slack(self, key: str) -> dict[str, float]:
        given = self.tolerance
        interval = any(mark in key for mark in ("_low", "_high"))
        for kind, applies in (
            ("rel", True),
            ("abs", True),
            ("intervals_rel", interval),
            ("estimates_rel", not interval),
            ("se_abs", key.startswith("se_") or interval),
            ("mcf_abs", True),
        ):
            if kind in given and applies:
                unit = kind.rpartition("_")[2]
                return {unit: given[kind], ("abs" if unit == "rel" else "rel"): 0.0}
        raise AssertionError(f"{self.name} has no tolerance for {key}")


@pytest.fixture(scope="session")
def reference() -> Callable[[str], Reference]:
    """A check by its name, from whichever file of values/ holds it."""
    checks = {}
    for path in sorted((HERE / "values").glob("*.toml")):
        for name, entry in tomllib.loads(path.read_text(encoding="utf-8")).items():
            checks[name] = Reference(
                name,
                entry["source"],
                entry["basis"],
                entry.get("data", "").removesuffix(".csv"),
                entry["tolerance"],
                entry["values"],
                entry.get("published", {}),
                entry.get("disputed", {}),
                entry.get("inputs", {}),
            )
    return checks.__getitem__


@pytest.fixture(scope="session")
def table() -> Callable[[str], pl.DataFrame]:
    """A data set of data/ by its name."""
    return lambda name: pl.read_csv(HERE / "data" / f"{name}.csv", infer_schema_length=None)


@pytest.fixture(scope="session")
def channing(table: Callable[[str], pl.DataFrame]) -> pl.DataFrame:
    """Channing House without its five unusable rows."""
    return table("channing_house").filter(pl.col("entry_month") < pl.col("exit_month"))
