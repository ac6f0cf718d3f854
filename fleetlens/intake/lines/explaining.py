"""A read line told in sentences, each with the words that it rests on."""

from fleetlens.intake.lines.found import Line
from fleetlens.intake.lines.words import Words

__all__ = ["explain"]


def explain(line: Line, words: Words) -> list[str]:
    """One sentence for each label of the line: codes, work done, work not done and why, causes and checks.

    Components, causes and codes are called what `words`, with which the line was read, calls them.
    """
    name = words.label
    told = [
        f"Code {code.code} ({words.description(code.code) or 'not in our list'}), from {code.words!r}."
        for code in line.codes
    ]
    told += [f"Done: {one.action} of {name(one.component)}, from {one.words!r}." for one in line.done]
    told += [
        f"Not done ({one.why}): {one.action} of {name(one.component)}, from {one.words!r}." for one in line.not_done
    ]
    for cause in line.causes:
        place = f" on {name(cause.component)}" if cause.component else ""
        told.append(f"Cause: {name(cause.cause)}{place}, from {cause.words!r}.")
    for check in line.checks:
        place = f" of {name(check.component)}" if check.component else ""
        value = "" if check.value is None else f", {check.value:g} {check.unit}"
        result = {True: ", passed", False: ", failed", None: ""}[check.passed]
        told.append(f"Check: {check.check}{place}{value}{result}, from {check.words!r}.")
    return told or ["Nothing that we have a word for."]
