"""Many rows of one table at once: COPY on PostgreSQL, one prepared statement elsewhere.

The database's own rules hold for each row as ever; what a form or a service checks must have been checked.
"""

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import Model

ROWS_AT_A_TIME = 2_000


class Rows:
    """Rows of a model that differ in some columns only.

    Parameters
    ----------
    alike : a row as all of them are, its other columns not read.
    differing : attributes of the fields that differ; their values are given as the database takes them
        (`ready`). Columns that are in neither are filled by the database, as its numbers are.
    """

    def __init__(self, alike: Model, differing: Sequence[str]) -> None:
        self._model, self._differing = type(alike), tuple(differing)
        same = [
            field
            for field in self._model._meta.concrete_fields
            if field.attname not in differing and not field.primary_key
        ]
        fields = {field.attname: field for field in self._model._meta.concrete_fields}
        self._same: tuple[Any, ...] = tuple(
            field.get_db_prep_save(getattr(alike, field.attname), connection) for field in same
        )
        self._columns = [str(one.column) for one in (*same, *(fields[name] for name in differing))]

    def insert(self, rows: Iterable[Sequence[Any]]) -> None:
        """Write rows of the differing values, in the order in which they were named."""
        table = connection.ops.quote_name(self._model._meta.db_table)
        names = ", ".join(map(connection.ops.quote_name, self._columns))
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                    for row in rows:
                        copy.write_row((*self._same, *row))
                return
            places = ", ".join(["%s"] * len(self._columns))
            statement = f"INSERT INTO {table} ({names}) VALUES ({places})"  # noqa: S608 - names of our own models
            remaining = ((*self._same, *row) for row in rows)
            while some := list(islice(remaining, ROWS_AT_A_TIME)):
                cursor.executemany(statement, some)


def numbers_for(model: type[Model], count: int) -> list[int]:
    """So many numbers that no row of a model has or will get from the database. Inside a transaction."""
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)", [table, count]
            )
            return [number for (number,) in cursor.fetchall()]
        # Nobody else writes while this transaction does. Not the newest row's number: that of a row taken out
        # again must not come back, because the trail tells of it.
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        (newest,) = cursor.fetchone() or (0,)
        return list(range(newest + 1, newest + 1 + count))


def ready(model: type[Model], name: str, value: Any) -> Any:
    """A value as the database takes it."""
    field: Any = model._meta.get_field(name)
    return field.get_db_prep_save(value, connection)
