"""The door to files of tables: what a file holds, and its rows one by one. Pure; nothing is looked up."""

from reports.exchange.sheets.kinds import (
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Profile,
    Row,
    Sheet,
    TableRefused,
)
from reports.exchange.sheets.reading import ENCODINGS, SEPARATORS, profile_of, rows_of
from reports.exchange.sheets.writing import csv_bytes, harmless, xlsx_bytes

__all__ = [
    "ENCODINGS",
    "MOST_BYTES",
    "MOST_COLUMNS",
    "MOST_ROWS",
    "SEPARATORS",
    "Cell",
    "Profile",
    "Row",
    "Sheet",
    "TableRefused",
    "csv_bytes",
    "harmless",
    "profile_of",
    "rows_of",
    "xlsx_bytes",
]
