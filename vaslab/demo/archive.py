"""A clinic's archive: people told of once, copied by the database until there are as many exams as wanted.

Every copy is a whole record under names, numbers and days of its own; all columns are filled as the services
filled those of the person it was made from. The audit trail holds nothing of a copy: no act made it.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.core.management.color import no_style
from django.db import connection, models
from django.db.models import Count, Max

from access.models import TrailRow
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, HandOver, Preparation, Result
from exams.visits.plan import DONE_STATES
from jobs.models import Job
from reports.documents.models import Document

Model = type[models.Model]
CHUNK = 25_000  # exams a statement: what the database holds back for its checks stays small
MOST_EXAMS_OF_ONE = 100
# Days by which the records lie apart, so that no two copies are of the same week.
SPREAD_DAYS = 1461
LETTERS = 4
MOST_COPIES = 26**LETTERS - 1
# Of a lean copy's findings these are kept, and of its reports the row without what it says.
KEPT_FINDINGS = ("toe_pressure", "toe_brachial_index")


@dataclass(frozen=True)
class _Table:
    model: Model
    through: "models.ForeignKey[Any, Any] | None"  # the key that leads up to the patient


class Archive:
    """Copies of everybody who may be copied when this is made; nobody else may be entered while it grows."""

    def __init__(self, *, whole: bool) -> None:
        registered = TrailRow.objects.filter(action="patient registered").values("patient_id")
        if Patient.objects.exclude(pk__in=registered).exists():
            raise ValueError("copies of people stand in this database already; begin with a new one")
        self.whole = whole
        closed = Patient.objects.annotate(visits=Count("exams")).filter(
            merged_into=None, merged_here=None, visits__gt=0, visits__lte=MOST_EXAMS_OF_ONE
        )
        under_way = Exam.objects.exclude(state__in=[*DONE_STATES, "not_attended", "stopped"])
        self.people = sorted(
            closed.exclude(exams__in=under_way)
            .exclude(exams__hand_overs__in=HandOver.objects.filter(closed_at=None))
            .exclude(exams__traces__isnull=False)
            .values_list("pk", flat=True)
        )
        self.tables = [one for one in _below_patients() if whole or one.model is not Preparation]
        self.exams_a_copy = Exam.objects.filter(patient__in=self.people).count()
        self.copies = 0

    def grow(self, exams: int, say: Callable[[str], None] = lambda step: None) -> None:
        """Add copies until about ``exams`` stand in the database (never fewer)."""
        if not self.people:
            raise ValueError("there is nobody to copy: all exams are under way or have recordings")
        wanted = -(-(exams - Exam.objects.count()) // self.exams_a_copy)
        last = self.copies + max(0, wanted)
        if last > MOST_COPIES:
            raise ValueError(f"at most {MOST_COPIES * self.exams_a_copy} exams can be told apart")
        step = max(1, CHUNK // self.exams_a_copy)
        while self.copies < last:
            upto = min(last, self.copies + step)
            for table in self.tables:
                self._copy(table, self.copies + 1, upto)
            self.copies = upto
            say(f"{self.copies * self.exams_a_copy:,} exams copied")
        self._settle()

    def _copy(self, table: _Table, first: int, last: int) -> None:
        fields = table.model._meta.concrete_fields
        columns = ", ".join(f'"{field.column}"' for field in fields)
        values = ", ".join(self._value(table.model, field) for field in fields)
        name = table.model._meta.db_table
        rows = ", ".join(map(str, self.rows[table.model]))
        if not rows:
            return
        with connection.cursor() as cursor:
            # Names of our own tables and numbers of rows; nothing anybody typed.
            copies = (
                f"WITH RECURSIVE copies(k) AS (VALUES (CAST({first} AS bigint)) UNION ALL "  # noqa: S608
                f"SELECT k + 1 FROM copies WHERE k < {last})"
            )
            cursor.execute(
                f'INSERT INTO "{name}" ({columns}) {copies} '  # noqa: S608
                f'SELECT {values} FROM "{name}" one CROSS JOIN copies WHERE one.id IN ({rows})'
            )

    @cached_property
    def stride(self) -> dict[Any, int]:
        """How far the numbers of two copies lie apart, by table: beyond all rows there at the first copy."""
        return {one.model: 1 + _highest(one.model) for one in self.tables}

    @cached_property
    def rows(self) -> dict[Model, list[int]]:
        """The numbers of the rows that are copied, by table."""
        found = {}
        for table in self.tables:
            rows: models.QuerySet[Any] = table.model._base_manager.filter(
                **{f"{self._path(table)}__in": self.people}
            )
            if table.model is Result and not self.whole:
                rows = rows.filter(measure__in=KEPT_FINDINGS)
            found[table.model] = list(rows.values_list("pk", flat=True))
        return found

    def _path(self, table: _Table) -> str:
        names = []
        while table.through is not None:
            names.append(table.through.name)
            table = self._of[table.through.related_model]
        return "__".join(names) or "pk"

    @cached_property
    def _of(self) -> dict[Any, _Table]:
        return {one.model: one for one in self.tables}

    def _value(self, model: Model, field: "models.Field[Any, Any]") -> str:
        """What stands in a column of copy number k of the row ``one``, as SQL."""
        column = f'one."{field.column}"'
        own = self._own(model, field, column)
        if own:
            return own
        if field.primary_key:
            return f"{column} + k * {self.stride[model]}"
        if isinstance(field, models.ForeignKey):
            if field.related_model in self.stride:
                return f"{column} + k * {self.stride[field.related_model]}"
            return "NULL" if field.related_model is Job else column
        if isinstance(field, models.UUIDField):
            return "gen_random_uuid()" if _postgres() else "lower(hex(randomblob(16)))"
        if isinstance(field, models.DateTimeField | models.DateField):
            return _earlier(field, column)
        return column

    def _own(self, model: Model, field: "models.Field[Any, Any]", column: str) -> str:
        if model is Patient and field.name in ("family_name", "given_name"):
            return f"{column} || {_suffix()}"
        if model is Patient and field.name in ("search_text", "name_key"):
            said = column
            for name in ("given_name", "family_name"):
                said = f"replace({said}, lower(one.{name}), lower(one.{name}) || {_suffix()})"
            return f"{said} || {_suffix()}" if field.name == "search_text" else said
        if model is Patient and field.name in ("telephone", "telephone_key"):
            return "''"
        if model is Identifier and field.name in ("value", "value_key"):
            return f"{column} || {_suffix()}"
        if model is Exam and field.name == "state":
            # Nobody waits for the report of a copy.
            return f"CASE {column} WHEN 'measured' THEN 'reported' ELSE {column} END"
        if model is Document and field.name == "content" and not self.whole:
            return "CAST('{}' AS jsonb)" if _postgres() else "'{}'"
        return ""

    def _settle(self) -> None:
        """New rows are numbered after the copies, and the database knows how many there are."""
        with connection.cursor() as cursor:
            changed = [one.model for one in self.tables]
            for statement in connection.ops.sequence_reset_sql(no_style(), changed):
                cursor.execute(statement)
            cursor.execute("ANALYZE")


def _below_patients() -> list[_Table]:
    """Patients and all tables that lead to them, each after those it points to.

    Found from the models, so that a room added later is copied too.
    """
    found: dict[Any, _Table] = {Patient: _Table(Patient, None)}
    waiting: list[Any] = [Patient]
    while waiting:
        for relation in waiting.pop(0)._meta.related_objects:
            model, key = relation.related_model, relation.field
            followed = isinstance(key, models.ForeignKey) and not key.null
            # What ties two records together is not copied with one of them.
            if model not in found and followed and model._meta.app_label != "identity":
                found[model] = _Table(model, key)
                waiting.append(model)
    return list(_after_what_they_point_to(found))


def _after_what_they_point_to(found: dict[Any, _Table]) -> Iterator[_Table]:
    left = dict(found)
    while left:
        for model in list(left):
            keys = [field for field in model._meta.concrete_fields if isinstance(field, models.ForeignKey)]
            if not any(key.related_model in left and key.related_model is not model for key in keys):
                yield left.pop(model)


def _highest(model: Model) -> int:
    return model._base_manager.aggregate(most=Max("pk"))["most"] or 0


def _postgres() -> bool:
    return connection.vendor == "postgresql"


def _suffix() -> str:
    """Four letters that are the copy's own."""
    letter = "chr" if _postgres() else "char"
    return " || ".join(f"{letter}(CAST(97 + (k / {26**place}) % 26 AS integer))" for place in range(LETTERS))


def _earlier(field: "models.Field[Any, Any]", column: str) -> str:
    days = f"((k * 37) % {SPREAD_DAYS})"
    if not _postgres():
        day = f"date(substr({column}, 1, 10), '-' || {days} || ' days')"
        return f"{day} || substr({column}, 11)"
    if isinstance(field, models.DateTimeField):
        return f"{column} - {days} * interval '1 day'"
    return f"{column} - CAST({days} AS integer)"
