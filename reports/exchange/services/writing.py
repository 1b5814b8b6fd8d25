"""Rows of a table's people, exams, readings and findings, written a few hundred exams at a time."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from access import clock
from access.people import Person
from exams.hemodynamics import Criteria
from exams.patients import matching
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, ExamState, Preparation, Reading, Result
from reports.exchange.loading import Rows, numbers_for, ready
from reports.exchange.models import Batch, ImportedExam, ImportedPatient
from reports.exchange.spool import Spooled

_EXAM = (
    "id", "patient_id", "limited", "booked_for", "measured_at", "first_inflation_at", "indication",
    "indication_text", "imported_from",
)  # fmt: skip
_PATIENT = (
    "id", "family_name", "given_name", "birth_date", "sex", "diabetes", "kidney_disease", "name_key",
    "search_text",
)  # fmt: skip
_READING = (
    "exam_id", "side", "site", "attempt", "outcome", "pressure_mmhg", "reason", "reason_text", "technique",
    "client_id", "typed_at",
)  # fmt: skip
_RESULT = ("exam_id", "limb", "measure", "value", "band", "finding")
_CONDITION = ("exam_id", "item", "value", "client_id", "typed_at")


class Writer:
    """Writes blocks of drafts inside the act in hand; nothing of a block is held once it is written."""

    def __init__(self, batch: Batch, issuer: str, criteria: Criteria, exam_type: str, by: Person) -> None:
        self._batch, self._by, self._now = batch, by, clock.now()
        self._issuer_key = matching.key(issuer)
        entered = {"entered_at": self._now, "entered_by": by.user}
        self._patients = Rows(self._patient(), _PATIENT)
        self._identifiers = Rows(
            Identifier(clinic_id=batch.clinic_id, issuer=issuer, issuer_key=self._issuer_key),
            ("patient_id", "value", "value_key"),
        )
        self._exams = Rows(
            Exam(
                clinic_id=batch.clinic_id,
                exam_type=exam_type,
                state=ExamState.MEASURED,
                entered_later=True,
                created_at=self._now,
                created_by=by.user,
                criteria=criteria.name,
                criteria_version=criteria.version,
            ),
            _EXAM,
        )
        self._readings = Rows(Reading(**entered), _READING)
        self._conditions = Rows(Preparation(**entered), _CONDITION)
        self._results = Rows(
            Result(
                criteria=criteria.name,
                criteria_version=criteria.version,
                criteria_hash=criteria.content_hash,
                computed_at=self._now,
            ),
            _RESULT,
        )
        self._came_exams = Rows(ImportedExam(batch=batch), ("exam_id", "row", "readings"))
        self._came_people = Rows(ImportedPatient(batch=batch), ("patient_number", "row"))

    def write(self, block: Sequence[Spooled]) -> None:
        registered = self._registered(block)
        with_exam = [one for one in block if "exam" in one.said]
        told = list(zip(numbers_for(Exam, len(with_exam)), with_exam, strict=True))
        self._exams.insert(
            self._exam(number, one, one.said["patient"] or registered[one.said["key"]])
            for number, one in told
        )
        self._came_exams.insert(
            (number, one.said["row"], len(one.said["exam"]["readings"])) for number, one in told
        )
        self._readings.insert(
            (number, *reading, uuid4().hex, _moment(one))
            for number, one in told
            for reading in one.said["exam"]["readings"]
        )
        self._conditions.insert(
            (number, *condition, uuid4().hex, _moment(one))
            for number, one in told
            for condition in one.said["exam"]["conditions"]
        )
        self._results.insert((number, *finding) for number, one in told for finding in one.findings)

    def _registered(self, block: Sequence[Spooled]) -> dict[str, int]:
        """Who is new in the table, by identifier: registered with an earlier block, or now."""
        new: dict[str, Spooled] = {}
        for one in block:
            if one.said["patient"] is None:
                new.setdefault(one.said["key"], one)
        there = Identifier.objects.filter(
            clinic=self._batch.clinic_id, issuer_key=self._issuer_key, value_key__in=new, withdrawn_at=None
        )
        found: dict[str, int] = dict(there.values_list("value_key", "patient_id"))
        to_come = [one for key, one in new.items() if key not in found]
        people = list(zip(numbers_for(Patient, len(to_come)), to_come, strict=True))
        self._patients.insert(self._person(number, one) for number, one in people)
        self._came_people.insert((number, one.said["row"]) for number, one in people)
        self._identifiers.insert((number, one.said["identifier"], one.said["key"]) for number, one in people)
        return found | {one.said["key"]: number for number, one in people}

    def _patient(self, **said: Any) -> Patient:
        return Patient(
            clinic_id=self._batch.clinic_id, created_at=self._now, created_by=self._by.user, **said
        )

    def _person(self, number: int, one: Spooled) -> tuple[Any, ...]:
        said = one.said["person"]
        patient = self._patient(**{**said, "birth_date": date.fromisoformat(said["birth_date"])})
        patient.pk = number
        patient.name_key = matching.name_key(patient.family_name, patient.given_name)
        patient.search_text = matching.searchable(
            patient.family_name, patient.given_name, one.said["identifier"]
        )
        patient.clean_fields(exclude=["clinic", "created_by", "merged_into"])
        return tuple(ready(Patient, name, getattr(patient, name)) for name in _PATIENT)

    def _exam(self, number: int, one: Spooled, patient: int) -> tuple[Any, ...]:
        said, at = one.said["exam"], _moment(one)
        return (
            number, patient, ready(Exam, "limited", said["limited"]), at, at,
            at if said["inflated"] else None, said["indication"], said["indication_text"],
            f"{self._batch.file_name}, row {one.said['row']}",
        )  # fmt: skip


def _moment(one: Spooled) -> Any:
    return ready(Exam, "booked_for", datetime.fromisoformat(one.said["exam"]["at"]))
