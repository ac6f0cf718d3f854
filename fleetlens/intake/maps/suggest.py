"""A column map suggested from the names of a file's columns and their contents, with the evidence in words."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date

import polars as pl

from fleetlens.errors import FleetlensError
from fleetlens.intake.maps import fitting, settling
from fleetlens.intake.maps.column_map import UNDECIDED, ColumnMap
from fleetlens.intake.maps.contents import Contents, look
from fleetlens.intake.maps.fitting import Candidate
from fleetlens.intake.maps.keys import Seen, Settled, settle
from fleetlens.intake.maps.tabling import lay_out
from fleetlens.intake.readers.sheet import Sheet

__all__ = ["Choice", "Suggestion", "suggest"]

SAMPLE = 20_000  # rows looked at; more only where they leave a question open
_TEXTS = ("note", "complaint")
_KEPT_SHARE = 0.2  # of the jobs in which a column that belongs to the job may differ from line to line
_LINE_SHARE = 0.02  # the same, of columns that are readily given by line
_TELLING_JOBS = {"job_id", "closed_at", "reason", "complaint", "code", "action", "component", "note", "odometer"}
_GIVEN_BY_LINE = ("technician", "workshop", "complaint", "downtime_h")


@dataclass(frozen=True, slots=True)
class Choice:
    """One column of the file: what it is taken for (table.column, none: left aside), how surely (0 to 1), and why."""

    column: str
    ours: tuple[str, ...]
    confidence: float
    evidence: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A map that may be right, the evidence for each column, what was concluded, and the questions left open.

    A question begins with the key of the map that takes the answer.
    """

    column_map: ColumnMap
    choices: tuple[Choice, ...]
    conclusions: tuple[str, ...]
    questions: tuple[str, ...]


def suggest(sheet: Sheet, today: date, known_vehicles: Collection[str] = ()) -> Suggestion:
    """Suggest a map for one sheet. `known_vehicles`: the vehicles that the store holds already.

    Raises FleetlensError where the sheet has no rows, or nothing in it was recognised.
    """
    sample = _sample(sheet)
    if not sample.height:
        raise FleetlensError("there are no rows to look at", where=sheet.name, do="give a file with some rows")
    seen = {name: look(sample[name], today) for name in sheet.columns}
    grouped = fitting.groups(sheet.columns)
    taken = fitting.assign({name: fitting.candidates(name, seen[name], grouped) for name in sheet.columns})
    if grown := settling.growing(taken, sample, seen):
        taken[grown[0]] = grown[1]
    _drop_guessed_day(taken, sample)
    if numbered := settling.numbering(taken, sample, seen):
        taken[numbered[0]] = numbered[1]
    if beside := settling.beside_unit(taken, seen):
        taken[beside[0]] = beside[1]
    taken |= settling.texts_told(taken, sample, seen)
    taken |= settling.leaving(taken, sample, seen, today)
    notes = _by_line(taken, sample)
    if settling.lines_repeat(taken, sample):
        name = settling.column_of(taken, "line")
        del taken[name]
        notes.append(f"{name!r} has one number on several rows of a job: no number of a line, left aside")
    columns = {candidate.ours: name for name, candidate in taken.items()}
    if not columns:
        raise FleetlensError(
            f"none of the columns was recognised: {', '.join(map(repr, sheet.columns[:8]))}",
            where=sheet.name,
            do="write a map by hand, or name the columns as our tables do",
        )
    layout = lay_out(columns, _code_in_text(columns, seen), _known(columns, sample, known_vehicles))
    once = settling.given_once(taken, sample) if layout.kind == "wide" else ""
    known = Seen(sheet, sample, seen, today)
    settled = {
        table: {ours: settle(table, ours, origin, known) for ours, origin in mine.items()}
        for table, mine in layout.tables.items()
    }
    settled = _one_decimal_mark(settled)
    made = ColumnMap(
        name=sheet.path.stem + (f" {sheet.part}" if sheet.part else ""),
        kind=layout.kind,
        header=sheet.columns,
        tables={table: {ours: one.origin for ours, one in mine.items()} for table, mine in settled.items()},
        sheet=sheet.part,
        first_row_only=bool(once),
        ignore=(),
        where=f"the map suggested for {sheet.name}",
    )
    used = set(made.columns)
    made = replace(made, ignore=tuple(name for name in sheet.columns if name not in used))
    asked = [question for mine in settled.values() for one in mine.values() for question in one.questions]
    return Suggestion(
        column_map=made,
        choices=tuple(_choice(name, made, taken, seen, settled) for name in sheet.columns),
        conclusions=tuple(dict.fromkeys((*layout.conclusions, *([once] if once else []), *notes))),
        questions=tuple(dict.fromkeys(asked)),
    )


