"""What is open of a person, and their episodes."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from itertools import groupby, islice

from django.db.models import FilteredRelation, Q

from access.people import Person
from access.permissions import require
from exams.patients.models import Patient
from exams.wounds.codes import STAGE, Cause, EpisodeEnd, Status
from exams.wounds.models import Assessment, Episode, WoundEntry
from exams.wounds.places import PLACE_OF


@dataclass(frozen=True)
class Look:
    """What one assessment found: the WIfI stage of the limb as known that day, and the size; None unknown."""

    on: date
    stage: int | None
    area_mm2: int | None
    area_how: str


@dataclass(frozen=True)
class OpenCourse:
    """How one open wound went: its newest assessments, the newest first."""

    wound_id: int
    number: int
    side: str
    place_words: str
    looks: tuple[Look, ...]


@dataclass(frozen=True)
class OpenWound:
    """One open wound, as other rooms show it: "RIGHT hallux, tip or underside", since "3 Mar 2026"."""

    wound_id: int
    episode_id: int
    patient_id: int
    number: int
    side: str
    place: str
    words: str
    cause_words: str
    began_on: date
    since: str
    presented_on: date


def open_wounds(person: Person, patient: Patient) -> tuple[OpenWound, ...]:
    """Open wounds of a patient, RIGHT first; none of somebody who has died. One query."""
    require(person, "see wounds", patient)
    return () if patient.died_on else open_wounds_of([patient.pk]).get(patient.pk, ())


def open_wounds_of(patients: Collection[int]) -> dict[int, tuple[OpenWound, ...]]:
    """The same of many patients by number, for lists; one query. The caller has asked who may see them."""
    entries = (
        WoundEntry.objects.filter(
            wound__episode__patient_id__in=patients,
            wound__episode__patient__died_on=None,
            wound__withdrawn_at=None,
            replaced_by=None,
            status=Status.OPEN,
        )
        .select_related("wound__episode")
        .order_by("-side", "wound__number", "pk")
    )
    found: dict[int, list[OpenWound]] = {}
    for entry in entries:
        found.setdefault(entry.patient_id, []).append(_open(entry))
    return {patient: tuple(wounds) for patient, wounds in found.items()}


def open_courses(person: Person, patient: Patient, newest: int) -> tuple[OpenCourse, ...]:
    """Open wounds that were assessed, RIGHT first, each with its newest assessments. One query."""
    require(person, "see wounds", patient)
    rows = (
        Assessment.objects.filter(
            wound__episode__patient=patient,
            wound__withdrawn_at=None,
            wound__entries__replaced_by=None,
            wound__entries__status=Status.OPEN,
            replaced_by=None,
            withdrawn_at=None,
        )
        .annotate(staged=FilteredRelation("grades", condition=Q(grades__measure=STAGE)))
        .order_by("-wound__entries__side", "wound__number", "wound_id", "-assessed_on", "-pk")
        .values_list(
            "wound_id",
            "wound__number",
            "wound__entries__side",
            "wound__entries__place",
            "assessed_on",
            "staged__value",
            "area_mm2",
            "area_how",
        )
    )
    return tuple(
        OpenCourse(
            wound_id,
            number,
            side,
            PLACE_OF[place].words,
            tuple(
                Look(on, None if stage is None else int(stage), area_mm2, area_how)
                for on, stage, area_mm2, area_how in (row[4:] for row in islice(found, newest))
            ),
        )
        for (wound_id, number, side, place), found in groupby(rows, key=lambda row: row[:4])
    )


def episodes_of(person: Person, patient: Patient) -> tuple[Episode, ...]:
    """Every episode of a patient, the newest first; none entered in error. One query."""
    require(person, "see wounds", patient)
    told = Episode.objects.filter(patient=patient).exclude(ended_how=EpisodeEnd.IN_ERROR)
    return tuple(told.order_by("-began_on", "-pk"))


def _open(entry: WoundEntry) -> OpenWound:
    return OpenWound(
        wound_id=entry.wound_id,
        episode_id=entry.wound.episode_id,
        patient_id=entry.patient_id,
        number=entry.wound.number,
        side=entry.side,
        place=entry.place,
        words=entry.words,
        cause_words=str(Cause(entry.cause).label),
        began_on=entry.began_on,
        since=entry.dated.words,
        presented_on=entry.presented_on,
    )
