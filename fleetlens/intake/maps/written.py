"""Column maps as TOML: read and checked key by key, and written with a comment on what each key means."""

import difflib
import tomllib
import zoneinfo
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, cast

import tomlkit

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap, Kind, Origin, question
from fleetlens.vocabulary.tables import Column, tables

__all__ = ["parse", "read", "write"]

_KINDS = ("table", "wide")
_TOP = ("name", "kind", "file", "sheet", "header", "first_row_only", "job_prefix", "ignore")
_ORDERS = ("day_first", "month_first", "year_first")
_WAYS = ("column", "constant", "made_from", "counted")  # an origin has exactly one of them
_MADE_FROM = ("vehicle_id", "opened_at", "closed_at", "workshop", "odometer", "reason")
_HAS_UNIT = ("odometer", "in_service_km")
_SPLIT = ("code",)
_TEXT = ("note", "complaint")
_KEYS: dict[str, type] = {
    "column": str,
    "constant": str,
    "made_from": list,
    "counted": bool,
    "unit": str,
    "date_order": str,
    "decimal": str,
    "currency": str,
    "date_base": int,
    "zone": str,
    "mend_century": bool,
    "values": dict,
    "split": bool,
    "text": bool,
}
_COMMENTS = {
    "name": "What you call this source.",
    "kind": '"table": one input table. "wide": several in one file, a row of which is a line of a job.',
    "file": "The file it is for, of several with the same columns; * stands for any letters.",
    "sheet": "The sheet of the workbook, or the member of the archive.",
    "header": "The columns of the file this map was made for; a file with these names is read with it.",
    "first_row_only": "true: what belongs to the job or the vehicle stands on the first row of a job only.",
    "job_prefix": "Stands before each number of a job, where another source has the same numbers.",
    "ignore": "Columns left aside on purpose.",
}
_HELP = """\
Below: our tables, and of each our column = "your column". For more, write a table in braces:
  { column = "Date in", date_order = "day_first" }   or "month_first", "year_first"; also date_base = 1904 for day
      numbers of old spreadsheets, zone = "Europe/Berlin" for times with an offset, mend_century = true
  { column = "Price", decimal = "," }                or "."; currency = "EUR" takes no other
  { column = "Reading", unit = "mi" }                or "km", "from column NAME"
  { column = "Type", values = { "B/D" = "breakdown" } }   your values and ours ("" for none); others by our word lists
  { column = "Codes", split = true }                 several codes in one cell
  { column = "Work done", text = true }              free text: codes and actions are read from it too
  { constant = "Harlbridge Lane" }                   one value for the whole file
  { made_from = ["vehicle_id", "opened_at"] }        a job number built from our columns, where the file has none
  { counted = true }                                 lines numbered in the order of the file
"?" stands where the file doesn't decide: write the answer before you load."""


