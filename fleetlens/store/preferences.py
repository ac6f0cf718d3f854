"""What a workshop sets once: prices, hours, bays, closed days, service interval, horizon; in fleetlens.toml.

The file stands in the folder of the store. Without it, or without a key, the default holds. A figure never depends on a
preference that its answer doesn't name.
"""

import difflib
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields
from datetime import date, datetime
from functools import partial
from math import isfinite
from pathlib import Path
from typing import Any

from fleetlens.errors import FleetlensError

__all__ = [
    "FILE",
    "WEEKDAYS",
    "ComponentPrices",
    "Preferences",
    "described",
    "described_prices",
    "read",
    "template",
    "write_template",
]

FILE = "fleetlens.toml"
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

Check = Callable[[Any], Any]  # the value as we use it; raises ValueError with what it must be


def _number(value: Any, *, least: float, above: bool = False) -> float:
    bound = f"a number above {least:g}" if above else f"a number of {least:g} or more"
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise ValueError(bound)
    if value < least or (above and value == least):
        raise ValueError(bound)
    return float(value)


def _whole(value: Any, *, least: int, most: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise ValueError(f"a whole number from {least} to {most}")
    return value


def _currency(value: Any) -> str:
    text = value.strip().upper() if isinstance(value, str) else ""
    if len(text) != 3 or not text.isascii() or not text.isalpha():
        raise ValueError('the three letters of a currency (ISO 4217), as "EUR"')
    return text


def _weekdays(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or any(not isinstance(day, str) or day.lower() not in WEEKDAYS for day in value):
        raise ValueError("a list of: " + ", ".join(f'"{day}"' for day in WEEKDAYS))
    if len({day.lower() for day in value}) == len(WEEKDAYS):
        raise ValueError("a list that leaves a day open")
    return tuple(day for day in WEEKDAYS if day in {each.lower() for each in value})


def _dates(value: Any) -> tuple[date, ...]:
    if not isinstance(value, list) or any(not isinstance(day, date) or isinstance(day, datetime) for day in value):
        raise ValueError("a list of dates without quotes, as [2026-12-25]")
    return tuple(sorted(set(value)))


def _yes(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false")
    return value


_money = partial(_number, least=0.0)
_above_0 = partial(_number, least=0.0, above=True)


def _key(check: Check, meaning: str, default: Any) -> Any:
    return field(default=default, metadata={"check": check, "meaning": meaning})


@dataclass(frozen=True, slots=True)
class Money:
    """Prices that hold for every component."""

    currency: str | None = _key(_currency, "Currency of all amounts, three letters; shown beside them.", None)
    downtime_rate: float = _key(_money, "Price of an hour that a vehicle is off the road.", 0.0)
    recovery: float = _key(_money, "Price of fetching a vehicle that failed, where the jobs don't hold it.", 0.0)


@dataclass(frozen=True, slots=True)
class Workshop:
    """What the workshop can take on for planned work."""

    hours_a_day: float = _key(_above_0, "Technicians' hours for planned work on an open day, together.", 16.0)
    bays: int = _key(partial(_whole, least=1, most=1_000), "Vehicles for planned work on an open day.", 2)
    closed_weekdays: tuple[str, ...] = _key(_weekdays, "Days of the week without planned work.", WEEKDAYS[5:])
    closed_days: tuple[date, ...] = _key(_dates, "Further days without planned work.", ())


@dataclass(frozen=True, slots=True)
class Service:
    """When a vehicle comes in anyway; whichever is first."""

    every_km: float = _key(_above_0, "Distance between two services (km).", 30_000.0)
    every_days: int = _key(partial(_whole, least=1, most=3_650), "Days between two services.", 365)


@dataclass(frozen=True, slots=True)
class Planning:
    """How far ahead advice looks."""

    weeks: int = _key(partial(_whole, least=1, most=52), "Weeks in a plan.", 8)
    horizon_km: float = _key(
        _above_0, "Distance a vehicle is still meant to run, for clean or replace (km).", 100_000.0
    )
    visit_cost: float = _key(_money, "Price of bringing a vehicle in for planned work alone.", 0.0)
    least_saving: float = _key(_money, "A task that would save less isn't planned.", 10.0)
    move_cost: float = _key(_money, "Price of moving a date that was agreed.", 50.0)


@dataclass(frozen=True, slots=True)
class People:
    """What is said of people."""

    name_technicians: bool = _key(_yes, "Technicians may be named in answers, by agreement.", False)


@dataclass(frozen=True, slots=True)
class ComponentPrices:
    """Prices and hours of one component; what isn't set is learned from the store's own jobs."""

    clean: float | None = _key(_above_0, "A planned cleaning, labour and parts.", None)
    replace: float | None = _key(_above_0, "A planned replacement, labour and parts.", None)
    failure: float | None = _key(_above_0, "A failure on the road, with recovery and downtime.", None)
    clean_hours: float | None = _key(_above_0, "Hours that a planned cleaning takes.", None)
    replace_hours: float | None = _key(_above_0, "Hours that a planned replacement takes.", None)
    warranty_months: int | None = _key(partial(_whole, least=1, most=240), "Term of a new part in months.", None)
    warranty_km: float | None = _key(_above_0, "Term of a new part in km, where it has one.", None)


@dataclass(frozen=True, slots=True)
class Preferences:
    """All that can be set, by table of the file; `where` is the file, or "" where there is none.

    `stated`: what the file sets, such as "money.currency" or "component.egr_valve.clean".
    """

    money: Money = field(default_factory=Money)
    workshop: Workshop = field(default_factory=Workshop)
    service: Service = field(default_factory=Service)
    plan: Planning = field(default_factory=Planning)
    people: People = field(default_factory=People)
    component: Mapping[str, ComponentPrices] = field(default_factory=dict)
    where: str = ""
    stated: frozenset[str] = frozenset()

    def prices(self, component: str) -> ComponentPrices:
        """What is set for the component."""
        return self.component.get(component, ComponentPrices())


_TABLES: dict[str, type] = {
    "money": Money,
    "workshop": Workshop,
    "service": Service,
    "plan": Planning,
    "people": People,
}


def read(store: Path) -> Preferences:
    """The preferences of the store in the folder `store`; the defaults where it has no file.

    Raises FleetlensError for the first fault, with its key, value and remedy.
    """
    path = Path(store) / FILE
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return Preferences()
    except (OSError, UnicodeDecodeError) as error:
        raise FleetlensError(
            f"the preferences can't be read: {error}", where=str(path), do="give a TOML file in UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise FleetlensError(
            f"the preferences are no TOML: {error}", where=str(path), do="mend the line it names"
        ) from None
    where = str(path)
    _known(found, [*_TABLES, "component"], where, "table")
    components = _table(found, "component", where)
    return Preferences(
        **{name: _filled(kind, _table(found, name, where), f"{where}, [{name}]") for name, kind in _TABLES.items()},
        component={
            name: _filled(ComponentPrices, _table(components, name, where), f"{where}, [component.{name}]")
            for name in components
        },
        where=where,
        stated=frozenset(
            [f"{name}.{key}" for name in _TABLES for key in found.get(name, {})]
            + [f"component.{name}.{key}" for name, table in components.items() for key in table]
        ),
    )


def described() -> Iterator[tuple[str, str, str]]:
    """Every key that holds for all components: its table, its name and its meaning."""
    for table, kind in _TABLES.items():
        yield from ((table, each.name, each.metadata["meaning"]) for each in fields(kind))


def described_prices() -> Iterator[tuple[str, str]]:
    """Every key of one component's table: its name and its meaning."""
    yield from ((each.name, each.metadata["meaning"]) for each in fields(ComponentPrices))


def write_template(store: Path) -> Path:
    """Write the template into the folder of the store; the file. Raises FleetlensError where that can't be done."""
    path = Path(store) / FILE
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(template())
    except FileExistsError:
        raise FleetlensError("the preferences are there already", where=str(path), do="edit that file") from None
    except FileNotFoundError:
        raise FleetlensError("there is no such store", where=str(store), do="load your tables first") from None
    return path


def template() -> str:
    """A file with every key, its default and its meaning, all of them commented out."""
    lines = [
        "# What this workshop sets. Every key is optional; take the # away in front of those you set.",
        "# Amounts are in one currency, without signs. A decimal point, no thousands marks.",
    ]
    for name, kind in _TABLES.items():
        lines += ["", f"# [{name}]", *(_written(each) for each in fields(kind))]
    lines += ["", "# One such table for each component; its key as `fleetlens codes` and the pages show it."]
    lines += ["# [component.egr_valve]", *(_written(each) for each in fields(ComponentPrices))]
    return "\n".join(lines) + "\n"


_EXAMPLES: dict[str, Any] = {
    "currency": "EUR",
    "clean": 180.0,
    "replace": 420.0,
    "failure": 900.0,
    "clean_hours": 1.5,
    "replace_hours": 2.0,
    "warranty_months": 24,
    "warranty_km": 100_000.0,
}


def _written(key: Field[Any]) -> str:
    value = key.default if key.default is not None else _EXAMPLES[key.name]
    return f"# {key.name} = {_toml(value):<24} # {key.metadata['meaning']}"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return "[" + ", ".join(_toml(each) for each in value) + "]"
    return f'"{value}"' if isinstance(value, str) else f"{value}"


def _table(found: Mapping[str, Any], name: str, where: str) -> Mapping[str, Any]:
    table = found.get(name, {})
    if not isinstance(table, dict):
        raise FleetlensError(
            f"{name!r} must be a table, not {table!r}", where=where, do=f"write [{name}] above its keys"
        )
    return table


def _known(found: Mapping[str, Any], names: list[str], where: str, what: str) -> None:
    for name in found:
        if name not in names:
            near = difflib.get_close_matches(name, names, n=1)
            raise FleetlensError(
                f"there is no {what} {name!r}",
                where=where,
                do=f"did you mean {near[0]!r}?" if near else f"one of: {', '.join(names)}",
            )


def _filled(kind: type, found: Mapping[str, Any], where: str) -> Any:
    """The table as its dataclass, each value checked."""
    keys = {each.name: each for each in fields(kind) if each.default is not MISSING}
    _known(found, list(keys), where, "key")
    values = {}
    for name, value in found.items():
        try:
            values[name] = keys[name].metadata["check"](value)
        except ValueError as must:
            raise FleetlensError(f"{name} can't be {value!r}", where=where, do=f"give {must}") from None
    return kind(**values)
