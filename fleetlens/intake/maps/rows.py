"""The rows of one input table in a sheet that is read through a map: filled, numbered, cleaned, spread."""

from collections.abc import Iterator

import polars as pl

from fleetlens.intake.maps import spreading
from fleetlens.intake.maps.cleaning import Cleaner, Tally, unread
from fleetlens.intake.maps.column_map import ColumnMap, Origin
from fleetlens.intake.maps.forms import Weighed
from fleetlens.intake.maps.jobs import Filled, Lines, Visits, joined, key_columns
from fleetlens.intake.maps.spreading import Read
from fleetlens.intake.readers.sheet import Batch, Sheet
from fleetlens.intake.values import code_cells, odometers
from fleetlens.intake.values.text import plain
from fleetlens.vocabulary.tables import tables
from fleetlens.vocabulary.units import KM_PER_MILE

__all__ = ["Rows"]

_FROM_TEXT = ("job_codes", "job_actions")
_ACTION = tuple(column.name for column in tables()["job_actions"].columns)
_UNITLESS = ("job_id", "vehicle_id", "line", "from_text", "odometer_unit", "note", "quantity")  # they alone make no row
_OWN_WAY = ("code", "odometer", "in_service_km")  # columns of lists, and of readings with their units
_TEXTS = (("jobs", "complaint"), ("job_actions", "note"))  # in the order in which they are read for codes
_UNSTATED = "rows with hours or money that don't say what was done, kept as unstated: {:,}"
_NO_ACTION = "texts that tell nothing done, on rows that hold nothing else, so no rows of job_actions: {:,}"


