"""Several rows of a table in one row of an export: codes listed in a cell, codes and actions told in a text.

What comes out carries `part`, the number within the row of the file, from 0; and `from_text` where a text told it.
"""

from collections.abc import Callable, Sequence

import polars as pl

from fleetlens.intake.lines.found import Found, Line
from fleetlens.vocabulary.components import label

__all__ = ["Read", "actions", "codes", "with_unstated"]

Read = Callable[[str], Line]

_DONE = pl.Struct({"component": pl.String, "action": pl.String, "cause": pl.String})
_LONGEST = 8_000  # characters of a text that are read
_ONCE = ("part_number", "part_grade", "quantity", "labour_h", "labour_cost", "parts_cost")  # on the first row only
_CHARGED = ("labour_h", "labour_cost", "parts_cost")
_WHOLE, _UNSTATED = "vehicle", "unstated"  # what is worked on and what is done, where nothing says so
_STEP = 100_000  # a line's second action is numbered so much higher, its third twice as much


def codes(rows: pl.DataFrame, texts: Sequence[pl.Series], read: Read, *, blank_too: bool) -> pl.DataFrame:
    """A row for each code: of the list in `code`, then of the texts, each code once for a row of the file.

    `rows`: row, job_id, code (a list of texts, null: none), status. `blank_too`: a row without a code is one too.
    """
    keys = rows.select("row", "job_id")
    recorded = rows.explode("code").with_columns(from_text=pl.lit(None, dtype=pl.String))
    recorded = recorded if blank_too else recorded.drop_nulls("code")
    told = [
        keys.with_columns(code=_by_text(text, lambda line: [_spelt(code) for code in line.codes], pl.String, read))
        .explode("code")
        .drop_nulls("code")
        .with_columns(status=pl.lit(None, dtype=pl.String), from_text=pl.lit("true"))
        for text in texts
    ]
    columns = ("row", "job_id", "code", "status", "from_text")
    found = pl.concat([one.select(columns) for one in (recorded, *told)])
    found = found.unique(["row", "code"], keep="first", maintain_order=True).sort("row", maintain_order=True)
    return _parted(found)


def actions(rows: pl.DataFrame, text: pl.Series | None, recorded: pl.Series, read: Read) -> tuple[pl.DataFrame, int]:
    """A row for each action, and how many texts told none and were no row otherwise.

    `rows`: row, job_id and the columns of job_actions. A row with component and action stands as it is; else what
    `text` says was done fills it, one row for each. `recorded`: whether a row holds more than a text; without a
    word of what was done it stays, for the rules to judge.
    """
    whole = rows["component"].is_not_null() & rows["action"].is_not_null()
    if text is None:
        return _parted(rows.filter(recorded).with_columns(from_text=pl.lit(None, dtype=pl.String))), 0
    text = text.set(whole, None)
    done = _by_text(text, _done, _DONE, read)
    named = _with_component(rows["component"], text, done)
    if named.null_count() < len(named):
        done = pl.select(pl.coalesce(done, _by_text(named, _done, _DONE, read))).to_series()
    several = done.list.len().fill_null(0)
    unread = text.is_not_null() & ~whole & ~recorded & (several == 0)
    rows = (
        rows.with_columns(done=done, several=several).filter((recorded | (several > 0)).alias("kept")).explode("done")
    )
    told = pl.col("done").is_not_null()
    first = pl.int_range(pl.len()).over("row") == 0
    filled = [
        pl.when(told & (pl.col("several") > 1))
        .then(pl.col("done").struct.field(name))
        .otherwise(pl.coalesce(name, pl.col("done").struct.field(name)))
        .alias(name)
        for name in ("component", "action", "cause")
    ]
    once = [pl.when(first).then(name).alias(name) for name in _ONCE]
    rows = rows.with_columns(*filled, *once, from_text=pl.when(told).then(pl.lit("true")))
    parted = _parted(rows.drop("done", "several"))
    if "line" in parted.columns:
        parted = parted.with_columns(line=_numbered(pl.col("line"), pl.col("part")))
    return parted, int(unread.sum())


def with_unstated(rows: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """The rows of job_actions; where hours or money stand and nothing says what was done, it is unstated; how many.

    Without a component it belongs to the whole vehicle. A row that names an action but no component stays as it is.
    """
    charged = [name for name in _CHARGED if name in rows.columns]
    if not charged or not {"component", "action"} <= set(rows.columns):
        return rows, 0
    silent = pl.col("action").is_null() | (pl.col("action") == _UNSTATED)
    silent &= pl.any_horizontal(pl.col(charged).is_not_null())
    told = rows.with_columns(
        action=pl.when(silent).then(pl.lit(_UNSTATED)).otherwise("action"),
        component=pl.when(silent).then(pl.col("component").fill_null(_WHOLE)).otherwise("component"),
    )
    return told, rows.filter(silent).height


def _numbered(line: pl.Expr, part: pl.Expr) -> pl.Expr:
    """The number of each action of a line: the line's own for its first, for the others one that no line has.

    It hangs on nothing but the line and the action's place in it, so that the same line read again takes its place.
    """
    number = line.cast(pl.Int64, strict=False)
    further = pl.when(number.is_between(0, _STEP - 1)).then((number + part * _STEP).cast(pl.String))
    return pl.when(part == 0).then(line).otherwise(further)


def _with_component(component: pl.Series, text: pl.Series, done: pl.Series) -> pl.Series:
    """Texts that tell nothing done by themselves, behind the component that their row names; null for all others."""
    alone = text.is_not_null() & component.is_not_null() & done.is_null()
    labels = {name: label(name) for name in component.filter(alone).unique()}
    named = component.set(~alone, None).replace(labels)
    return pl.select(pl.concat_str(named, pl.lit(" "), text)).to_series()


def _by_text(texts: pl.Series, answer: Callable[[Line], list], kind: pl.DataType | type, read: Read) -> pl.Series:  # type: ignore[type-arg]
    """For each text the list that `answer` makes of its line; each different text is read once."""
    name = pl.Series("text", texts.cast(pl.String))
    distinct = name.drop_nulls().unique()
    told = pl.DataFrame(
        {"text": distinct, "told": [answer(read(text[:_LONGEST])) or None for text in distinct]},
        schema={"text": pl.String, "told": pl.List(kind)},
    )
    return name.to_frame().join(told, on="text", how="left", maintain_order="left")["told"]


def _done(line: Line) -> list[dict[str, str | None]]:
    """What a line says was done, each with the cause found on the same component."""
    parts = {done.component for done in line.done}
    causes: dict[str, str] = {}
    for cause in line.causes:
        of = cause.component or (next(iter(parts)) if len(parts) == 1 else None)
        if of is not None:
            causes.setdefault(of, cause.cause)
    pairs = dict.fromkeys((done.component, done.action) for done in line.done)
    return [{"component": part, "action": action, "cause": causes.get(part)} for part, action in pairs]


def _spelt(code: Found) -> str:
    return f"{code.code}-{code.failure_type}" if code.failure_type else code.code


def _parted(rows: pl.DataFrame) -> pl.DataFrame:
    """The rows numbered within their row of the file; texts of bounded length never give more than merge.PARTS."""
    return rows.with_columns(part=pl.int_range(pl.len()).over("row"))
