"""Rows as they were before and after an act, so that the act can be undone to the letter.

Every table that points to a patient is found from the models themselves: a room that is added later is
moved, remembered and put back without a line here.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models

from exams.patients.models import Patient
from exams.visits.models import Exam

# One row as it is kept: column to a value that JSON can hold.
Row = dict[str, Any]
# Table and number to the row.
Rows = dict[tuple[str, str], Row]
# {"table", "pk", "before": Row or None, "after": Row or None}
Change = dict[str, Any]

_OWN = "identity"


def pointing_to(target: type[models.Model]) -> list[tuple[type[models.Model], str]]:
    """Every table with a foreign key to ``target``, and that key's column; none of this room's own."""
    found = []
    for relation in target._meta.related_objects:
        model = relation.related_model
        if not isinstance(model, str) and model is not target and model._meta.app_label != _OWN:
            found.append((model, relation.field.attname))
    return sorted(found, key=lambda pair: (pair[0]._meta.label_lower, pair[1]))


def leaders_of(model: type[models.Model]) -> tuple[models.ForeignKey[Any, Any], ...]:
    """Keys by which a row belongs to another row of the same person, the nearest first.

    A room names them on its model: ``goes_with = ("exam",)``. Such a row stands wherever that one stands.
    """
    fields = (model._meta.get_field(name) for name in getattr(model, "goes_with", ()))
    return tuple(field for field in fields if isinstance(field, models.ForeignKey))


def leader_of(row: models.Model) -> models.Model | None:
    """The row this one goes with; None where it names none."""
    return next(filter(None, (getattr(row, key.name) for key in leaders_of(type(row)))), None)


def rows_of_patients(numbers: Iterable[int], exams: Iterable[int] = ()) -> Rows:
    """Both records, all that hangs on them, and all that hangs on ``exams``; a query a table."""
    numbers, exams = list(numbers), list(exams)
    rows = kept_rows(Patient.objects.filter(pk__in=numbers))
    for model, column in pointing_to(Patient):
        rows |= kept_rows(model._base_manager.filter(**{f"{column}__in": numbers}))
    for model, column in pointing_to(Exam):
        rows |= kept_rows(model._base_manager.filter(**{f"{column}__in": exams}))
    return rows


def kept_rows(some: models.QuerySet[Any]) -> Rows:
    """The rows by table and number. Samples of a recording are left out: no act of this room changes them."""
    table = some.model._meta.label_lower
    large = [field.name for field in some.model._meta.concrete_fields if _is_large(field)]
    return {(table, str(row.pk)): _row(row) for row in some.defer(*large).order_by("pk")}


def differences(before: Rows, after: Rows) -> list[Change]:
    """What an act added, changed or took away, in the order of the tables and numbers."""
    return [
        {"table": table, "pk": pk, "before": before.get((table, pk)), "after": after.get((table, pk))}
        for table, pk in sorted({*before, *after}, key=lambda one: (one[0], int(one[1])))
        if before.get((table, pk)) != after.get((table, pk))
    ]


def put_back(change: Change) -> None:
    """Make the row what it was before; only the columns that the act changed."""
    model = apps.get_model(change["table"])
    before, after = change["before"], change["after"]
    if before is None:
        model._base_manager.filter(pk=change["pk"]).delete()
    elif after is None:
        model(**values(model, before)).save_base(raw=True, force_insert=True)
    else:
        old = {name: value for name, value in before.items() if value != after[name]}
        model._base_manager.filter(pk=change["pk"]).update(**values(model, old))


def values(model: type[models.Model], row: Row) -> dict[str, Any]:
    """A kept row as the model takes it."""
    fields = {field.attname: field for field in model._meta.concrete_fields}
    return {name: fields[name].to_python(value) for name, value in row.items()}


def _row(row: models.Model) -> Row:
    return {
        field.attname: _plain(field.value_from_object(row))
        for field in row._meta.concrete_fields
        if not _is_large(field)
    }


def _is_large(field: models.Field[Any, Any]) -> bool:
    return isinstance(field, models.BinaryField)


def _plain(value: Any) -> Any:
    # To the microsecond, which the usual JSON encoder would cut off.
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, models.fields.files.FieldFile):
        return value.name
    return value
