"""CSV and its kin: text with something between the columns, streamed.

Rows are numbered as they stand in the file; blank lines don't count.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import polars as pl
import pyarrow as pa
import pyarrow.csv

from fleetlens.errors import FleetlensError
from fleetlens.intake.readers import encoding, header
from fleetlens.intake.readers.cleared import Clearing
from fleetlens.intake.readers.content import Content
from fleetlens.intake.readers.delimiter import delimiter, rows, separator_line
from fleetlens.intake.readers.limits import checked_cells, empty
from fleetlens.intake.readers.sheet import Batch, Ragged, Sheet
from fleetlens.intake.readers.utf8 import Encoding, Utf8

__all__ = ["sheet"]

_BLOCK = 8 << 20  # bytes of text at a time, of which the engine reads some 30 ahead; no single row may be longer
_SAMPLE = 1 << 18  # bytes by which the layout is judged; longer than titles and header
_FIRST = 200  # rows by which the layout is judged


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the rows of a text are. `start`: bytes of UTF-8 before the first row; `number`: of the last header row."""

    encoding: Encoding
    between: str
    headers: tuple[tuple[str, ...], ...]
    titles: tuple[tuple[str, ...], ...]
    columns: tuple[str, ...]
    written: tuple[str, ...]
    start: int
    number: int
    found: tuple[str, ...]


def sheet(content: Content) -> Sheet:
    """The rows of a text file.

    Raises FleetlensError where it is empty, no text, cut off, or a quotation mark is never closed.
    """
    how = encoding.examine(content)
    layout = _layout(content, how)
    if how.odd and _ends_inside_quotes(content, layout):
        raise FleetlensError(
            "a quotation mark is opened and never closed: all that follows would be one value",
            where=content.where,
            do="look for a quotation mark too many or too few",
        )
    tally: Counter[str] = Counter()
    return Sheet(
        path=content.path,
        part=content.part,
        columns=layout.columns,
        header_row=layout.number,
        found=layout.found,
        read=partial(_read, content, layout, tally),
        written=layout.written,
        label=content.label,
        tally=tally,
    )


def _layout(content: Content, how: Encoding) -> _Layout:
    with Utf8(content.open(), how) as stream:
        sample = b""
        while len(sample) < _SAMPLE and (block := stream.read(_SAMPLE - len(sample))):
            sample += block
    text = sample.decode("utf-8", "ignore")
    cut = len(sample) == _SAMPLE
    named = separator_line(text)
    begin = named[1] if named else 0
    body = text[begin:]
    between = named[0] if named else delimiter(body, cut=cut)
    first = rows(body, between, _FIRST, cut=cut)
    if not any(cell.strip() for row in first for cell in row.cells):
        raise empty(content.where)
    head = header.find([row.cells for row in first])
    columns, names_told = header.unique(head.names)
    before = 1 if named else 0  # the line that names the separator is row 1
    number = before + head.last + 1
    return _Layout(
        encoding=how,
        between=between,
        headers=tuple(tuple(row.cells) for row in first[head.first : head.last + 1]),
        titles=tuple(tuple(row.cells) for row in first[: head.first]),
        columns=columns,
        written=tuple(head.names),
        start=len(text[: begin + first[head.last].end].encode("utf-8")),
        number=number,
        found=(
            *how.found,
            f"{_spelt(between)} between columns" + (", named by the first line" if named else ""),
            f"header in row {number}"
            if head.first == head.last
            else f"header in rows {number - 1} and {number}, joined",
            *names_told,
        ),
    )


def _spelt(between: str) -> str:
    return "tab" if between == "\t" else f"'{between}'"


def _read(content: Content, layout: _Layout, tally: Counter[str], columns: Sequence[str] | None) -> Iterator[Batch]:
    tally.clear()
    if layout.titles:
        tally["title row"] = len(layout.titles)
    wanted = ["row", *(layout.columns if columns is None else columns)]
    clearing = Clearing(layout.headers, layout.titles, tally)
    for batch in _batches(content, layout):
        checked_cells(content.where, batch.rows)
        kept = clearing.kept(batch.rows, layout.columns)
        found = clearing.filled(batch.rows if kept is None else batch.rows.filter(kept["kept"]), layout.columns)
        ragged = clearing.ragged(batch.ragged, layout.between)
        yield Batch(found.select(wanted), ragged, batch.share)


