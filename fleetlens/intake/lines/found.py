"""What is read in a job line: each label with the exact words that gave it."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Cause", "Check", "Done", "Found", "Line", "NotDone", "Why"]

Why = Literal[
    "advised",
    "quoted",
    "declined",
    "deferred",
    "negated",
    "credited",
    "others",
    "last time",
    "failed",
    "on trial",
    "said by others",
    "asked",
]


@dataclass(frozen=True, slots=True)
class Found:
    """A fault code, tidy, and the stretch `start` to `end` of the text whose `words` gave it."""

    code: str
    words: str
    start: int
    end: int
    failure_type: str | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """An action done to a component."""

    component: str
    action: str
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class NotDone:
    """An action that the line names and that this job didn't do, and why not."""

    component: str
    action: str
    why: Why
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Cause:
    """What was found wrong, by a key of our list of causes; `component` None where the line doesn't tell."""

    cause: str
    component: str | None
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Check:
    """A check or a measurement: `value` in `unit` and `passed` where the line tells them, else None."""

    check: str
    component: str | None
    value: float | None
    unit: str | None
    passed: bool | None
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Line:
    """All that was read in one line of text."""

    text: str
    codes: tuple[Found, ...] = ()
    done: tuple[Done, ...] = ()
    not_done: tuple[NotDone, ...] = ()
    causes: tuple[Cause, ...] = ()
    checks: tuple[Check, ...] = ()
