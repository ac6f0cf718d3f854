"""What several columns say together: which is the vehicle, which the odometer, what belongs to a line of a job."""

from collections.abc import Mapping
from datetime import date
from typing import cast

import polars as pl

from fleetlens.intake.maps.contents import Contents
from fleetlens.intake.maps.fitting import GUESSED, Candidate
from fleetlens.intake.values import date_evidence, dates
from fleetlens.intake.values.text import dittos, plain
from fleetlens.vocabulary.actions import actions

__all__ = [
    "beside_unit",
    "column_of",
    "given_once",
    "growing",
    "leaving",
    "lines_repeat",
    "numbering",
    "texts_told",
    "vehicle_of",
    "within_jobs",
]

_PER_JOB = ("technician", "workshop", "complaint", "downtime_h", "odometer", "closed_at", "reason")
_FALLS = 0.9  # of the steps of an odometer at least so many don't fall
_LEAST_STEPS = 8
_BY_CONTENTS = 0.55  # confidence of a text without a known name
_LONGEST_STAY = 60  # days, in the middle of a column of days on which the vehicle left
_NAMING_WORDS = 1.5  # words in a value that is a number or a name


def column_of(taken: Mapping[str, Candidate], ours: str) -> str:
    """The file's column that was taken for `ours`; "" where none was."""
    return next((name for name, candidate in taken.items() if candidate.ours == ours), "")


def vehicle_of(taken: Mapping[str, Candidate]) -> str:
    """The file's column that tells the vehicle; "" where none does."""
    return next((name for ours in ("vehicle_id", "registration", "vin") if (name := column_of(taken, ours))), "")


def growing(
    taken: Mapping[str, Candidate], sample: pl.DataFrame, seen: Mapping[str, Contents]
) -> tuple[str, Candidate] | None:
    """A column without a known name whose numbers grow with the date on each vehicle: an odometer."""
    vehicle = vehicle_of(taken)
    day = column_of(taken, "opened_at") or column_of(taken, "read_at")
    if not vehicle or not day or column_of(taken, "odometer"):
        return None
    free = [name for name in seen if name not in taken and seen[name].numbers > 0.8 and seen[name].dates < 0.5]
    best = max(((share, name) for name in free if (share := _growth(sample, vehicle, name)) >= _FALLS), default=None)
    if best is None:
        return None
    why = f"on each vehicle its numbers grow from row to row ({100 * best[0]:.0f} % of the steps)"
    return best[1], Candidate("odometer", 0.75, (why,))


def _growth(sample: pl.DataFrame, vehicle: str, name: str) -> float:
    """The share of the steps from row to row of a vehicle that rise, of those that change; in the better direction."""
    digits = sample[name].str.replace_all(r"[^\d]", "").cast(pl.Float64, strict=False)
    rows = pl.DataFrame({"vehicle": sample[vehicle], "number": digits}).drop_nulls()
    if rows.is_empty() or float(rows["number"].median() or 0) < 1_000:  # type: ignore[arg-type] # a median of numbers
        return 0.0
    step = rows.select(step=pl.col("number").diff().over("vehicle"))["step"].drop_nulls()
    step = step.filter(step != 0)
    if len(step) < _LEAST_STEPS:
        return 0.0
    rise = float((step > 0).mean() or 0.0)  # type: ignore[arg-type] # a share of booleans
    return max(rise, 1 - rise)


def numbering(
    taken: Mapping[str, Candidate], sample: pl.DataFrame, seen: Mapping[str, Contents]
) -> tuple[str, Candidate] | None:
    """A column without a known name whose values each go with one vehicle and one day: the number of the job."""
    vehicle, day = vehicle_of(taken), column_of(taken, "opened_at")
    if not vehicle or not day or column_of(taken, "job_id"):
        return None
    for name, contents in seen.items():
        text = contents.words_each < _NAMING_WORDS and contents.dates < 0.5 and contents.numbers < 1
        named = text or contents.whole == 1
        # Few values prove little; but the first column of a list is most often its number.
        few = contents.distinct < (2 if name == next(iter(seen)) else _LEAST_STEPS)
        if name in taken or not named or few:
            continue
        rows = sample.select(pl.Series(one, _filled_down(sample[one])) for one in (name, vehicle, day)).drop_nulls()
        each = rows.group_by(name).agg(pl.col(vehicle).n_unique(), pl.col(day).n_unique())
        visits = rows.select(vehicle, day).n_unique()
        single = each.filter((pl.col(vehicle) == 1) & (pl.col(day) == 1)).height
        if single == each.height and visits <= each.height <= 1.2 * visits:
            return name, Candidate("job_id", 0.7, ("each of its values goes with one vehicle and one day",))
    return None


def beside_unit(taken: Mapping[str, Candidate], seen: Mapping[str, Contents]) -> tuple[str, Candidate] | None:
    """A column of numbers without a known name that stands in one object with a unit of distance: the odometer."""
    unit = column_of(taken, "odometer_unit")
    if not unit or "." not in unit or column_of(taken, "odometer"):
        return None
    within = unit.rpartition(".")[0] + "."
    free = [name for name in seen if name.startswith(within) and name not in taken and seen[name].numbers > _FALLS]
    return (free[0], Candidate("odometer", 0.75, (f"numbers beside the unit {unit!r}",))) if len(free) == 1 else None


