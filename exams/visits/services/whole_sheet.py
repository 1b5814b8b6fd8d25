"""A whole sheet at once: what was filled in away from the screen, stored and read in one act."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db.models import Model

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.visits.models import Exam, Preparation, Reading
from exams.visits.plan import Place
from exams.visits.queries.chart import INFLATED, Chart, chart_of
from exams.visits.services.acts import held, ready_to_measure, state_after
from exams.visits.services.readings import new_row, part_is_there, said
from exams.visits.services.results import refresh_results
from exams.visits.typed import TypedReading


@dataclass(frozen=True)
class Filled:
    """One reading of the sheet, with the moment it was taken down."""

    place: Place
    value: TypedReading
    technique: str
    client_id: UUID
    at: datetime


@dataclass(frozen=True)
class Noted:
    """One condition of the sheet, as `read_preparation` gave it."""

    item: str
    value: str
    client_id: UUID


@one_act()
def record_sheet(
    *, exam: Exam, noted: Iterable[Noted], filled: Iterable[Filled], by: Person
) -> list[Reading]:
    """Store conditions and readings into an exam that has none of them yet, and interpret it once.

    Each row and its line in the trail is as if it had been typed alone. The same sheet a second time is
    refused: what stands is corrected value by value.

    Raises
    ------
    ValidationError, PermissionDenied
        With nothing stored. A place where no cuff may be inflated takes a reason only.
    """
    require(by, "measure", exam)
    exam = held(exam)
    after = state_after(exam, "reading")
    ready_to_measure(exam)
    chart = chart_of(exam)
    conditions = [_condition(chart, one, by) for one in noted]
    readings = [_reading(chart, one, by) for one in filled]
    # The database holds its own rules over every row; asking it about each beforehand costs more than all.
    Preparation.objects.bulk_create(conditions)
    Reading.objects.bulk_create(readings)
    inflated = [row.typed_at for row in readings if row.outcome in INFLATED]
    if inflated:
        exam.first_inflation_at = exam.booked_for if exam.entered_later else min(inflated)
    exam.state = after
    exam.save()
    for condition in conditions:
        record(
            by,
            "condition recorded",
            condition,
            details={"item": condition.item, "old": "", "new": condition.value, "reason": ""},
        )
    for row in readings:
        place = Place(row.side, row.site, row.attempt)
        record(
            by,
            "reading recorded",
            row,
            details={"place": place.name, "old": "nothing", "new": said(row), "override": ""},
        )
    refresh_results(exam=exam, by=by)
    return readings


def _condition(chart: Chart, one: Noted, by: Person) -> Preparation:
    if any(row.item == one.item for row in chart.preparations):
        raise _filled_already(one.item)
    row = Preparation(
        exam=chart.exam,
        item=one.item,
        value=one.value,
        client_id=one.client_id,
        typed_at=clock.now(),
        entered_at=clock.now(),
        entered_by=by.user,
    )
    _check_fields(row)
    return row


def _reading(chart: Chart, one: Filled, by: Person) -> Reading:
    if one.place in chart.newest:
        raise _filled_already(one.place.name)
    part_is_there(chart, one.place)
    locked = chart.lock_words(one.place.side, one.place.site)
    if locked and one.value.outcome in INFLATED:
        raise ValidationError(f"{locked}. Nothing was stored. Give a reason instead.", code="locked")
    row = new_row(
        exam=chart.exam,
        place=one.place,
        value=one.value,
        technique=one.technique,
        by=by,
        client_id=one.client_id,
        typed_at=min(one.at, clock.now()),
        before=None,
    )
    _check_fields(row)
    return row


def _check_fields(row: Model) -> None:
    row.clean_fields(exclude=[field.name for field in row._meta.concrete_fields if field.is_relation])


def _filled_already(name: str) -> ValidationError:
    return ValidationError(
        f"{name} is filled in already. Nothing was stored; correct what stands there.", code="filled"
    )
