"""One row, for a person of its clinic; NotHere (a 404) for a number of another clinic, patient or wound."""

import hashlib

from django.core.exceptions import ValidationError
from django.db.models import QuerySet

from access.people import Person
from access.permissions import NotHere, require
from exams.patients.events import FactKind
from exams.patients.models import LimbFact, Patient
from exams.wounds.codes import WOUND_NOTES, EpisodeEnd
from exams.wounds.models import Assessment, Episode, Photograph, WoundEntry

_TO_PATIENT = "wound__episode__patient__clinic"


def entry_for(person: Person, patient_id: int, wound_id: int) -> WoundEntry:
    """What is said of a wound now; one that was withdrawn is no longer worked on."""
    require(person, "see wounds")
    found = (
        WoundEntry.objects.filter(
            wound__episode__clinic=person.clinic,
            wound__episode__patient_id=patient_id,
            wound__episode__patient__merged_into=None,
            wound_id=wound_id,
            wound__withdrawn_at=None,
            replaced_by=None,
        )
        .select_related(_TO_PATIENT, "entered_by")
        .first()
    )
    if found is None:
        raise NotHere("no such wound of this patient, or it was withdrawn")
    return found


def assessment_for(person: Person, patient_id: int, wound_id: int, assessment_id: int) -> Assessment:
    """An assessment that stands: neither withdrawn nor replaced."""
    require(person, "see wounds")
    found = (
        Assessment.objects.filter(
            wound__episode__clinic=person.clinic,
            wound__episode__patient_id=patient_id,
            wound__withdrawn_at=None,
            wound_id=wound_id,
            pk=assessment_id,
            replaced_by=None,
            withdrawn_at=None,
        )
        .select_related(_TO_PATIENT, "photograph")
        .first()
    )
    if found is None:
        raise NotHere("no such assessment of this wound, or it was replaced")
    return found


def photograph_for(person: Person, patient_id: int, photograph_id: int) -> Photograph:
    """A photograph that was not withdrawn."""
    require(person, "see wounds")
    found = (
        Photograph.objects.filter(
            clinic=person.clinic,
            wound__episode__patient_id=patient_id,
            pk=photograph_id,
            withdrawn_at=None,
        )
        .select_related(_TO_PATIENT, "entered_by")
        .first()
    )
    if found is None:
        raise NotHere("no such photograph of this patient, or it was withdrawn")
    return found


def picture_of(photograph: Photograph) -> bytes:
    """The stored picture.

    Raises
    ------
    ValidationError
        If it is not there, or is not the one that was kept.
    """
    try:
        with photograph.picture.open("rb") as file:
            content: bytes = file.read()
    except FileNotFoundError:
        content = b""
    if hashlib.sha256(content).hexdigest() != photograph.sha256:
        raise ValidationError(
            "The stored photograph is not the one that was kept, so it is not shown. Tell your "
            "system administrator."
        )
    return content


def wound_on_record_for(person: Person, patient: Patient, fact_id: int | None) -> LimbFact | None:
    """An open wound among the facts of a limb that no wound note describes yet; None where it is none."""
    require(person, "see wounds", patient)
    return (
        LimbFact.objects.filter(
            patient=patient,
            pk=fact_id or 0,
            kind=FactKind.OPEN_WOUND,
            replaced_by=None,
            withdrawn_at=None,
            ended_on=None,
        )
        .exclude(source=WOUND_NOTES)
        .first()
    )


def open_episode_for(person: Person, patient: Patient) -> Episode | None:
    """The episode of a patient that is not over; None where there is none."""
    require(person, "see wounds", patient)
    open_ones: QuerySet[Episode] = Episode.objects.filter(patient=patient).exclude(
        ended_how__in=[EpisodeEnd.HEALED, EpisodeEnd.IN_ERROR]
    )
    return open_ones.select_related("patient__clinic").order_by("-began_on", "-pk").first()