def texts_told(
    taken: Mapping[str, Candidate], sample: pl.DataFrame, seen: Mapping[str, Contents]
) -> dict[str, Candidate]:
    """Of two texts without known names, the one with more words of work says what was done, the other complains."""
    note = column_of(taken, "note")
    if not note or taken[note].confidence > _BY_CONTENTS or column_of(taken, "complaint"):
        return {}
    free = [name for name in seen if name not in taken and seen[name].words_each >= 2 and seen[name].dates < GUESSED]
    shares = {name: _work_words(sample[name]) for name in (note, *free)}
    best = max(shares, key=lambda name: shares[name])
    others = [name for name in shares if name != best]
    if not others or shares[best] == shares[others[0]]:
        return {}
    why = f"{100 * shares[best]:.0f} % of its texts name work, of {others[0]!r} {100 * shares[others[0]]:.0f} %"
    told = "the text beside the one that names the work"
    return {best: Candidate("note", 0.6, (why,)), others[0]: Candidate("complaint", GUESSED, (told,))}


def _work_words(texts: pl.Series) -> float:
    """The share of the texts that hold a word for work."""
    verbs = {verb for one in actions().values() if one.counts_as_done for verb in one.verbs if " " not in verb}
    filled = texts.drop_nulls().filter(texts.drop_nulls() != "").str.to_lowercase()
    words = filled.str.extract_all(r"[\p{L}']+")
    hits = words.list.eval(pl.element().is_in(list(verbs))).list.any()
    return float(hits.mean() or 0.0) if len(filled) else 0.0  # type: ignore[arg-type] # a share of booleans


def leaving(
    taken: Mapping[str, Candidate], sample: pl.DataFrame, seen: Mapping[str, Contents], today: date
) -> dict[str, Candidate]:
    """A date without a known name that never lies before the day a job was opened, nor far after: the day it closed.

    Where the day it was opened is a guess too, the earlier of the two is that.
    """
    opened = column_of(taken, "opened_at")
    if not opened or column_of(taken, "closed_at") or column_of(taken, "read_at"):
        return {}
    first = _days(sample[opened], today)
    for name, contents in seen.items():
        if name in taken or contents.dates < GUESSED or contents.filled < 2:
            continue
        days = cast("list[int]", (_days(sample[name], today) - first).dt.total_days().drop_nulls().to_list())
        if not days or sorted(map(abs, days))[len(days) // 2] > _LONGEST_STAY:
            continue
        if min(days) >= 0 < max(days):
            why = f"a date, on no row before that of {opened!r}"
            return {name: Candidate("closed_at", 0.6, (why,))}
        if max(days) <= 0 > min(days) and taken[opened].confidence <= GUESSED:
            early, late = f"a date, on no row after that of {opened!r}", f"a date, on no row before that of {name!r}"
            return {name: Candidate("opened_at", GUESSED, (early,)), opened: Candidate("closed_at", GUESSED, (late,))}
    return {}


def _days(texts: pl.Series, today: date) -> pl.Series:
    """The days of a column of dates, day first where its values don't decide; null where it can't be read."""
    form = date_evidence.evidence(texts, today).form or dates.DateForm(today, "day_first")
    return dates.clean(texts, form).values.str.slice(0, 10).str.to_date("%Y-%m-%d", strict=False)


def within_jobs(taken: Mapping[str, Candidate], sample: pl.DataFrame) -> dict[str, float]:
    """For what should be the same on all lines of a job: the share of jobs of several lines where it differs."""
    job = column_of(taken, "job_id")
    if not job:
        return {}
    rows = sample.with_columns(_filled_down(sample[job]).alias(job))
    found = {}
    for ours in _PER_JOB:
        name = column_of(taken, ours)
        if name:
            told = rows.with_columns(_without_marks(rows[name]).alias(name)) if name != job else rows
            each = told.drop_nulls([job, name]).group_by(job).agg(pl.len().alias("lines"), pl.col(name).n_unique())
            several = each.filter(pl.col("lines") > 1)
            found[ours] = float((several[name] > 1).mean() or 0.0) if several.height else 0.0  # type: ignore[arg-type] # a share of booleans
    return found


def lines_repeat(taken: Mapping[str, Candidate], sample: pl.DataFrame) -> bool:
    """Whether the column taken for the number of a line has one number on several rows of a job."""
    job, line = column_of(taken, "job_id"), column_of(taken, "line")
    if not job or not line:
        return False
    rows = sample.select(pl.Series("job", _filled_down(sample[job])), pl.col(line).alias("line")).drop_nulls()
    return bool(rows.is_duplicated().any()) and not bool(sample.drop("row", strict=False).is_duplicated().any())


def given_once(taken: Mapping[str, Candidate], sample: pl.DataFrame) -> str:
    """Why it seems that a job's columns stand on its first row only, in words; "" where they stand on each."""
    job, day = column_of(taken, "job_id"), column_of(taken, "opened_at")
    vehicle = vehicle_of(taken)
    named = [name for name in (job, vehicle, day) if name]
    if not named:
        return ""
    marks = sum(int(dittos(sample[name]).sum()) for name in named)
    if marks:
        return f"{marks:,} ditto marks stand in the columns that tell the job"
    lead = sample[named[0]]
    blank = [plain(sample[name]).is_null() for name in named]
    if job:
        again = plain(lead).is_null() | (plain(lead) == plain(lead).shift()).fill_null(False)
        others = blank[1:] or blank
    else:
        again, others = blank[0], blank
    lines = int(again.sum())
    missing = sum(int((again & one).sum()) for one in others) / (len(others) * lines) if lines else 0.0
    if lines and missing > 0.6:
        return f"on {lines:,} rows, the lines after a job's first, these columns are blank"
    return ""


def _filled_down(texts: pl.Series) -> pl.Series:
    return _without_marks(texts).forward_fill()


def _without_marks(texts: pl.Series) -> pl.Series:
    tidy = plain(texts)
    return tidy.set(dittos(tidy), None)
