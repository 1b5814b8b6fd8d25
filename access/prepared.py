"""Queries whose SQL Django makes once in a process, asked again and again with other values.

A sheet asks a dozen tables about one exam, always in the same words. To have Django put each into SQL anew,
and to make whole rows of what is only read, was two fifths of what the page cost. The SQL is Django's own, of
either database (docs/decisions/615-queries-made-once.md).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Expression, Field, Model, QuerySet
from django.db.models.base import ModelState

Row = TypeVar("Row", bound=Model)


class Given(Expression):
    """The place of a value that is given each time the query is asked; after ``__in``, of up to `most`."""

    def __init__(self, name: str, kind: "Field[Any, Any]", most: int = 0) -> None:
        super().__init__(output_field=kind)
        self.name, self.most = name, most

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, Any]:
        places = [_Place(self, number) for number in range(self.most or 1)]
        return ", ".join(["%s"] * len(places)), places

    def put(self, value: Any, number: int) -> Any:
        """One of the values as the database takes it; a shorter list says its last one again."""
        one = value[min(number, len(value) - 1)] if self.most else value
        return self.output_field.get_db_prep_value(one, connection)


@dataclass(frozen=True)
class _Place:
    of: Given
    number: int


class Prepared:
    """A query of some columns, made when it is first asked; every `Given` in it is named when it is asked.

    Parameters
    ----------
    build : function without parameters
        Gives the queryset.
    columns : str
        As in ``values_list``: ``"patient__family_name"`` too.
    """

    def __init__(self, build: Callable[[], QuerySet[Any, Any]], *columns: str) -> None:
        self._build = build
        self.columns = columns
        self._made: tuple[str, tuple[Any, ...], list[tuple[int, list[Any], Any]]] | None = None

    def rows(self, **given: Any) -> list[Any]:
        """The rows as `columns`; one query."""
        sql, places, converted = self._made = self._made or self._prepared()
        values = [
            place.of.put(given[place.of.name], place.number) if isinstance(place, _Place) else place
            for place in places
        ]
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
            found = cursor.fetchall()
        return [_converted(row, converted) for row in found] if converted else found

    def _prepared(self) -> tuple[str, tuple[Any, ...], list[tuple[int, list[Any], Any]]]:
        compiler = self._build().values_list(*self.columns).query.get_compiler(connection=connection)
        sql, places = compiler.as_sql()
        columns = [one[0] for one in compiler.select]
        converters: dict[int, tuple[list[Any], Any]] = compiler.get_converters(columns)
        return sql, tuple(places), [(at, by, of) for at, (by, of) in converters.items()]


def every_column(model: type[Model]) -> tuple[str, ...]:
    """The names of all columns of a table, as `stored` takes them."""
    return tuple(field.attname for field in model._meta.concrete_fields)


def stored(
    model: type[Row], columns: Mapping[str, Any] | Iterable[tuple[str, Any]], **related: Model | None
) -> Row:
    """A row as Django reads it with ``only`` these columns; `related` is what it points to, if at hand."""
    row = model.__new__(model)
    row.__dict__.update(columns)
    row._state = state = ModelState()
    state.adding, state.db = False, connection.alias
    state.fields_cache = related
    return row


def _converted(row: Sequence[Any], converted: Sequence[tuple[int, list[Any], Any]]) -> tuple[Any, ...]:
    values = list(row)
    for at, converters, column in converted:
        value = values[at]
        for convert in converters:
            value = convert(value, column, connection)
        values[at] = value
    return tuple(values)
