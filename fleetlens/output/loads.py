"""What a load did, for people: the rows of each file, and why rows were refused."""

from rich.console import Console
from rich.text import Text

from fleetlens.intake.report import FileReport, LoadReport
from fleetlens.output.columns import Column
from fleetlens.output.terminal import tables
from fleetlens.output.words import harmless, say

MOST_REFUSALS = 20
COUNTS = ("rows_in", "accepted", "repeated", "refused", "replaced")


def show_load(report: LoadReport, console: Console, *, dry_run: bool = False) -> None:
    """Print the report. Values of the files are shown as they are, never as markup."""
    show_files(report, console)
    if report.refusals.height:
        console.print(Text("\nRefused", style="bold"))
        for table in tables(_refusals(report), console.width):
            console.print(table)
        if report.refusals.height > MOST_REFUSALS:
            rest = f"{MOST_REFUSALS} of {report.refusals.height:,} reasons shown; --json gives all."
            console.print(Text(rest))
    show_notes(report, console, _end(report, dry_run))


def show_files(report: LoadReport, console: Console) -> None:
    """Print the rows of each file, and of all."""
    for table in tables(_files(report), console.width):
        console.print(table)


def show_notes(report: LoadReport, console: Console, end: str) -> None:
    """Print what was noted, and how it ended."""
    console.print(Text("".join(f"\n{harmless(note)}" for note in (*report.notes, end))))


def _end(report: LoadReport, dry_run: bool) -> str:
    if dry_run:
        return "A trial: the store is as it was."
    if report.published:
        return f"The store shows {report.snapshot} from now on."
    return "Nothing new: the store is as it was."


def _files(report: LoadReport) -> list[Column]:
    all_: tuple[FileReport | LoadReport, ...] = (*report.files, report)
    return [
        Column("File", (*(harmless(file.path.name) for file in report.files), "in all"), key=True),
        Column("Table", (*(file.table for file in report.files), "")),
        *(
            Column(name.replace("_", " ").capitalize(), tuple(say(getattr(one, name)) for one in all_), right=True)
            for name in COUNTS
        ),
    ]


def _refusals(report: LoadReport) -> list[Column]:
    first = report.refusals.head(MOST_REFUSALS)
    places = first.select("path", "row", "column").rows()
    return [
        Column("File, row, column", tuple(_place(*place) for place in places), key=True),
        Column("Value", tuple("" if value is None else repr(harmless(value)) for value in first["value"].to_list())),
        Column("Reason", tuple(harmless(reason) for reason in first["reason"].to_list())),
    ]


def _place(path: str, row: int, column: str) -> str:
    name = harmless(path.replace("\\", "/").rpartition("/")[2])
    return ", ".join(part for part in (name, f"row {row:,}", column and harmless(column)) if part)