def _batches(content: Content, layout: _Layout) -> Iterator[Batch]:
    """All rows below the header, as they stand."""
    names, waiting = layout.columns, list[Ragged]()  # the reader may tell of ragged rows ahead of those around them

    def aside(row: "pyarrow.csv.InvalidRow") -> str:
        waiting.append(Ragged(layout.number + row.number, row.actual_columns, row.expected_columns, row.text))
        return "skip"

    next_row, seen = layout.number + 1, 0
    with Utf8(content.open(), layout.encoding, layout.start) as stream:
        text = _Ended(stream)
        if text.blank:
            return
        try:
            reader = pyarrow.csv.open_csv(
                pa.PythonFile(text, mode="r"),
                # One thread: only then does the reader know the number of a row.
                read_options=pyarrow.csv.ReadOptions(use_threads=False, block_size=_BLOCK, column_names=names),
                parse_options=pyarrow.csv.ParseOptions(
                    delimiter=layout.between, newlines_in_values=True, invalid_row_handler=aside
                ),
                convert_options=pyarrow.csv.ConvertOptions(
                    column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False
                ),
            )
            with reader:
                for batch in reader:
                    if batch.num_rows == 0:
                        continue
                    numbers = pl.int_range(next_row, next_row + batch.num_rows + len(waiting), eager=True).alias("row")
                    numbers = numbers.filter(~numbers.is_in([row.row for row in waiting])).head(batch.num_rows)
                    next_row = int(numbers[-1]) + 1
                    told = [row for row in waiting if row.row < next_row]
                    waiting[:] = [row for row in waiting if row.row >= next_row]
                    found = pl.DataFrame(pa.Table.from_batches([batch])).with_columns(numbers)
                    seen += batch.nbytes
                    yield Batch(found, told, stream.share * min(seen / max(stream.given, 1), 1.0))
        except (pa.ArrowException, OSError) as error:
            raise _unreadable(content.where, error) from None
    if waiting:
        yield Batch(pl.DataFrame(schema=dict.fromkeys(names, pl.String) | {"row": pl.Int64}), waiting, 1.0)


class _Ended:
    """A stream whose last line has an end, which the reader of CSV needs. `blank`: there is no row in it."""

    def __init__(self, stream: Utf8) -> None:
        self._stream, self._last = stream, b""
        self._held = b""
        while (block := stream.read(1 << 16)) and not (held := block.lstrip(b"\r\n")):
            pass
        self._held = held if block else b""
        self.blank = not self._held
        self.closed = False

    def read(self, size: int = -1) -> bytes:
        """At most `size` bytes, b"" at the end."""
        block, self._held = (self._held[:size], self._held[size:]) if self._held else (self._stream.read(size), b"")
        if not block and self._last not in (b"", b"\n", b"\r"):
            block = b"\n"
        self._last = block[-1:]
        return block

    def readable(self) -> bool:
        """Always: what a reader of files asks first."""
        return True

    def close(self) -> None:
        """The stream is closed by whom it belongs to."""
        self.closed = True


def _ends_inside_quotes(content: Content, layout: _Layout) -> bool:
    """Whether a file with an odd number of quotation marks opens one and never closes it.

    Its last row then holds all that follows; in any other file a last row over several lines closes its marks.
    """
    last: tuple[int, list[str]] = (1, [])
    for batch in _batches(content, layout):
        if batch.rows.height:
            last = (int(batch.rows["row"][-1]), [str(value) for value in batch.rows.drop("row").row(-1)])
        last = max([last, *((row.row, [row.text]) for row in batch.ragged)])
    return any("\n" in value or "\r" in value for value in last[1])


def _unreadable(where: str, error: Exception) -> FleetlensError:
    detail = str(error).splitlines()[0]
    if "straddling" in detail:  # the reader's word for a row that is longer than a block
        return FleetlensError(
            f"a row of this file is longer than {_BLOCK >> 20} MB: most likely a quotation mark is never closed",
            where=where,
            do="look for a quotation mark too many or too few",
        )
    return FleetlensError(f"this is no CSV file that can be read: {detail}", where=where, do="save it again as CSV")
