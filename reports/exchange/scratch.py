"""What a pass over a table must remember of the rows before: in a file of its own, so that memory stays flat.

Numbers only, no word of the table: `hash` of what is compared, which means nothing in another process.
"""

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice

# Pages held in memory, in KiB; the rest of the file is the operating system's.
_HELD_KIB = 8_000
_EXAM, _PERSON, _NAME, _NEW = range(4)


@dataclass
class Seen:
    """What the rows before said of the people of one block.

    `exams`: person and day to the row that has it, and what it holds. `people`: identifier to the name and
    birth date it stands for, and the row. `names`: name and birth date to the identifier. `new`: identifiers
    to be registered.
    """

    exams: dict[int, tuple[int, int]] = field(default_factory=dict)
    people: dict[int, tuple[int, int]] = field(default_factory=dict)
    names: dict[int, int] = field(default_factory=dict)
    new: set[int] = field(default_factory=set)
    # Days with a pressure of a person, and at which ankles flow was found: (day, "lr").
    days: dict[int, list[tuple[int, str]]] = field(default_factory=lambda: defaultdict(list))


class Memory:
    """Everything one pass has seen, looked up by block. Gone with the object."""

    def __init__(self) -> None:
        # The empty name is a file that sqlite makes for itself and removes.
        self._db = sqlite3.connect("", isolation_level=None)
        self._db.executescript(
            f"""
            PRAGMA journal_mode = OFF;
            PRAGMA synchronous = OFF;
            PRAGMA cache_size = -{_HELD_KIB};
            CREATE TABLE seen (
                kind INTEGER, number INTEGER, one INTEGER, two INTEGER, PRIMARY KEY (kind, number)
            ) WITHOUT ROWID;
            CREATE TABLE day (person INTEGER, day INTEGER, sides TEXT, PRIMARY KEY (person, day, sides))
                WITHOUT ROWID;
            CREATE TABLE known (patient INTEGER PRIMARY KEY);
            BEGIN;
            """
        )

    def of(self, *, exams: set[int], people: set[int], names: set[int]) -> Seen:
        """What was seen of these."""
        return Seen(
            exams={number: (one, two) for number, one, two in self._seen(_EXAM, exams)},
            people={number: (one, two) for number, one, two in self._seen(_PERSON, people)},
            names={number: one for number, one, _ in self._seen(_NAME, names)},
            new={number for number, _, _ in self._seen(_NEW, people)},
        )

    def keep(self, seen: Seen) -> None:
        """Keep what a block added; what was there already stays as it is."""
        rows = [(_EXAM, number, row, held) for number, (row, held) in seen.exams.items()]
        rows += [(_PERSON, number, who, row) for number, (who, row) in seen.people.items()]
        rows += [(_NAME, alike, number, 0) for alike, number in seen.names.items()]
        rows += [(_NEW, number, 0, 0) for number in seen.new]
        self._db.executemany("INSERT OR IGNORE INTO seen VALUES (?, ?, ?, ?)", rows)
        days = [(number, *day) for number, found in seen.days.items() for day in found]
        self._db.executemany("INSERT OR IGNORE INTO day VALUES (?, ?, ?)", days)

    def days_of(self, person: int) -> list[tuple[int, str]]:
        """The days of a person of the table with a pressure, and the ankles at which flow was found."""
        return self._db.execute("SELECT day, sides FROM day WHERE person = ?", (person,)).fetchall()

    def know(self, patients: Iterable[int]) -> None:
        """Note people of the record that the table is about."""
        self._db.executemany("INSERT OR IGNORE INTO known VALUES (?)", ((one,) for one in patients))

    def known(self, at_once: int) -> Iterator[list[int]]:
        """The people of the record noted, in order, so many at a time."""
        rows = self._db.execute("SELECT patient FROM known ORDER BY patient")
        while some := list(islice(rows, at_once)):
            yield [patient for (patient,) in some]

    def _seen(self, kind: int, numbers: set[int]) -> Iterator[tuple[int, int, int]]:
        asked = "SELECT number, one, two FROM seen WHERE kind = ? AND number = ?"
        for number in numbers:
            yield from self._db.execute(asked, (kind, number))
