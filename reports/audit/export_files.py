"""A table and its codebook as one archive: CSV, spreadsheet or Parquet. Rows are taken as they come."""

import csv
import io
import re
import tempfile
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import IO, Any

# A spreadsheet would run a cell of text that starts with one of these; the last four are full width.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# A spreadsheet of another country parts cells there, and what follows would be the start of one.
_AFTER_A_SEPARATOR = re.compile(r"([;|\t\r\n]\s*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])")
ROWS_AT_A_TIME = 2000
# A sheet holds no more rows than this.
MOST_ROWS_OF_A_SHEET = 1_048_000
Row = Sequence[Any]


@dataclass(frozen=True)
class Column:
    """One column with what it means; ``kind`` is text, whole or number."""

    name: str
    kind: str
    means: str


class TooManyRows(Exception):
    """More rows than a spreadsheet holds."""


def write_archive(
    out: IO[bytes],
    *,
    name: str,
    form: str,
    columns: Sequence[Column],
    rows: Iterable[Row],
    about: Sequence[str],
) -> int:
    """Write ``name``.zip into ``out``: the table, `codebook.csv` and `about.txt`; the number of rows.

    Raises
    ------
    TooManyRows
        If a spreadsheet is asked for and there are too many.
    """
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        with tempfile.TemporaryFile() as table:  # gone with the process, however it ends
            many = _WRITERS[form](table, columns, rows)
            table.seek(0)
            with archive.open(f"{name}.{form}", "w", force_zip64=True) as entry:
                while piece := table.read(1 << 20):
                    entry.write(piece)
        book = io.StringIO()
        writer = csv.writer(book, lineterminator="\n")
        writer.writerow(("column", "kind", "means"))
        writer.writerows((harmless(one.name), one.kind, harmless(one.means)) for one in columns)
        archive.writestr("codebook.csv", book.getvalue())
        archive.writestr("about.txt", "\n".join((*about, f"Rows: {many}", "")))
    return many


def harmless(value: Any) -> Any:
    """Text that no spreadsheet runs as a formula; numbers and nothing stay as they are."""
    if not isinstance(value, str):
        return value
    parted = _AFTER_A_SEPARATOR.sub(r"\1'", value)
    starts = any(text.startswith(FORMULA_STARTS) for text in (parted, parted.lstrip()))
    return f"'{parted}" if starts else parted


def _write_csv(out: IO[bytes], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    text = io.TextIOWrapper(out, encoding="utf-8", newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([harmless(one.name) for one in columns])
    many = 0
    for many, row in enumerate(rows, start=1):  # noqa: B007
        writer.writerow(["" if cell is None else harmless(cell) for cell in row])
    text.detach()
    return many


def _write_xlsx(out: IO[bytes], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    from openpyxl import Workbook  # only where one is written

    book = Workbook(write_only=True)
    sheet = book.create_sheet("table")
    sheet.append([harmless(one.name) for one in columns])
    many = 0
    for many, row in enumerate(rows, start=1):
        if many > MOST_ROWS_OF_A_SHEET:
            sheet.close()
            raise TooManyRows
        sheet.append([harmless(cell) for cell in row])
    book.save(out)
    return many


def _write_parquet(out: IO[bytes], columns: Sequence[Column], rows: Iterable[Row]) -> int:
    import pyarrow as pa  # only where one is written
    import pyarrow.parquet as pq

    kinds = {"text": pa.string(), "whole": pa.int64(), "number": pa.float64()}
    schema = pa.schema([pa.field(one.name, kinds[one.kind]) for one in columns])
    many = 0
    with pq.ParquetWriter(out, schema, compression="zstd") as writer:
        for block in _blocks(rows):
            cells = list(zip(*block, strict=True))
            arrays = [
                pa.array([harmless(cell) for cell in part], field.type)
                for part, field in zip(cells, schema, strict=True)
            ]
            writer.write_batch(pa.record_batch(arrays, schema=schema))
            many += len(block)
    return many


def _blocks(rows: Iterable[Row]) -> Iterator[list[Row]]:
    left = iter(rows)
    while block := list(islice(left, ROWS_AT_A_TIME)):
        yield block


_WRITERS = {"csv": _write_csv, "xlsx": _write_xlsx, "parquet": _write_parquet}
