"""What is said of a file: its sheets, what is odd about them, and its rows."""

from dataclasses import asdict, dataclass, field
from typing import Any

# Ours, to keep a slip from filling the memory: a sheet of a spreadsheet program holds 1,048,576 rows.
MOST_BYTES = 32 * 2**20
MOST_UNPACKED = 512 * 2**20
MOST_ROWS = 1_048_576
MOST_COLUMNS = 200
LONGEST_CELL = 2_000
MOST_NAMED = 10


class TableRefused(Exception):
    """The file cannot be read as a table; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell as text. `wrong`: why nothing can be read of it, "" if something can; `mend`: what to do."""

    text: str = ""
    wrong: str = ""
    mend: str = ""


def cell_of(text: str) -> Cell:
    """A cell of a text as it stands in the file: without what cannot be seen, which no record keeps."""
    plain = text.strip()
    if not plain.isprintable():
        plain = "".join(sign if sign.isprintable() else " " for sign in plain).strip()
    if len(plain) > LONGEST_CELL:
        return Cell(plain[:40], f"longer than {LONGEST_CELL} characters", "Shorten it and send it again.")
    return Cell(plain)


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not empty: its number in the file as a spreadsheet shows it, and its cells."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Sheet:
    """One sheet. `merged` names areas, `formulas` cells; both are cut, the counts are whole.

    `first_row` is the first row that is not empty: most likely the one that names the columns.
    """

    name: str
    hidden: bool = False
    rows: int = 0
    empty_rows: int = 0
    columns: int = 0
    first_row: int = 1
    merged: tuple[str, ...] = ()
    merged_count: int = 0
    formulas: tuple[str, ...] = ()
    formula_count: int = 0
    cut: str = ""


@dataclass(frozen=True)
class Profile:
    """What a file is. `notes`: what is odd about it and what follows, in words a nurse understands."""

    kind: str
    sheets: tuple[Sheet, ...]
    encoding: str = ""
    separator: str = ""
    notes: tuple[str, ...] = field(default=())

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Profile":
        sheets = tuple(
            Sheet(**{**one, "merged": tuple(one["merged"]), "formulas": tuple(one["formulas"])})
            for one in said["sheets"]
        )
        return cls(said["kind"], sheets, said["encoding"], said["separator"], tuple(said["notes"]))

    @property
    def visible(self) -> tuple[Sheet, ...]:
        return tuple(sheet for sheet in self.sheets if not sheet.hidden)

    def sheet(self, name: str) -> Sheet:
        """The visible sheet of this name; TableRefused if there is none."""
        for one in self.visible:
            if one.name == name:
                return one
        raise TableRefused(f"There is no visible sheet “{name[:40]}” in this file. Choose one of the list.")
