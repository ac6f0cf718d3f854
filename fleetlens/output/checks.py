"""What checking files found, for people: the rows of each file, and each broken rule with examples."""

from typing import Any

from rich.console import Console
from rich.text import Text

from fleetlens.findings.refusals import with_examples
from fleetlens.intake.report import LoadReport
from fleetlens.output.columns import Column
from fleetlens.output.loads import show_files, show_notes
from fleetlens.output.terminal import tables
from fleetlens.output.words import harmless, say

__all__ = ["broken_rules", "show_check"]


def broken_rules(report: LoadReport) -> list[dict[str, Any]]:
    """The rules that rows broke, the commonest first: rule, table_name, column, rows, and a few examples.

    A row that broke a rule in two columns counts for each.
    """
    return with_examples(report.refusals, "path", "row", "value", "reason").to_dicts()


def show_check(report: LoadReport, console: Console) -> None:
    """Print the files, the broken rules with examples, and what was noted."""
    show_files(report, console)
    rules = broken_rules(report)
    if rules:
        console.print(Text("\nRules that rows broke", style="bold"))
        for table in tables(_columns(rules), console.width):
            console.print(table)
    show_notes(report, console, "Nothing was written: this was a check.")


def _columns(rules: list[dict[str, Any]]) -> list[Column]:
    return [
        Column("Table, column", tuple(_where(one) for one in rules), key=True),
        Column("Rule", tuple(one["rule"].replace("_", " ") for one in rules)),
        Column("Rows", tuple(say(one["rows"]) for one in rules), right=True),
        Column("Examples", tuple("\n".join(_example(example) for example in one["examples"]) for one in rules)),
    ]


def _where(rule: dict[str, Any]) -> str:
    return ", ".join(part for part in (rule["table_name"], rule["column"]) if part)


def _example(example: dict[str, Any]) -> str:
    return f"row {example['row']:,}: {harmless(example['reason'])}"