class Rows:
    """The rows of `table`; `batches` gives them anew each time, with what was repaired counted in `tally`."""

    def __init__(
        self,
        sheet: Sheet,
        column_map: ColumnMap,
        table: str,
        weighed: Weighed,
        *,
        tally: Tally,
        read: Read,
        with_ragged: bool,
    ) -> None:
        self._sheet, self._map, self._table = sheet, column_map, table
        self._weighed, self._tally, self._read, self._with_ragged = weighed, tally, read, with_ragged
        self._origins = column_map.origins(table) if table in column_map.tables else _of_jobs(column_map)
        self._texts = [
            origin.column
            for where, ours in _TEXTS
            if (origin := column_map.tables.get(where, {}).get(ours)) and origin.text
        ]

    def batches(self) -> Iterator[Batch]:
        """The rows as text under the table's own names, with `row` and, where rows are spread, `part`."""
        self._tally.clear()
        job_map = self._map.tables.get("jobs", {})
        made_from = {ours: job_map[ours] for ours in self._origins.get("job_id", Origin()).made_from}
        tidy = {
            ours: Cleaner(self._table, ours, origin, self._tally, self._weighed)
            for ours, origin in self._origins.items()
            if not origin.made_from and not origin.counted and ours not in _OWN_WAY
        }
        parts = [Cleaner("jobs", ours, origin, Tally(), self._weighed) for ours, origin in made_from.items()]
        filled = Filled(self._map) if self._map.first_row_only else None
        lines, visits = Lines(), Visits() if self._map.kind == "table" else None
        for batch in self._sheet.read(self._wanted(made_from)):
            rows = filled.fill(batch.rows) if filled else batch.rows
            out = rows.select("row").with_columns(cleaner.clean(rows) for cleaner in tidy.values())
            lost = [cleaner.unread for cleaner in tidy.values()]
            out = self._with_readings(out, rows, lost)
            if parts:
                number = joined([part.clean(rows) for part in parts])
                out = out.with_columns((visits.number(number) if visits else number).alias("job_id"))
            if self._map.job_prefix and "job_id" in out.columns:
                out = out.with_columns(job_id=pl.lit(self._map.job_prefix) + pl.col("job_id"))
            out = self._spread(out, rows)
            if self._table == "job_actions":
                out, unstated = spreading.with_unstated(out)
                if unstated:
                    self._tally.sentences[_UNSTATED] += unstated
            if "line" in self._origins and self._origins["line"].counted:
                out = out.with_columns(lines.number(out["job_id"]).alias("line"))
            yield Batch(out, batch.ragged if self._with_ragged else [], batch.share, _unread(lost))

    def _wanted(self, made_from: dict[str, Origin]) -> tuple[str, ...]:
        """The file's columns that the table's rows need."""
        origins = [*self._origins.values(), *made_from.values()]
        found = [name for origin in origins for name in origin.columns]
        if self._table in _FROM_TEXT:
            found += self._texts
        if self._map.first_row_only:
            found += key_columns(self._map)
        return tuple(dict.fromkeys(found))

    def _with_readings(self, out: pl.DataFrame, rows: pl.DataFrame, lost: list[pl.DataFrame]) -> pl.DataFrame:
        """Add odometers in their own unit with that unit, and `in_service_km` in km; to `lost` what can't be read."""
        for ours in ("odometer", "in_service_km"):
            origin = self._origins.get(ours)
            if origin is None:
                continue
            given = rows[origin.column] if origin.column else pl.repeat(origin.constant, rows.height, eager=True)
            found = odometers.clean(given)
            self._tally.count(f"{self._table}.{ours}", found.cleaned.repaired)
            lost.append(unread(ours, rows, found.cleaned))
            units = [found.units]
            if origin.unit_column:
                units.append(plain(rows[origin.unit_column]))
            elif ours == "odometer" and "odometer_unit" in out.columns:
                units.append(out["odometer_unit"])
            else:
                units.append(pl.repeat(origin.unit or None, rows.height, eager=True, dtype=pl.String))
            out = out.with_columns(
                unit=pl.select(pl.coalesce(units)).to_series(), reading=found.cleaned.values, given=given
            )
            raw = found.cleaned.unreadable
            if ours == "odometer":
                reading = pl.when(raw).then("given").otherwise("reading")
                out = out.with_columns(reading.alias(ours), odometer_unit="unit").drop("unit", "reading", "given")
            else:
                km = pl.col("reading").cast(pl.Float64, strict=False) * KM_PER_MILE
                turned = pl.when(pl.col("unit") == "mi").then(km.round(1).cast(pl.String)).otherwise("reading")
                out = out.with_columns(pl.when(raw).then("given").otherwise(turned).alias(ours))
                out = out.drop("unit", "reading", "given")
        return out

    def _spread(self, out: pl.DataFrame, rows: pl.DataFrame) -> pl.DataFrame:
        """Leave out the rows of the file that hold none of the table, and spread those that hold several."""
        texts = [plain(rows[name]) for name in self._texts] if self._table in _FROM_TEXT else []
        if self._table == "job_codes":
            return self._codes(out, rows, texts)
        if self._map.kind == "table" and not texts:
            return out
        if self._table in ("vehicles", "jobs"):
            return out
        own = [
            ours
            for ours, origin in self._origins.items()
            if ours not in _UNITLESS and origin.column and ours in out.columns
        ]
        recorded = out.select(pl.any_horizontal(pl.col(own).is_not_null()) if own else pl.lit(False)).to_series()
        recorded = pl.repeat(recorded[0], out.height, eager=True) if len(recorded) != out.height else recorded
        if self._table != "job_actions":
            return out.filter(recorded)
        for ours in _ACTION:
            if ours not in out.columns:
                out = out.with_columns(pl.lit(None, dtype=pl.String).alias(ours))
        note = self._origins.get("note")
        text = plain(rows[note.column]) if note and note.text else None
        if note and not note.text:
            recorded = recorded | out["note"].is_not_null()
        spread, unread = spreading.actions(out, text, recorded, self._read)
        if unread:
            self._tally.sentences[_NO_ACTION] += unread
        return spread

    def _codes(self, out: pl.DataFrame, rows: pl.DataFrame, texts: list[pl.Series]) -> pl.DataFrame:
        origin = self._origins.get("code")
        if origin is None:
            listed = pl.repeat(None, out.height, eager=True, dtype=pl.List(pl.String))
        else:
            given = rows[origin.column]
            cells = code_cells.clean(given)
            self._tally.count("job_codes.code", cells.cleaned.repaired)
            one = pl.col("codes").list.len() == 1
            whole = pl.when(pl.lit(origin.split) | one).then("codes").otherwise(pl.concat_list("given"))
            frame = pl.DataFrame({"codes": cells.codes, "given": given, "raw": cells.cleaned.unreadable})
            listed = frame.select(
                pl.when("raw").then(pl.concat_list("given")).when(pl.col("codes").is_not_null()).then(whole)
            ).to_series()
        out = out.with_columns(code=listed)
        for ours in ("job_id", "status"):
            if ours not in out.columns:
                out = out.with_columns(pl.lit(None, dtype=pl.String).alias(ours))
        return spreading.codes(out, texts, self._read, blank_too=self._map.kind == "table" and not texts)


def _unread(lost: list[pl.DataFrame]) -> pl.DataFrame | None:
    found = [cells for cells in lost if cells.height]
    return pl.concat(found) if found else None


def _of_jobs(column_map: ColumnMap) -> dict[str, Origin]:
    """The columns of a table that only texts tell: the number of the job."""
    return {
        "job_id": next(
            origins["job_id"] for name in column_map.tables if "job_id" in (origins := column_map.origins(name))
        )
    }
