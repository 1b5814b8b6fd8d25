"""What the services of this room share: the checks of a row, of its days, and of what an amputation took."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Model

from exams.patients.models import LimbFact, Patient
from exams.patients.queries import today_in
from exams.patients.services.common import NO_REASON, refuse_outside_life
from exams.patients.typed_date import written
from exams.wounds.models import Wound, WoundEntry
from exams.wounds.places import taken_by


def check(row: Model) -> None:
    """All checks of the row itself. Rows it points to were just fetched, so they are not fetched again."""
    pointing = [field.name for field in row._meta.concrete_fields if field.is_relation]
    row.full_clean(exclude=pointing, validate_unique=False)


def reason_given(text: str) -> str:
    if not text.strip():
        raise ValidationError({"reason": NO_REASON})
    return text.strip()[:200]


def standing_entry(wound: Wound) -> WoundEntry:
    """What is said of a wound now, held until the act is over."""
    return (
        WoundEntry.objects.select_for_update(of=("self",))
        .select_related("wound__episode__patient__clinic")
        .get(wound=wound, replaced_by=None)
    )


def standing_facts(patient: Patient) -> list[LimbFact]:
    return list(LimbFact.objects.filter(patient=patient, replaced_by=None, withdrawn_at=None).order_by("pk"))


def newest_of(fact: LimbFact) -> LimbFact | None:
    """The row that stands where ``fact`` stood; None where somebody withdrew it."""
    while (later := LimbFact.objects.filter(replaces=fact).first()) is not None:
        fact = later
    return None if fact.withdrawn_at else fact


def refuse_impossible_entry(entry: WoundEntry, patient: Patient) -> None:
    """ValidationError, at its field, for a wound that cannot be so."""
    today = today_in(patient.clinic)
    refuse_outside_life("began_on", entry.began_on, entry.dated.latest, patient, today)
    refuse_outside_life("presented_on", entry.presented_on, entry.presented_on, patient, today)
    if entry.presented_on < entry.began_on:
        raise ValidationError(
            {
                "presented_on": f"The wound is there since {entry.dated.words}, after this. It is shown to "
                "somebody once it is there: mend one of the two."
            }
        )
    if entry.closed_on is not None:
        refuse_outside_life("closed_on", entry.closed_on, entry.closed_on, patient, today)
        if entry.closed_on < entry.began_on:
            raise ValidationError(
                {
                    "closed_on": f"The wound is there since {entry.dated.words}, after this. "
                    "Mend one of the two."
                }
            )
    events = [event for fact in standing_facts(patient) if (event := fact.event)]
    loss = taken_by(entry.where, entry.side, events, entry.began_on)
    if loss is not None:
        raise ValidationError(
            {
                "place": f"There was no such place for a wound: {loss.words_dated}. Choose another place, "
                "“stump” for a wound of what was left, or mend the amputation under Facts of the limbs."
            }
        )
    check(entry)


def refuse_outside_wound(entry: WoundEntry, field: str, on: date) -> None:
    """ValidationError for an assessment or picture of a day on which the wound was not there."""
    patient = entry.patient
    refuse_outside_life(field, on, on, patient, today_in(patient.clinic))
    if on < entry.began_on:
        raise ValidationError(
            {
                field: f"This wound is there since {entry.dated.words}, after {written(on)}. "
                "Mend one of the two."
            }
        )
    if entry.closed_on is not None and on > entry.closed_on:
        raise ValidationError(
            {
                field: f"This wound was {entry.get_status_display()} on {written(entry.closed_on)}, before "
                f"{written(on)}. If it opened again, record a new wound; if it never closed, correct it."
            }
        )


def told(row: Model, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}
