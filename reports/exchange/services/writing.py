"""Rows of a table's people, exams, readings and findings, written a few hundred exams at a time."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any
from uuid import uuid4

from access import clock
from access.people import Person
from exams.hemodynamics import Criteria
from exams.patients import matching
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, ExamState, Preparation, Reading, Result
from reports.exchange.loading import insert_rows, ready
from reports.exchange.models import Batch, ImportedExam, ImportedPatient
from reports.exchange.spool import Spooled

_READING = (
    "exam_id", "side", "site", "attempt", "outcome", "pressure_mmhg", "reason", "reason_text", "technique",
    "override_because", "client_id", "typed_at", "entered_at", "entered_by_id", "withdrawn",
    "replaced_because",
)  # fmt: skip
_RESULT = (
    "exam_id", "limb", "measure", "criteria", "criteria_version", "criteria_hash", "value", "band", "finding",
    "computed_at",
)  # fmt: skip
_CONDITION = (
    "exam_id", "item", "value", "client_id", "typed_at", "entered_at", "entered_by_id", "replaced_because",
)  # fmt: skip
_IDENTIFIER = (
    "patient_id", "clinic_id", "issuer", "value", "issuer_key", "value_key", "withdrawn_because",
)  # fmt: skip


class Writer:
    """Writes blocks of drafts inside the act in hand; nothing of a block is held once it is written."""

    def __init__(self, batch: Batch, issuer: str, criteria: Criteria, exam_type: str, by: Person) -> None:
        self.batch, self.issuer, self.criteria, self.exam_type, self.by = (
            batch,
            issuer,
            criteria,
            exam_type,
            by,
        )
        self._issuer_key = matching.key(issuer)
        self._now = clock.now()
        self._stored_now = ready(Reading, "entered_at", self._now)
        self._no = ready(Reading, "withdrawn", False)

    def write(self, block: Sequence[Spooled]) -> None:
        registered = self._registered(block)
        patients = [one.said["patient"] or registered[one.said["key"]] for one in block]
        with_exam = [
            (one, patient) for one, patient in zip(block, patients, strict=True) if "exam" in one.said
        ]
        exams = Exam.objects.bulk_create(self._exam(one, patient) for one, patient in with_exam)
        told = [(exam, one) for exam, (one, _) in zip(exams, with_exam, strict=True)]
        ImportedExam.objects.bulk_create(
            ImportedExam(
                batch=self.batch, exam=exam, row=one.said["row"], readings=len(one.said["exam"]["readings"])
            )
            for exam, one in told
        )
        insert_rows(Reading, _READING, self._readings(told))
        insert_rows(Preparation, _CONDITION, self._conditions(told))
        insert_rows(Result, _RESULT, self._results(told))

    def _registered(self, block: Sequence[Spooled]) -> dict[str, int]:
        """Who is new in the table, by identifier: registered with an earlier block, or now."""
        new: dict[str, Spooled] = {}
        for one in block:
            if one.said["patient"] is None:
                new.setdefault(one.said["key"], one)
        there = Identifier.objects.filter(
            clinic=self.batch.clinic_id, issuer_key=self._issuer_key, value_key__in=new, withdrawn_at=None
        )
        found: dict[str, int] = dict(there.values_list("value_key", "patient_id"))
        to_come = {key: one for key, one in new.items() if key not in found}
        people = Patient.objects.bulk_create(self._person(one) for one in to_come.values())
        ImportedPatient.objects.bulk_create(
            ImportedPatient(batch=self.batch, patient_number=patient.pk, row=one.said["row"])
            for patient, one in zip(people, to_come.values(), strict=True)
        )
        rows = [
            (patient.pk, self.batch.clinic_id, self.issuer, one.said["identifier"], self._issuer_key, key, "")
            for patient, (key, one) in zip(people, to_come.items(), strict=True)
        ]
        insert_rows(Identifier, _IDENTIFIER, rows)
        return found | {key: patient.pk for patient, key in zip(people, to_come, strict=True)}

    def _person(self, one: Spooled) -> Patient:
        said = one.said["person"]
        patient = Patient(
            clinic_id=self.batch.clinic_id,
            created_at=self._now,
            created_by=self.by.user,
            **{**said, "birth_date": date.fromisoformat(said["birth_date"])},
        )
        patient.name_key = matching.name_key(patient.family_name, patient.given_name)
        patient.search_text = matching.searchable(
            patient.family_name, patient.given_name, one.said["identifier"]
        )
        pointing = ["clinic", "created_by", "merged_into"]
        patient.clean_fields(exclude=pointing)
        return patient

    def _exam(self, one: Spooled, patient: int) -> Exam:
        said = one.said["exam"]
        at = datetime.fromisoformat(said["at"])
        return Exam(
            clinic_id=self.batch.clinic_id,
            patient_id=patient,
            exam_type=self.exam_type,
            state=ExamState.MEASURED,
            limited=said["limited"],
            booked_for=at,
            indication=said["indication"],
            indication_text=said["indication_text"],
            first_inflation_at=at if said["inflated"] else None,
            measured_at=at,
            entered_later=True,
            imported_from=f"{self.batch.file_name}, row {one.said['row']}",
            created_at=self._now,
            created_by=self.by.user,
            criteria=self.criteria.name,
            criteria_version=self.criteria.version,
        )

    def _readings(self, told: Sequence[tuple[Exam, Spooled]]) -> Iterator[tuple[Any, ...]]:
        by = self.by.user.pk
        for exam, one in told:
            at = ready(Reading, "typed_at", exam.booked_for)
            for side, site, attempt, outcome, mmhg, reason, reason_text, technique in one.said["exam"][
                "readings"
            ]:
                yield (
                    exam.pk, side, site, attempt, outcome, mmhg, reason, reason_text, technique, "",
                    uuid4().hex, at, self._stored_now, by, self._no, "",
                )  # fmt: skip

    def _conditions(self, told: Sequence[tuple[Exam, Spooled]]) -> Iterator[tuple[Any, ...]]:
        by = self.by.user.pk
        for exam, one in told:
            at = ready(Reading, "typed_at", exam.booked_for)
            for item, value in one.said["exam"]["conditions"]:
                yield exam.pk, str(item), value, uuid4().hex, at, self._stored_now, by, ""

    def _results(self, told: Sequence[tuple[Exam, Spooled]]) -> Iterator[tuple[Any, ...]]:
        rules = (self.criteria.name, self.criteria.version, self.criteria.content_hash)
        for exam, one in told:
            for limb, measure, value, band, finding in one.findings:
                yield exam.pk, limb, measure, *rules, value, band, finding, self._stored_now
