"""Job lines as read, for people: each line with the words that gave a label marked, and the labels beside it."""

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from fleetlens.intake.lines.found import Line
from fleetlens.intake.lines.words import Words
from fleetlens.output.words import harmless

__all__ = ["show_lines"]

MOST_LINES = 100
_CODE, _DONE, _NOT_DONE = "bold cyan", "bold green", "yellow"


def show_lines(lines: Sequence[Line], words: Words, console: Console) -> None:
    """Print the lines with what was read in them, named as `words` names it.

    Text of the workshop is shown as it is, never as markup.
    """
    table = Table(box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False)
    for heading, share in (("Row", None), ("Line", 1), ("What it says, from which words", 1)):
        table.add_column(heading, ratio=share, justify="right" if share is None else "left", overflow="fold")
    for row, line in enumerate(lines[:MOST_LINES], 1):
        table.add_row(f"{row:,}", _marked(line), _labels(line, words))
    console.print(table)
    if len(lines) > MOST_LINES:
        console.print(Text(f"{MOST_LINES:,} of {len(lines):,} lines; --json gives all."))
    pairs, codes = sum(len(line.done) for line in lines), sum(len(line.codes) for line in lines)
    silent = sum(not (line.done or line.codes or line.not_done) for line in lines)
    console.print(
        Text(f"\n{len(lines):,} lines: {codes:,} codes, {pairs:,} actions done, {silent:,} lines say neither.")
    )


def _marked(line: Line) -> Text:
    """The text with the words of codes, of work done and of work not done each in their style."""
    styles = [""] * len(line.text)
    stretches = [(one.start, one.end, _NOT_DONE) for one in line.not_done]
    stretches += [(one.start, one.end, _DONE) for one in line.done]
    stretches += [(one.start, one.end, _CODE) for one in line.codes]
    for first, end, style in stretches:
        styles[first:end] = [style] * (end - first)
    shown = Text()
    start = 0
    for at in range(1, len(styles) + 1):
        if at == len(styles) or styles[at] != styles[start]:
            part = line.text[start:at]
            kept = harmless(part)
            lead, trail = (" " if part[:1].isspace() else ""), (" " if part[-1:].isspace() and kept else "")
            shown.append(f"{lead}{kept}{trail}", styles[start])
            start = at
    return shown


def _labels(line: Line, words: Words) -> Text:
    def name(key: str) -> str:
        return harmless(words.label(key))

    shown = Text()
    for code in line.codes:
        shown.append(f"{code.code}", _CODE).append(f"  “{harmless(code.words)}”\n")
    for done in line.done:
        shown.append(f"{name(done.component)}: {done.action}", _DONE).append(f"  “{harmless(done.words)}”\n")
    for one in line.not_done:
        shown.append(f"not done ({one.why}) {name(one.component)}: {one.action}", _NOT_DONE)
        shown.append(f"  “{harmless(one.words)}”\n")
    for cause in line.causes:
        place = f" on {name(cause.component)}" if cause.component else ""
        shown.append(f"cause: {name(cause.cause)}{place}  “{harmless(cause.words)}”\n")
    shown.rstrip()
    return shown or Text("–")
