"""What programs read of patients: lists by filter, a part at a time, and a record that still stands."""

from datetime import date
from typing import Any

from django.db.models import Q

from access.paging import Asked, Part, part_of, within_dates
from access.people import Person
from access.permissions import NotHere, require
from access.refusals import Conflict
from access.trail import record_view
from exams.patients import matching
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.patients.queries import MergedAway, identifier_for, patient_for, today_in, with_identifiers


def standing_patient(person: Person, patient_id: int) -> Patient:
    """The record of that number.

    Raises
    ------
    NotHere
        For a number of another clinic or of nobody.
    Conflict
        ``merged`` if another record of the same person stands in its place, which is named.
    """
    try:
        return patient_for(person, patient_id)
    except MergedAway as away:
        merged = away.patient
        record_view(person, "merged record asked for", patient=merged, subject=merged)
        raise Conflict(
            "merged",
            f"Record {merged.pk} was merged into record {merged.merged_into_id} of the same person.",
            f"Use {merged.merged_into_id} from now on.",
            field="patient",
        ) from None


def patients_listed(
    person: Person,
    asked: Asked,
    *,
    q: str = "",
    identifier: str = "",
    issuer: str = "",
    born: date | None = None,
) -> Part[Patient]:
    """The clinic's people: in whose names or identifiers every word of ``q`` stands somewhere, who have that
    identifier, who were born on that day. Two queries."""
    require(person, "find patients")
    rows = Patient.objects.filter(clinic=person.clinic, merged_into=None)
    for word in matching.words(q):
        rows = rows.filter(search_text__contains=word)
    if q and not matching.words(q):
        rows = rows.none()
    if identifier or issuer:
        held: dict[str, Any] = {"value_key": matching.key(identifier)} if identifier else {}
        held |= {"issuer_key": matching.key(issuer)} if issuer else {}
        holders = Identifier.objects.filter(clinic=person.clinic, withdrawn_at=None, **held)
        rows = rows.filter(pk__in=holders.values("patient_id"))
    if born is not None:
        rows = rows.filter(birth_date=born)
    return part_of(rows, asked, filled=lambda found: with_identifiers(found).order_by("pk"))


def facts_listed(
    person: Person,
    patient: Patient,
    asked: Asked,
    *,
    side: str = "",
    kind: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[LimbFact]:
    """What stands of the facts of a patient's limbs, those that began between two days. One query."""
    require(person, "see patient", patient)
    rows = LimbFact.objects.filter(patient=patient, replaced_by=None, withdrawn_at=None)
    wanted = {name: value for name, value in (("side", side), ("kind", kind)) if value}
    rows = rows.filter(within_dates("started_on", since, until), **wanted)
    return part_of(rows, asked, filled=lambda found: found.select_related("entered_by"))


def cautions_listed(
    person: Person, patient: Patient, asked: Asked, *, side: str = "", in_force: bool = False
) -> Part[Caution]:
    """A patient's cautions, also those that were ended unless only those in force are wanted. One query."""
    require(person, "see patient", patient)
    rows = Caution.objects.filter(patient=patient)
    if side:
        rows = rows.filter(side=side)
    if in_force:
        today = today_in(patient.clinic)
        begun = Q(started_on=None) | Q(started_on__lte=today)
        rows = rows.filter(begun, Q(ended_on=None) | Q(ended_on__gt=today))
    return part_of(rows, asked, filled=lambda found: found.select_related("entered_by"))


def identifiers_listed(person: Person, patient: Patient, asked: Asked) -> Part[Identifier]:
    """Every identifier a patient has or had. One query."""
    require(person, "see patient", patient)
    return part_of(Identifier.objects.filter(patient=patient), asked)


def held_identifier(person: Person, patient_id: int, identifier_id: int) -> Identifier:
    """An identifier, held until the act is over; NotHere as for a look at it."""
    identifier = identifier_for(person, patient_id, identifier_id)
    Identifier.objects.select_for_update(of=("self",)).get(pk=identifier.pk)
    return identifier_for(person, patient_id, identifier_id)


def held_fact(person: Person, patient_id: int, fact_id: int) -> LimbFact:
    """A fact that stands, held until the act is over; NotHere as for a look at it."""
    require(person, "see patient")
    found = (
        LimbFact.objects.select_for_update(of=("self",))
        .filter(patient__clinic=person.clinic, patient_id=patient_id, pk=fact_id)
        .filter(withdrawn_at=None)
        .select_related("patient__clinic", "entered_by")
        .first()
    )
    if found is None or LimbFact.objects.filter(replaces=found).exists():
        raise NotHere("no such fact in this clinic, or it was replaced")
    return found
