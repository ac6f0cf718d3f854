"""A finding's rows as a plain table: nested columns spread out, each with words for people."""

import re

import polars as pl

from fleetlens.findings.columns import COLUMNS, ColumnText

_AT_DISTANCE = re.compile(r"(?P<what>survival|incidence)_(?P<km>[0-9.]+)_(?P<end>share|low|high)")
_AT = {"survival": "Surviving at", "incidence": "By"}
_ENDS = {"share": "", "low": ", lower limit", "high": ", upper limit"}


def flat(rows: pl.DataFrame) -> pl.DataFrame:
    """One column per figure.

    A struct `kinds` becomes `kinds_<field>`. The lists `survival` and `incidence` become `survival_<km>_share`,
    `_low` and `_high` for each distance that stands in any row. Other lists become text, joined by commas. NaN and
    infinity become null.
    """
    columns: list[pl.Series] = []
    for column in rows.get_columns():
        columns.extend(_spread(column))
    table = pl.DataFrame(columns)
    floats = [name for name, kind in table.schema.items() if kind.is_float()]
    return table.with_columns(pl.when(pl.col(name).is_finite()).then(pl.col(name)).alias(name) for name in floats)


def text_of(name: str) -> ColumnText:
    """The words of a column of `flat`; a column without any answers with its own name."""
    if at := _AT_DISTANCE.fullmatch(name):
        end = _ENDS[at["end"]]
        return ColumnText(
            f"{_AT[at['what']]} {float(at['km']):,.12g} km{end}",
            "share",
            "95 % limit." if end else COLUMNS[at["what"]].meaning,
        )
    return COLUMNS.get(name, ColumnText(name.replace("_", " ").capitalize(), "", ""))


def heading(name: str) -> str:
    """The label of a column and its unit, unless the label says the unit already."""
    words = text_of(name)
    told = words.unit == "p" or words.unit.lower() in words.label.lower()
    return words.label if told else words.heading


def _spread(column: pl.Series) -> list[pl.Series]:
    kind = column.dtype
    if isinstance(kind, pl.Struct):
        return [column.struct.field(field.name).alias(f"{column.name}_{field.name}") for field in kind.fields]
    if isinstance(kind, pl.List):
        if isinstance(kind.inner, pl.Struct) and {"km", "share", "low", "high"} <= {f.name for f in kind.inner.fields}:
            return _at_distances(column)
        return [column.cast(pl.List(pl.String)).list.join(", ")]
    return [column]


def _at_distances(column: pl.Series) -> list[pl.Series]:
    """The curve of each row at each distance; null where a row has no such distance."""
    found: list[dict[float, dict[str, float | None]]] = [
        {point["km"]: point for point in (points if points is not None else [])} for points in column.to_list()
    ]
    distances = sorted({km for points in found for km in points})
    return [
        pl.Series(
            f"{column.name}_{km:.12g}_{end}",
            [points.get(km, {}).get(end) for points in found],
            dtype=pl.Float64,
        )
        for km in distances
        for end in ("share", "low", "high")
    ]
