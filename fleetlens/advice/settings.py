"""What this workshop has set, what was learned from its jobs instead, and what holds by default."""

import difflib
from collections.abc import Iterator
from typing import Any

import polars as pl

from fleetlens.advice.costs import costs, preferences_of
from fleetlens.findings import evidence
from fleetlens.findings.filters import Filters, choices
from fleetlens.findings.finding import Finding
from fleetlens.store.preferences import FILE, Preferences, described, described_prices
from fleetlens.store.reader import Snapshot

__all__ = ["settings"]

METHOD = (
    f"Each key of {FILE} in the folder of the store: as the file sets it, else as learned from the store's own jobs, "
    "else the default."
)


def settings(snapshot: Snapshot) -> Finding:
    """Every preference with its value, where that comes from, and its meaning.

    Of components, those that the record has seen cleaned and those that the file names. Raises FleetlensError as
    preferences.read does.
    """
    preferences = preferences_of(snapshot)
    schema = dict.fromkeys(("setting", "set_to", "set_by", "meaning"), pl.String)
    known = choices(snapshot)["component"]
    unknown = [name for name in preferences.component if name not in known]
    return Finding(
        question="settings",
        rows=pl.DataFrame([*_general(preferences), *_of_components(snapshot, preferences)], schema=schema),
        method=METHOD,
        period=evidence.period(snapshot),
        snapshot=snapshot.name,
        notes=(
            *((f"The file is {preferences.where}.",) if preferences.where else (f"There is no {FILE} yet.",)),
            *(_nowhere(name, known) for name in unknown),
        ),
    )


def _general(preferences: Preferences) -> Iterator[dict[str, str | None]]:
    for table, key, meaning in described():
        name = f"{table}.{key}"
        source = f"set in {FILE}" if name in preferences.stated else "default"
        yield _row(name, _value(getattr(getattr(preferences, table), key)), source, meaning)


def _of_components(snapshot: Snapshot, preferences: Preferences) -> Iterator[dict[str, str | None]]:
    seen = snapshot.frame("findings/cleaned_components")["component"].to_list()
    names = sorted({*seen, *preferences.component})
    learned = costs(snapshot, names, Filters(), preferences).sources
    for component in names:
        own = {row["figure"]: row for row in learned.filter(pl.col("component") == component).iter_rows(named=True)}
        for key, meaning in described_prices():
            name = f"component.{component}.{key}"
            if name in preferences.stated:
                yield _row(name, _value(getattr(preferences.prices(component), key)), f"set in {FILE}", meaning)
            elif key in own:
                value, told = own[key]["value"], own[key]["told"]
                source = told if value is None else "learned: " + told.split(", ", 1)[-1]
                yield _row(name, None if value is None else f"{value:,.2f}", source, meaning)
            else:
                yield _row(name, None, "not set", meaning)


def _row(setting: str, value: str | None, source: str, meaning: str) -> dict[str, str | None]:
    return {"setting": setting, "set_to": value, "set_by": source, "meaning": meaning}


def _value(value: Any) -> str | None:
    if isinstance(value, tuple):
        return ", ".join(str(each) for each in value) or "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return None if value is None else f"{value:,.10g}" if isinstance(value, int | float) else str(value)


def _nowhere(name: str, known: list[str]) -> str:
    near = difflib.get_close_matches(name, known, n=1)
    hint = f"; did you mean {near[0]!r}?" if near else ""
    return f"[component.{name}]: no job of this store names this component{hint}"
