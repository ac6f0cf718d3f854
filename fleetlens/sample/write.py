"""Tables to files, batch by batch, with the descriptor that lets other tools check them."""

import json
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Literal, Self

import polars as pl
from pyarrow import parquet

from fleetlens.vocabulary.tables import package, tables

FileFormat = Literal["csv", "parquet"]


UNUSED = ("from_text",)  # the sample is recorded as tables: nothing in it was read from free text


def columns(name: str) -> list[str]:
    """The columns of the table `name` that a sample writes, in the published order."""
    return [column.name for column in tables()[name].columns if column.name not in UNUSED]


class TableFiles:
    """One file per table in a folder; frames are added to it one after the other."""

    def __init__(self, folder: Path, file_format: FileFormat) -> None:
        self.rows: dict[str, int] = {}
        self.files: list[Path] = []
        self._folder, self._format = folder, file_format
        self._text: dict[str, BinaryIO] = {}
        self._parquet: dict[str, Any] = {}

    def add(self, name: str, frame: pl.DataFrame) -> None:
        """Append the rows of `frame` to the file of table `name`."""
        first = name not in self.rows
        if first:
            self.rows[name] = 0
            self.files.append(self._folder / f"{name}.{self._format}")
        self.rows[name] += frame.height
        if self._format == "csv":
            self._add_text(name, frame, first)
        else:
            self._add_parquet(name, frame, first)

    def _add_text(self, name: str, frame: pl.DataFrame, first: bool) -> None:
        if first:
            self._text[name] = self.files[-1].open("wb")
        frame.write_csv(self._text[name], include_header=first, float_precision=2, datetime_format="%Y-%m-%dT%H:%M:%S")

    def _add_parquet(self, name: str, frame: pl.DataFrame, first: bool) -> None:
        rows = frame.to_arrow()
        if first:
            self._parquet[name] = parquet.ParquetWriter(self.files[-1], rows.schema, compression="zstd")
        self._parquet[name].write_table(rows)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for file in (*self._text.values(), *self._parquet.values()):
            file.close()


def descriptor(file_format: FileFormat, seed: int, vehicles: int) -> dict[str, Any]:
    """The Data Package descriptor of a sample."""
    told = package()
    told["name"] = "fleetlens-sample"
    told["title"] = "Invented job histories of an invented fleet"
    told["description"] = (
        f"A made-up fleet of {vehicles} vehicles (seed {seed}): no vehicle, place, firm or person in it exists. "
        "truth.json holds the lives, chances and prices it was made with. Dates are ISO 8601."
    )
    for resource in told["resources"]:
        fields = resource["schema"]["fields"]
        resource["schema"]["fields"] = [field for field in fields if field["name"] not in UNUSED]
        resource["path"] = f"{resource['name']}.{file_format}"
        resource["format"] = file_format
        if file_format == "parquet":
            resource["mediatype"] = "application/vnd.apache.parquet"
            del resource["encoding"]
    return told


def write_json(path: Path, content: dict[str, Any]) -> None:
    """Write JSON that a person can read: an object or list of plain values stands on one line."""
    path.write_text(_readable(content, "") + "\n", encoding="utf-8", newline="\n")


def _readable(value: Any, margin: str) -> str:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list | tuple) else ()
    if not any(isinstance(item, dict | list | tuple) for item in inner):
        return json.dumps(value, ensure_ascii=False)
    deeper = margin + "  "
    if isinstance(value, dict):
        items = [f"{json.dumps(name)}: {_readable(item, deeper)}" for name, item in value.items()]
        left, right = "{}"
    else:
        items = [_readable(item, deeper) for item in value]
        left, right = "[]"
    return f"{left}\n{deeper}" + f",\n{deeper}".join(items) + f"\n{margin}{right}"
