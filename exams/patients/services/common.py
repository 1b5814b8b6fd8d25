"""What all services of this room share: who is told of a change, and the checks of a row."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from access.people import Person
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.patients.typed_date import written

NO_REASON = "Say why: the reason is kept with the record."
CHECK_YEAR = "Check the year."
MERGED_AWAY = (
    "This record was merged into another of the same person meanwhile. Nothing was saved: open the patient "
    "again and enter it there. What you typed is kept."
)

# Rooms above this one that must look again when what a pressure means has changed. They enter themselves
# while Django starts (docs/decisions/210-who-hears-of-a-changed-limb.md), so every process has the same list.
LISTENERS: list[Callable[..., None]] = []


def on_limb_changed(do: Callable[..., None]) -> None:
    """Have ``do(patient=…, by=…)`` called inside the act that changes a fact, a caution or a risk factor."""
    if do not in LISTENERS:
        LISTENERS.append(do)


def tell_listeners(patient: Patient, by: Person) -> None:
    for listener in LISTENERS:
        listener(patient=patient, by=by)


# Rooms above this one in which things wait for a person, and stop when they die.
LIFE_LISTENERS: list[Callable[..., None]] = []


def on_life_changed(do: Callable[..., None]) -> None:
    """Have ``do(patient=…, by=…)`` called inside the act that records a death, or takes one back."""
    if do not in LIFE_LISTENERS:
        LIFE_LISTENERS.append(do)


def tell_life_listeners(patient: Patient, by: Person) -> None:
    for listener in LIFE_LISTENERS:
        listener(patient=patient, by=by)


def refuse_merged(patient: Patient) -> None:
    """Hold the record; ValidationError where it was merged into another since the page was opened."""
    if not Patient.objects.select_for_update().filter(pk=patient.pk, merged_into=None).first():
        raise ValidationError(MERGED_AWAY)


def told(row: Caution | LimbFact, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def check(row: Patient | Identifier | Caution | LimbFact) -> None:
    """All checks of the row itself. Rows it points to were just fetched, so they are not fetched again."""
    pointing = [field.name for field in row._meta.concrete_fields if field.is_relation]
    row.full_clean(exclude=pointing, validate_unique=False)


def reason_given(text: str) -> str:
    if not text.strip():
        raise ValidationError({"reason": NO_REASON})
    return text.strip()


def refuse_outside_life(field: str, first: date, last: date, patient: Patient, today: date) -> None:
    """Raise ValidationError where nothing from ``first`` to ``last`` lies in this life up to today."""
    if first > today:
        raise ValidationError(
            {field: f"{written(first)} is still to come. Write the day it began, or today."}
        )
    if last < patient.birth_date:
        raise ValidationError({field: f"{written(last)} is before this person was born. {CHECK_YEAR}"})
    if patient.died_on and first > patient.died_on:
        raise ValidationError(
            {field: f"This person died on {written(patient.died_on)}, before {written(first)}. {CHECK_YEAR}"}
        )


def refuse_past_review(review_on: date | None, today: date) -> None:
    if review_on is not None and review_on <= today:
        raise ValidationError({"review_on": "A review date is a day to come. Leave it empty for none."})
