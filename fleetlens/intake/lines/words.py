"""The words that job lines are read with: our own lists, and a fleet's own file on top."""

import tomllib
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any

from fleetlens.errors import FleetlensError
from fleetlens.vocabulary import lists
from fleetlens.vocabulary.actions import actions
from fleetlens.vocabulary.codes import description, normalise
from fleetlens.vocabulary.components import components, label

__all__ = ["FILE_NAME", "Words", "load_words"]

FILE_NAME = "words.toml"  # in the folder of the store

_TABLES = ("components", "actions", "codes", "causes")
_REMEDY = "see the section 'Reading job lines' of the README for the shape of the file"


@dataclass(frozen=True, slots=True)
class Words:
    """Ways of writing, by key: components, actions, causes and checks, and the small words that govern them.

    `roles` holds (role, key, words) of the closed classes of line_words.csv; `labels` and `codes` what a fleet's
    own file adds: the labels of its components and causes, and the descriptions of its codes. `added` are the phrases
    of that file with their kind (C part, A action, K cause) and key; they win over all others.
    """

    components: dict[str, tuple[str, ...]]
    actions: dict[str, tuple[str, ...]]
    causes: dict[str, tuple[str, ...]]
    checks: dict[str, tuple[str, ...]]
    roles: tuple[tuple[str, str, tuple[str, ...]], ...]
    labels: dict[str, str] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    added: tuple[tuple[str, str, str], ...] = ()

    def label(self, key: str) -> str:
        """The name for people of a component or a cause: the fleet's own, else ours, else the key."""
        return self.labels.get(key) or label(key)

    def description(self, code: str) -> str | None:
        """What a code means: in the fleet's own words, else in ours; None where neither says."""
        return self.codes.get(code) or description(code)


def load_words(path: Path | None = None) -> Words:
    """Our own words, with those of the TOML file at `path` added; the same spelling in both is the file's.

    The file may hold [components.KEY] with label and synonyms, [actions.KEY] with verbs (KEY an action we know),
    [causes.KEY] with label and words, [codes.P1234] with description.
    Raises FleetlensError, naming file, key, value and remedy, for what can't be read.
    """
    own = _own_words()
    return own if path is None else _with_file(own, path)


@cache
def _own_words() -> Words:
    roles = [(row["role"], row["key"], _split(row["words"])) for row in lists.rows("line_words")]
    return Words(
        components={
            name: component.synonyms + _of(roles, "component", name) for name, component in components().items()
        },
        actions={name: action.verbs + _of(roles, "action", name) for name, action in actions().items()},
        causes={row["cause"]: _split(row["words"]) for row in lists.rows("causes")},
        checks={row["check"]: _split(row["words"]) for row in lists.rows("checks")},
        roles=tuple(row for row in roles if row[0] not in ("component", "action")),
        labels={row["cause"]: row["label"] for row in lists.rows("causes")},
    )


def _split(text: str) -> tuple[str, ...]:
    return tuple(part for part in text.split("|") if part)


def _of(roles: list[tuple[str, str, tuple[str, ...]]], role: str, key: str) -> tuple[str, ...]:
    return tuple(word for kind, name, words in roles if (kind, name) == (role, key) for word in words)


def _with_file(own: Words, path: Path) -> Words:
    try:
        told = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise FleetlensError("there is no such file of words", where=str(path), do="check the path") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FleetlensError(f"this file of words is no TOML: {error}", where=str(path), do=_REMEDY) from None
    except OSError as error:
        raise FleetlensError(
            f"this file of words can't be read: {error}", where=str(path), do="check the path"
        ) from None
    _only(told, _TABLES, path, "the file")
    labels, codes = dict(own.labels), dict(own.codes)
    added: list[tuple[str, str, str]] = []
    for key, entry in _entries(told, "components", path):
        _only(entry, ("label", "synonyms"), path, f"[components.{key}]")
        told_words = _list(entry, "synonyms", path, f"[components.{key}]")
        added += [("C", key, spelt) for spelt in (key.replace("_", " "), *told_words)]
        labels |= _label(entry, key, path, f"[components.{key}]")
    for key, entry in _entries(told, "actions", path):
        if key not in own.actions:
            raise FleetlensError(
                f"no action is called {key!r}", where=f"{path}, [actions.{key}]", do=f"one of {', '.join(own.actions)}"
            )
        _only(entry, ("verbs",), path, f"[actions.{key}]")
        added += [("A", key, spelt) for spelt in _list(entry, "verbs", path, f"[actions.{key}]")]
    for key, entry in _entries(told, "causes", path):
        _only(entry, ("label", "words"), path, f"[causes.{key}]")
        added += [("K", key, spelt) for spelt in _list(entry, "words", path, f"[causes.{key}]")]
        labels |= _label(entry, key, path, f"[causes.{key}]")
    for key, entry in _entries(told, "codes", path):
        code = normalise(key)
        if code is None or code.failure_type:
            raise FleetlensError(
                f"this is no fault code: {key!r}", where=f"{path}, [codes.{key}]", do="write it as P0401"
            )
        _only(entry, ("description",), path, f"[codes.{key}]")
        codes[code.code] = _text(entry.get("description"), path, f"[codes.{key}]", "description")
    return replace(own, labels=labels, codes=codes, added=tuple(added))


def _only(entry: dict[str, Any], known: tuple[str, ...], path: Path, place: str) -> None:
    for key in entry:
        if key not in known:
            raise FleetlensError(f"{place} can't hold {key!r}", where=str(path), do=f"one of {', '.join(known)}")


def _entries(told: dict[str, Any], table: str, path: Path) -> list[tuple[str, dict[str, Any]]]:
    entries = told.get(table, {})
    if not isinstance(entries, dict) or not all(isinstance(entry, dict) for entry in entries.values()):
        raise FleetlensError(f"[{table}] must hold tables of its own", where=str(path), do=f"write [{table}.KEY]")
    return list(entries.items())


def _list(entry: dict[str, Any], key: str, path: Path, place: str) -> tuple[str, ...]:
    values = entry.get(key, [])
    if not isinstance(values, list):
        raise FleetlensError(f"{key} = {values!r} is no list", where=f"{path}, {place}", do=f'{key} = ["...", "..."]')
    return tuple(_text(value, path, place, key) for value in values)


def _text(value: object, path: Path, place: str, key: str) -> str:
    if not isinstance(value, str) or not any(sign.isalnum() for sign in value):
        raise FleetlensError(f"{key} holds {value!r}, which is no word", where=f"{path}, {place}", do="write text")
    return value


def _label(entry: dict[str, Any], key: str, path: Path, place: str) -> dict[str, str]:
    return {key: _text(entry["label"], path, place, "label")} if "label" in entry else {}
