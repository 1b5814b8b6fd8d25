"""What the clinic's record knows of the people and days of a block of drafts; a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from django.db.models import Q

from access.models import Clinic
from exams.patients import matching
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.visits.models import Exam, ExamState, Outcome, Reading
from exams.visits.plan import ANKLE_SITES
from reports.exchange.draft import Draft

FLOW = (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE)


@dataclass(frozen=True, slots=True)
class KnownExam:
    """An exam on record: its moment, and the sides at whose ankle it found flow."""

    pk: int
    at: datetime
    inflated: bool
    flow: frozenset[str]


@dataclass(frozen=True)
class Known:
    """Who is known by identifier, who else looks alike, and what is on record of those who are known.

    `people`: by identifier as compared. `alike`: candidates by name and by birth date. `exams`, `cautions`
    and `facts`: by number of the patient. `merged`: identifiers that lead to a record merged in a circle.
    """

    people: dict[str, Patient]
    by_name: dict[str, list[Patient]]
    by_birth: dict[date, list[Patient]]
    by_number: dict[str, Patient]
    exams: dict[int, list[KnownExam]]
    cautions: dict[int, list[Caution]]
    facts: dict[int, list[LimbFact]]


def known_of(clinic: Clinic, issuer: str, drafts: Sequence[Draft], *, names: bool) -> Known:
    """What is known of a block. `names`: whether people are looked for by name and birth date too."""
    keys = {draft.identifier_key for draft in drafts if draft.identifier_key}
    numbers: dict[str, Patient] = {}
    people: dict[str, Patient] = {}
    issuer_key = matching.key(issuer)
    given = Identifier.objects.filter(clinic=clinic, value_key__in=keys, withdrawn_at=None)
    for one in given.select_related("patient__merged_into__merged_into"):
        patient = _survivor(one.patient)
        patient.clinic = clinic
        numbers[one.value_key] = patient
        if one.issuer_key == issuer_key:
            people[one.value_key] = patient
    by_name: dict[str, list[Patient]] = defaultdict(list)
    by_birth: dict[date, list[Patient]] = defaultdict(list)
    new = [draft for draft in drafts if draft.identifier_key not in people]
    if names and new:
        for other in _candidates(clinic, new):
            by_name[other.name_key].append(other)
            by_birth[other.birth_date].append(other)
    ids = {patient.pk for patient in people.values()}
    return Known(people, by_name, by_birth, numbers, *_on_record(ids))


def same_readings(exam: int, draft: Draft) -> bool:
    """Whether an exam on record holds just what the draft holds. One query."""
    standing = Reading.objects.filter(exam=exam, withdrawn=False, replaced_by=None)
    there = {
        (side, site, outcome, pressure)
        for side, site, outcome, pressure in standing.values_list("side", "site", "outcome", "pressure_mmhg")
    }
    return there == {
        (place.side, place.site, str(value.outcome), value.pressure_mmhg) for place, value in draft.readings
    }


# One row is held against everybody born that day, and everybody against each row of that day.
_squeezed = lru_cache(maxsize=20_000)(matching.squeezed)


def looks_like(draft: Draft, other: Patient) -> bool:
    """Whether a draft may be of this person: by the rules of the warning when somebody is registered."""
    if draft.name_key == other.name_key:
        return True
    if other.birth_date not in births_meant(draft.born):
        return False
    family, given = _squeezed(draft.family_name), _squeezed(draft.given_name)
    theirs = _squeezed(other.family_name), _squeezed(other.given_name)
    alike = any(
        matching.one_slip_apart(family, one) and matching.one_slip_apart(given, two)
        for one, two in (theirs, theirs[::-1])
    )
    return alike or family == theirs[0] or given == theirs[1]


def births_meant(born: date | None) -> tuple[date, ...]:
    """A birth date, and the same with day and month changed about."""
    if born is None:
        return ()
    if born.day > 12 or born.day == born.month:
        return (born,)
    return (born, born.replace(day=born.month, month=born.day))


def _survivor(patient: Patient) -> Patient:
    while patient.merged_into is not None:
        patient = patient.merged_into
    return patient


def _candidates(clinic: Clinic, drafts: Iterable[Draft]) -> Iterable[Patient]:
    names = {draft.name_key for draft in drafts}
    births = {day for draft in drafts for day in births_meant(draft.born)}
    near = Q(clinic=clinic, name_key__in=names) | Q(clinic=clinic, birth_date__in=births)
    return (
        Patient.objects.filter(near, merged_into=None)
        .only("family_name", "given_name", "name_key", "birth_date")
        .order_by("pk")
    )


def _on_record(ids: set[int]) -> tuple[dict[int, Any], dict[int, Any], dict[int, Any]]:
    exams: dict[int, list[KnownExam]] = defaultdict(list)
    cautions: dict[int, list[Caution]] = defaultdict(list)
    facts: dict[int, list[LimbFact]] = defaultdict(list)
    if not ids:
        return exams, cautions, facts
    flows: dict[int, set[str]] = defaultdict(set)
    standing = Reading.objects.filter(
        exam__patient_id__in=ids, site__in=ANKLE_SITES, outcome__in=FLOW, withdrawn=False, replaced_by=None
    ).exclude(exam__state=ExamState.IN_ERROR)
    for exam, side in standing.values_list("exam_id", "side").distinct():
        flows[exam].add(side)
    true = Exam.objects.filter(patient_id__in=ids).exclude(state=ExamState.IN_ERROR)
    for pk, patient, first, booked in true.values_list(
        "pk", "patient_id", "first_inflation_at", "booked_for"
    ):
        exams[patient].append(KnownExam(pk, first or booked, first is not None, frozenset(flows[pk])))
    for caution in Caution.objects.filter(patient_id__in=ids).order_by("pk"):
        cautions[caution.patient_id].append(caution)
    rows = LimbFact.objects.filter(patient_id__in=ids, replaced_by=None, withdrawn_at=None)
    for fact in rows.order_by("pk"):
        facts[fact.patient_id].append(fact)
    return exams, cautions, facts