def read(path: Path) -> ColumnMap:
    """The map in a TOML file. Raises FleetlensError for the first fault, with its key, value and remedy."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise FleetlensError("there is no such map", where=str(path), do="check the path of --map") from None
    except (OSError, UnicodeDecodeError) as error:
        raise FleetlensError(
            f"this map can't be read: {error}", where=str(path), do="give a TOML file in UTF-8"
        ) from None
    return parse(text, str(path))


def parse(text: str, where: str) -> ColumnMap:
    """The map in the TOML `text`; `where` names it in errors. Raises FleetlensError as `read`."""
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FleetlensError(f"this map is no TOML: {error}", where=where, do="mend the line it names") from None
    return _Reading(where).column_map(found)


def write(column_map: ColumnMap) -> str:
    """The map as TOML with comments; `parse` gives the same map again."""
    document = tomlkit.document()
    for key in _TOP:
        value = getattr(column_map, key)
        if key in ("file", "sheet", "first_row_only", "job_prefix", "ignore") and not value:
            continue
        document.add(tomlkit.comment(_COMMENTS[key]))
        document.add(key, _list(value) if isinstance(value, tuple) else tomlkit.item(value))
    document.add(tomlkit.nl())
    for line in _HELP.splitlines():
        document.add(tomlkit.comment(line))
    for name, mine in column_map.tables.items():
        document.add(tomlkit.nl())
        table = tomlkit.table()
        table.comment(tables()[name].description)
        for ours, origin in mine.items():
            value = _origin(origin)
            if origin.open_keys:
                asked = " ".join(question(name, ours, key, origin.column) for key in origin.open_keys)
                table.add(tomlkit.comment(asked))
            table.add(ours, value)
        document.add(name, table)
    return tomlkit.dumps(document)


def _list(values: Iterable[str]) -> Any:
    array = tomlkit.array()
    array.extend(values)
    return array.multiline(True)


def _origin(origin: Origin) -> Any:
    """The short form where there is only a column, else an inline table."""
    given = {key: getattr(origin, key) for key in _KEYS if getattr(origin, key) not in ("", (), False, {}, 0)}
    if set(given) == {"column"}:
        return tomlkit.item(origin.column)
    inline = tomlkit.inline_table()
    for key, value in given.items():
        if key == "values":
            ours = tomlkit.inline_table()
            ours.update(value)
            inline.add(key, ours)
        else:
            inline.add(key, list(value) if isinstance(value, tuple) else value)
    return inline


class _Reading:
    """The checks of one map; every fault names the map, the key, the value and the remedy."""

    def __init__(self, where: str) -> None:
        self.where = where

    def column_map(self, found: Mapping[str, Any]) -> ColumnMap:
        for key in found:
            if key not in _TOP and key not in tables():
                raise self._unknown("key", key, "", (*_TOP, *tables()))
        kind = self._text(found, "kind", "kind")
        if kind not in _KINDS:
            raise self._fault("kind", kind, 'write "table" or "wide"')
        mapped = {name: self._table(name, found[name]) for name in tables() if name in found}
        if not mapped:
            raise FleetlensError(
                "this map names none of our tables", where=self.where, do=f"add one of [{'], ['.join(tables())}]"
            )
        if kind == "table" and len(mapped) > 1:
            raise self._fault("kind", kind, f'the map has {len(mapped)} tables: write kind = "wide", or keep one')
        made = ColumnMap(
            name=self._text(found, "name", "name"),
            kind=cast(Kind, kind),
            header=self._texts(found.get("header", []), "header"),
            tables=mapped,
            file=self._optional(found, "file", "file"),
            sheet=self._optional(found, "sheet", "sheet"),
            first_row_only=self._flag(found, "first_row_only", "first_row_only"),
            job_prefix=self._optional(found, "job_prefix", "job_prefix"),
            ignore=self._texts(found.get("ignore", []), "ignore"),
            where=self.where,
        )
        self._check_required(made)
        return made

    def _check_required(self, made: ColumnMap) -> None:
        for name in made.tables:
            origins = made.origins(name)
            reads_text = name in ("job_codes", "job_actions") and _has_text(made)
            for column in tables()[name].columns:
                needed = column.required and not (reads_text and column.name in ("code", "component", "action"))
                if needed and column.name not in origins:
                    raise FleetlensError(
                        f"the map doesn't say where {name}.{column.name} comes from, "
                        f"and {name} can't be read without it",
                        where=self.where,
                        do=f'add {column.name} = "NAME OF YOUR COLUMN" under [{name}]',
                    )

    def _table(self, name: str, given: Any) -> dict[str, Origin]:
        if not isinstance(given, dict):
            raise self._fault(name, given, f"write a heading [{name}], and its columns below")
        columns = {column.name: column for column in tables()[name].columns}
        for ours in given:
            if ours not in columns:
                raise self._unknown("column", ours, f"{name}.", tuple(columns))
        return {ours: self._origin(name, columns[ours], value) for ours, value in given.items()}

    def _origin(self, table: str, column: Column, value: Any) -> Origin:
        key = f"{table}.{column.name}"
        if isinstance(value, str):
            value = {"column": value}
        if not isinstance(value, dict):
            raise self._fault(key, value, 'write the name of your column, or { column = "NAME", ... }')
        for inner, one in value.items():
            if inner not in _KEYS:
                raise self._unknown("key", inner, f"{key}.", tuple(_KEYS))
            if not isinstance(one, _KEYS[inner]) or (_KEYS[inner] is int and isinstance(one, bool)):
                raise self._fault(f"{key}.{inner}", one, f"write {_KIND_WORDS[_KEYS[inner]]}")
        ways = [way for way in _WAYS if value.get(way)]
        if len(ways) != 1:
            raise self._fault(key, value, f"give exactly one of {', '.join(_WAYS)}")
        self._check_keys(table, column, value)
        given: dict[str, Any] = {name: tuple(one) if name == "made_from" else one for name, one in value.items()}
        origin = Origin(**given)
        self._check_values(key, column, origin)
        return origin

    def _check_keys(self, table: str, column: Column, value: Mapping[str, Any]) -> None:
        """Each key only where it means something."""
        key, name = f"{table}.{column.name}", column.name
        dated, numeric = column.type in ("date", "datetime"), column.type in ("number", "integer")
        fits = {
            "made_from": (table, name) == ("jobs", "job_id"),
            "counted": (table, name) == ("job_actions", "line"),
            "unit": name in _HAS_UNIT,
            "date_order": dated,
            "date_base": dated,
            "zone": dated,
            "mend_century": dated,
            "decimal": numeric,
            "currency": numeric,
            "split": name in _SPLIT,
            "values": name != "code",
            "constant": name != "code",
            "text": name in _TEXT,
        }
        for inner in value:
            if not fits.get(inner, True):
                raise self._fault(f"{key}.{inner}", value[inner], f"leave it out: {inner} means nothing for {key}")

    def _check_values(self, key: str, column: Column, origin: Origin) -> None:
        """Each value one of those that there are."""
        if origin.date_order not in ("", UNDECIDED, *_ORDERS):
            raise self._fault(f"{key}.date_order", origin.date_order, f"write one of {', '.join(_ORDERS)}")
        if origin.decimal not in ("", UNDECIDED, ",", "."):
            raise self._fault(f"{key}.decimal", origin.decimal, 'write "," or "."')
        if origin.unit not in ("", UNDECIDED, "km", "mi") and not origin.unit_column:
            raise self._fault(f"{key}.unit", origin.unit, 'write "km", "mi" or "from column NAME"')
        if origin.date_base not in (0, 1900, 1904):
            raise self._fault(f"{key}.date_base", origin.date_base, "write 1900 or 1904")
        if origin.zone and origin.zone not in zoneinfo.available_timezones():
            raise self._fault(f"{key}.zone", origin.zone, 'write the name of a time zone, such as "Europe/Berlin"')
        for ours in origin.made_from:
            if ours not in _MADE_FROM:
                raise self._fault(f"{key}.made_from", ours, f"use {', '.join(_MADE_FROM)}")
        self._check_words(key, column, origin)

    def _check_words(self, key: str, column: Column, origin: Origin) -> None:
        """The meanings of their words, and a constant, are values that the column may have."""
        for theirs, ours in origin.values.items():
            if not isinstance(ours, str):
                raise self._fault(f"{key}.values.{theirs}", ours, "write a text in quotes")
            if column.allowed and ours not in ("", UNDECIDED) and ours not in column.allowed:
                near = difflib.get_close_matches(ours, column.allowed, n=1)
                remedy = f"the nearest is {near[0]!r}; " if near else ""
                raise self._fault(
                    f"{key}.values.{theirs}", ours, f'{remedy}write one of {", ".join(column.allowed)}, or ""'
                )
        if column.allowed and origin.constant and origin.constant not in column.allowed:
            raise self._fault(f"{key}.constant", origin.constant, f"write one of {', '.join(column.allowed)}")

    def _text(self, found: Mapping[str, Any], key: str, name: str) -> str:
        value = self._optional(found, key, name)
        if not value:
            raise FleetlensError(f"the map has no {name}", where=self.where, do=f'add {name} = "..." at its head')
        return value

    def _optional(self, found: Mapping[str, Any], key: str, name: str) -> str:
        value = found.get(key, "")
        if not isinstance(value, str):
            raise self._fault(name, value, "write a text in quotes")
        return value

    def _flag(self, found: Mapping[str, Any], key: str, name: str) -> bool:
        value = found.get(key, False)
        if not isinstance(value, bool):
            raise self._fault(name, value, "write true or false")
        return value

    def _texts(self, value: Any, name: str) -> tuple[str, ...]:
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self._fault(name, value, 'write a list of texts: ["...", "..."]')
        return tuple(value)

    def _fault(self, key: str, value: Any, remedy: str) -> FleetlensError:
        return FleetlensError(f"{key} can't be {value!r}", where=f"{self.where}, key {key}", do=remedy)

    def _unknown(self, what: str, name: str, before: str, known: tuple[str, ...]) -> FleetlensError:
        near = difflib.get_close_matches(name, known, n=1)
        remedy = f"the nearest is {near[0]!r}; " if near else ""
        return FleetlensError(
            f"the map has a {what} that isn't known here: {name!r}",
            where=f"{self.where}, key {before}{name}",
            do=f"{remedy}there are {', '.join(known)}",
        )


_KIND_WORDS = {
    str: "a text in quotes",
    bool: "true or false",
    int: "a whole number",
    list: 'a list of texts: ["...", "..."]',
    dict: 'a table in braces: { "theirs" = "ours" }',
}


def _has_text(made: ColumnMap) -> bool:
    return any(origin.text for mine in made.tables.values() for origin in mine.values())
