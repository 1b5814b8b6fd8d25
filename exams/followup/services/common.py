"""What all services of this room share: whose record may still be worked on, and the checks of a row."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model

from exams.patients.models import Patient
from exams.patients.queries import today_in
from exams.patients.services.common import CHECK_YEAR, MERGED_AWAY
from exams.patients.typed_date import written

LONGEST_AHEAD_DAYS = 3 * 366


def living(patient: Patient) -> Patient:
    """The record, held until the act is over; ValidationError where it was merged away or the person died."""
    found = (
        Patient.objects.select_for_update(of=("self",))
        .filter(pk=patient.pk, merged_into=None)
        .select_related("clinic")
        .first()
    )
    if found is None:
        raise ValidationError(MERGED_AWAY)
    if found.died_on is not None:
        raise ValidationError(
            f"This person died on {written(found.died_on)}: referrals, recalls and promises stand still. "
            "Nothing was changed, and what you typed is kept. If the day of death is wrong, mend it under "
            "“Details”; everything then goes on where it stood.",
            code="dead",
        )
    return found


def check(row: Model) -> None:
    """All checks of the row itself. Rows it points to were just fetched, so they are not fetched again."""
    pointing = [field.name for field in row._meta.concrete_fields if field.is_relation]
    row.full_clean(exclude=pointing, validate_unique=False)


def need(words: str, field: str, because: str) -> str:
    """The words without spaces around them; ValidationError at the field where there are none."""
    if not words.strip():
        raise ValidationError({field: because}, code="required")
    return words.strip()


def refuse_not_to_come(field: str, day: date, patient: Patient) -> None:
    """Raise ValidationError where ``day`` is past, or so far ahead that the year must be a slip."""
    today = today_in(patient.clinic)
    if day < today:
        raise ValidationError({field: f"{written(day)} is over. Write a day to come, or today."})
    if (day - today).days > LONGEST_AHEAD_DAYS:
        raise ValidationError({field: f"{written(day)} is more than three years ahead. {CHECK_YEAR}"})


def refuse_not_past(field: str, day: date, patient: Patient, *, since: date | None = None) -> None:
    """Raise ValidationError where ``day`` is still to come, or before ``since`` or the person's birth."""
    if day > today_in(patient.clinic):
        raise ValidationError({field: f"{written(day)} is still to come. Write the day it was, or today."})
    first = since or patient.birth_date
    if day < first:
        because = "this began" if since else "this person was born"
        raise ValidationError({field: f"{written(day)} is before {because} ({written(first)}). {CHECK_YEAR}"})


def one_of(value: Any, choices: Any, field: str, because: str) -> str:
    """The value if it is one of ``choices``; ValidationError at the field otherwise."""
    if value not in choices:
        raise ValidationError({field: because})
    return str(value)
