"""Which row names the columns, and what the rows around it add to the names. Pure.

People write a title first, then RIGHT and LEFT once over several columns, and units in a row of their own.
"""

from collections.abc import Sequence

from reports.exchange.columns import field_of, unit_in
from reports.exchange.sheets import Row
from reports.exchange.words import UNITS_WRITTEN, key

LOOKED_AT = 12
# Fewer are chance: "Date" and "Name" stand in many a title.
FEWEST_KNOWN = 3


def headings_of(above: Row | None, names: Row, below: Row | None) -> list[str]:
    """The names of the columns, joined with the word over them or the unit under them where that says more.

    A word over several columns holds up to the next one, as a merged cell looks.
    """
    over = _spread(above, len(names.cells)) if above is not None else []
    under = _texts(below) if below is not None and is_row_of_units(below) else []
    found = []
    for place, cell in enumerate(names.cells):
        name = cell.text
        group = over[place] if place < len(over) else ""
        if group and name and not field_of(name) and field_of(f"{group} {name}"):
            name = f"{group} {name}"
        unit = under[place] if place < len(under) else ""
        if name and unit_in(unit) and not unit_in(name):
            name = f"{name} ({unit})"
        found.append(name)
    return found


def likely_heading_row(rows: Sequence[Row]) -> int:
    """The number of the row that most likely names the columns: of the first, the one most of whose words are
    known; the very first where no row has several."""
    best, found = 0, rows[0].number
    for place, row in enumerate(rows[:LOOKED_AT]):
        above = rows[place - 1] if place else None
        known = sum(1 for name in headings_of(above, row, None) if field_of(name))
        if known >= FEWEST_KNOWN and known > best:
            best, found = known, row.number
    return found


def is_row_of_units(row: Row) -> bool:
    """Whether a row holds nothing but units: no exam, and nothing to explain."""
    texts = [cell.text for cell in row.cells if cell.text]
    return bool(texts) and all(key(text) in UNITS_WRITTEN for text in texts)


def _texts(row: Row) -> list[str]:
    return [cell.text for cell in row.cells]


def _spread(row: Row, width: int) -> list[str]:
    found, standing = [], ""
    for place in range(width):
        text = row.cells[place].text if place < len(row.cells) else ""
        standing = text or standing
        found.append(standing)
    return found
