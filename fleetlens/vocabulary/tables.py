"""The input tables: their columns, types, units and constraints, as the published Data Package states them."""

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

# How the first value of an example row in a workbook begins; such a row is left out on load, and told.
EXAMPLE_MARK = "EXAMPLE"

ColumnType = Literal["string", "integer", "number", "boolean", "date", "datetime"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of an input table; `unit` is "" where it has none."""

    name: str
    type: ColumnType
    description: str
    unit: str = ""
    required: bool = False
    minimum: float | None = None
    maximum: float | None = None
    allowed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reference:
    """A column whose values must exist in another table."""

    column: str
    table: str
    there: str


@dataclass(frozen=True, slots=True)
class Table:
    """One input table; `key` is empty where a row is known only by its whole content."""

    name: str
    description: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    references: tuple[Reference, ...]

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the columns without which the table can't be read."""
        return tuple(column.name for column in self.columns if column.required)


def package() -> dict[str, Any]:
    """The Data Package descriptor, as a fresh dictionary."""
    text = files("fleetlens.vocabulary").joinpath("data/datapackage.json").read_text(encoding="utf-8")
    descriptor: dict[str, Any] = json.loads(text)
    return descriptor


def _column(field: dict[str, Any]) -> Column:
    rules = field.get("constraints", {})
    return Column(
        name=field["name"],
        type=field["type"],
        description=field["description"],
        unit=field.get("unit", ""),
        required=rules.get("required", False),
        minimum=rules.get("minimum"),
        maximum=rules.get("maximum"),
        allowed=tuple(rules.get("enum", ())),
    )


@cache
def tables() -> dict[str, Table]:
    """The input tables by name, each after those it refers to."""
    found = {}
    for resource in package()["resources"]:
        schema = resource["schema"]
        found[resource["name"]] = Table(
            name=resource["name"],
            description=resource["description"],
            columns=tuple(_column(field) for field in schema["fields"]),
            key=tuple(schema.get("primaryKey", ())),
            references=tuple(
                Reference(key["fields"][0], key["reference"]["resource"], key["reference"]["fields"][0])
                for key in schema.get("foreignKeys", ())
            ),
        )
    return found
