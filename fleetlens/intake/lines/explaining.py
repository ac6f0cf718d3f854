"""A read line told in sentences, each with the words that it rests on."""

from fleetlens.intake.lines.found import Line
from fleetlens.vocabulary.codes import description
from fleetlens.vocabulary.components import label

__all__ = ["explain"]


def explain(line: Line) -> list[str]:
    """One sentence for each label of the line: codes, work done, work not done and why, causes and checks."""
    told = [_code(code.code, code.words) for code in line.codes]
    told += [f"Done: {one.action} of {label(one.component)}, from {one.words!r}." for one in line.done]
    told += [
        f"Not done ({one.why}): {one.action} of {label(one.component)}, from {one.words!r}." for one in line.not_done
    ]
    for cause in line.causes:
        place = f" on {label(cause.component)}" if cause.component else ""
        told.append(f"Cause: {cause.cause}{place}, from {cause.words!r}.")
    for check in line.checks:
        place = f" of {label(check.component)}" if check.component else ""
        value = "" if check.value is None else f", {check.value:g} {check.unit}"
        result = {True: ", passed", False: ", failed", None: ""}[check.passed]
        told.append(f"Check: {check.check}{place}{value}{result}, from {check.words!r}.")
    return told or ["Nothing that we have a word for."]


def _code(code: str, words: str) -> str:
    return f"Code {code} ({description(code) or 'not in our list'}), from {words!r}."
