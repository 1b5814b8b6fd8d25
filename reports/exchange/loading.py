"""Many rows of one table at once: COPY on PostgreSQL, one prepared statement elsewhere.

The database's own rules hold for each row as ever; what a form or a service checks must have been checked.
"""

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import Any

from django.db import connection
from django.db.models import Model

ROWS_AT_A_TIME = 2_000


def insert_rows(model: type[Model], columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Write rows of values as the database takes them, named by the attributes of their fields.

    `ready` makes such a value of an ordinary one. Columns left out must have a default in the database.
    """
    table = connection.ops.quote_name(model._meta.db_table)
    fields = {field.attname: field for field in model._meta.concrete_fields}
    names = ", ".join(connection.ops.quote_name(str(fields[name].column)) for name in columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            return
        places = ", ".join(["%s"] * len(columns))
        statement = f"INSERT INTO {table} ({names}) VALUES ({places})"  # noqa: S608 - names of our own models
        remaining = iter(rows)
        while some := list(islice(remaining, ROWS_AT_A_TIME)):
            cursor.executemany(statement, some)


def ready(model: type[Model], name: str, value: Any) -> Any:
    """A value as the database takes it."""
    field: Any = model._meta.get_field(name)
    return field.get_db_prep_save(value, connection)