def _sample(sheet: Sheet) -> pl.DataFrame:
    """The first rows of the sheet, all columns."""
    batches, rows = [], 0
    for batch in sheet.read(None):
        batches.append(batch.rows)
        rows += batch.rows.height
        if rows >= SAMPLE:
            break
    return pl.concat(batches).head(SAMPLE) if batches else pl.DataFrame()


def _one_decimal_mark(settled: dict[str, dict[str, Settled]]) -> dict[str, dict[str, Settled]]:
    """A system writes all its numbers with one mark: where some columns decide for one, it settles the others."""
    marks = {one.origin.decimal for mine in settled.values() for one in mine.values()} - {"", UNDECIDED}
    if len(marks) != 1:
        return settled
    mark = marks.pop()
    why = f"decimal {'comma' if mark == ',' else 'point'}, as in the other columns of this file"

    def same_mark(one: Settled) -> Settled:
        if one.origin.decimal != UNDECIDED or "and none of the" not in "".join(one.questions):
            return one
        return Settled(replace(one.origin, decimal=mark), (*one.evidence, why))

    return {table: {ours: same_mark(one) for ours, one in mine.items()} for table, mine in settled.items()}


def _drop_guessed_day(taken: dict[str, Candidate], sample: pl.DataFrame) -> None:
    """A date without a known name makes no job of a row that is else a vehicle: each vehicle stands there once."""
    day = settling.column_of(taken, "opened_at")
    vehicle = settling.vehicle_of(taken)
    of_jobs = {candidate.ours for candidate in taken.values()} & _TELLING_JOBS
    if (
        day
        and taken[day].confidence <= fitting.GUESSED
        and vehicle
        and not of_jobs
        and sample[vehicle].is_unique().all()
    ):
        del taken[day]


def _by_line(taken: dict[str, Candidate], sample: pl.DataFrame) -> list[str]:
    """Leave aside what should belong to the job and differs from line to line; say so."""
    said = []
    for ours, share in settling.within_jobs(taken, sample).items():
        if share <= (_LINE_SHARE if ours in _GIVEN_BY_LINE else _KEPT_SHARE):
            continue
        name = settling.column_of(taken, ours)
        candidate = taken.pop(name)
        if ours == "complaint" and not settling.column_of(taken, "note"):
            why = "it differs from line to line of a job: the text of the line"
            taken[name] = replace(candidate, ours="note", evidence=(*candidate.evidence, why))
        else:
            said.append(f"{name!r} differs between the lines of {100 * share:.0f} % of the jobs: no {ours}, left aside")
    return said


def _code_in_text(columns: Mapping[str, str], seen: Mapping[str, Contents]) -> frozenset[str]:
    return frozenset(ours for ours in _TEXTS if ours in columns and seen[columns[ours]].codes > 0)


def _known(columns: Mapping[str, str], sample: pl.DataFrame, known_vehicles: Collection[str]) -> bool:
    """Whether the store holds most of the vehicles that the file names."""
    if "vehicle_id" not in columns or not known_vehicles:
        return False
    named = sample[columns["vehicle_id"]].str.strip_chars().drop_nulls().unique()
    return len(named) > 0 and float(named.is_in(list(known_vehicles)).mean() or 0) > 0.5  # type: ignore[arg-type] # a share of booleans


def _choice(
    name: str,
    made: ColumnMap,
    taken: Mapping[str, Candidate],
    seen: Mapping[str, Contents],
    settled: Mapping[str, Mapping[str, Settled]],
) -> Choice:
    """What became of one column."""
    uses = [
        (f"{table}.{ours}", settled[table][ours].evidence)
        for table, mine in made.tables.items()
        for ours, origin in mine.items()
        if name in origin.columns
    ]
    candidate = taken.get(name)
    if uses:
        more = dict.fromkeys(line for _, evidence in uses for line in evidence)
        evidence = candidate.evidence if candidate else ()
        return Choice(
            name, tuple(key for key, _ in uses), candidate.confidence if candidate else 0.5, (*evidence, *more)
        )
    if candidate:
        return Choice(name, (), 0.0, (*candidate.evidence, f"looks like {candidate.ours}, which has no place here"))
    what = f"such as {seen[name].examples[0][:40]!r}" if seen[name].filled else "empty"
    return Choice(name, (), 0.0, (f"not recognised by its name or its values, {what}",))
