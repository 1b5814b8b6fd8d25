"""What is read of reports, and for whom; and the content of a report about to be made."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db.models import IntegerField, Prefetch, QuerySet

from access import clock
from access.models import User
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared, stored
from access.roles import Role
from exams.hemodynamics import Criteria, Interpretation, Side, conclusion_draft
from exams.identity.queries import merged_after
from exams.patients.models import Patient
from exams.traces.queries.pictures import pictures_of
from exams.visits.agreement.queries import own_noise_of
from exams.visits.further.queries import rows_of
from exams.visits.further.tables import tables_of
from exams.visits.history import limb_history
from exams.visits.ladder import Ladder
from exams.visits.models import Exam, HandOver, HandOverAttempt, RemarkAnswer
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import Chart, chart_of, moment_of
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.exams import exam_for, exams_without_report
from exams.visits.queries.ladder import ladders_of, standings_of
from exams.visits.queries.results import stored_interpretation
from jobs.models import Job, JobState
from reports.documents import assemble, over_years
from reports.documents.content import (
    ClinicFacts,
    FindingRow,
    Identity,
    ReportContent,
    Statement,
    content_hash,
)
from reports.documents.further import at_rest, further_sections
from reports.documents.models import Document, Status
from reports.documents.recordings import recording_figures
from reports.timeline.queries import events_of
from reports.timeline.record import years_of

SHOWN = 25
# What a line of the list says: the frozen content alone would be most of the page's cost.
LINE = (
    "id",
    "number",
    "created_at",
    "pdf_sha256",
    "exam__first_inflation_at",
    "exam__booked_for",
    "exam__state",
    "exam__patient__family_name",
    "exam__patient__given_name",
    "created_by__full_name",
    "job__id",
    "job__state",
)


@dataclass(frozen=True)
class Draft:
    """An exam about to be reported: its findings, the drafted conclusion, and the mark of what was seen."""

    exam: Exam
    chart: Chart
    interpretation: Interpretation
    criteria: Criteria
    drafted: str
    seen: str
    documents: tuple[Document, ...]
    open_hand_overs: tuple[HandOver, ...]

    @property
    def may_be_made(self) -> bool:
        return self.exam.state in DONE_STATES

    @property
    def at(self) -> datetime:
        return moment_of(self.exam)

    @property
    def newest_number(self) -> int:
        """Of the reports there are; 0 for none."""
        return self.documents[0].number if self.documents else 0

    @property
    def ladders(self) -> tuple[Ladder, Ladder]:
        return ladders_of(self.chart, self.interpretation)

    @property
    def rows(self) -> tuple[FindingRow, ...]:
        return assemble.finding_rows(at_rest(self.interpretation), self.criteria)

    @property
    def statements(self) -> tuple[Statement, ...]:
        return assemble.statements(self.interpretation)


@dataclass(frozen=True)
class DocumentPage:
    """One report, every report of the same exam newest first, and whether the exam has moved on since."""

    document: Document
    versions: tuple[Document, ...]
    newer: int | None
    outdated: bool
    merged_since: bool

    @property
    def at(self) -> datetime:
        return moment_of(self.document.exam)

    @property
    def named_now(self) -> str:
        """The person as a report made now would call them."""
        patient = self.document.exam.patient
        return f"{patient.family_name}, {patient.given_name}"

    @property
    def role_words(self) -> str:
        return str(Role(self.document.created_as).label)


@dataclass(frozen=True)
class ReportsPage:
    waiting: tuple[Exam, ...]
    documents: tuple[Document, ...]
    most: int = SHOWN


def draft_for(person: Person, exam_id: int) -> Draft:
    """What the page for the conclusion shows; NotHere for another clinic's exam."""
    require(person, "make report")
    exam = exam_for(person, exam_id)
    found = stored_interpretation(exam)
    return Draft(
        exam=exam,
        chart=chart_of(exam),
        interpretation=found,
        criteria=criteria_of(exam),
        drafted=conclusion_draft(found) if found.findings else "",
        seen=findings_mark(found),
        documents=_versions(exam),
        open_hand_overs=tuple(HandOver.objects.filter(exam=exam, closed_at=None).order_by("-limb", "pk")),
    )


def newest_of_exam(person: Person, exam_id: int) -> tuple[Exam, int | None]:
    """The exam, and the number of its newest report's row, None where it has none."""
    require(person, "see report")
    exam = exam_for(person, exam_id)
    return exam, Document.objects.filter(exam=exam).order_by("-number").values_list("pk", flat=True).first()


def document_for(person: Person, document_id: int) -> Document:
    """The report; NotHere for a number of another clinic or of nobody."""
    require(person, "see report")
    found = _of_clinic(person).filter(pk=document_id).first()
    if found is None:
        raise NotHere("no such report in this clinic")
    return found


def document_page(person: Person, document_id: int) -> DocumentPage:
    document = document_for(person, document_id)
    versions = _versions(document.exam)
    newest = versions[0].number
    return DocumentPage(
        document=document,
        versions=versions,
        newer=newest if newest > document.number else None,
        outdated=is_outdated(document),
        merged_since=merged_after(document.exam.patient, document.created_at),
    )


def reports_page(person: Person) -> ReportsPage:
    """Exams whose report is yet to be asked for, and the newest reports; a fixed number of queries."""
    require(person, "see report")
    asked_for = being_made(person)
    waiting = tuple(exam for exam in exams_without_report(person) if exam.pk not in asked_for)
    clinic = person.clinic
    made = _newest.rows(clinic=clinic.pk) if clinic else []
    return ReportsPage(waiting, tuple(_document(row) for row in made))


_newest = Prepared(
    lambda: Document.objects.filter(clinic_id=Given("clinic", IntegerField())).order_by("-created_at", "-pk")[
        :SHOWN
    ],
    *LINE,
)


def _document(row: Sequence[Any]) -> Document:
    """What a line of the list says of a report, its exam, its patient, who made it, and its job."""
    of: dict[str, dict[str, Any]] = {"": {}, "exam": {}, "exam__patient": {}, "created_by": {}, "job": {}}
    for name, value in zip(LINE, row, strict=True):
        whose, _, column = name.rpartition("__")
        of[whose][column] = value
    exam = stored(Exam, of["exam"], patient=stored(Patient, of["exam__patient"]))
    job = stored(Job, of["job"]) if of["job"]["id"] is not None else None
    return stored(Document, of[""], exam=exam, created_by=stored(User, of["created_by"]), job=job)


_being_made = Prepared(
    lambda: Document.objects.filter(
        clinic_id=Given("clinic", IntegerField()), job__state__in=[JobState.WAITING, JobState.RUNNING]
    ),
    "exam_id",
)


def being_made(person: Person) -> frozenset[int]:
    """The numbers of the clinic's exams whose report was asked for and is not printed yet; one query."""
    require(person, "see today")
    if person.clinic is None:
        return frozenset()
    return frozenset(number for (number,) in _being_made.rows(clinic=person.clinic.pk))


def is_outdated(document: Document) -> bool:
    """Whether the exam reads otherwise now than when the report was made."""
    return document.content["interpretation"] != stored_interpretation(document.exam).to_json()


def numbers_changed(document: Document) -> bool:
    """Whether a measured number reads otherwise now: a correction, not a fact of a limb learnt since."""
    now = stored_interpretation(document.exam).to_json()
    return _numbers(document.content["interpretation"]) != _numbers(now)


def _numbers(interpretation: Mapping[str, Any]) -> dict[tuple[str, str | None], tuple[Any, str]]:
    return {
        (one["measure"], one["limb"]): (one["value"], one["shown"])
        for one in interpretation["findings"]
        if one["unit"]
    }


def findings_mark(found: Interpretation) -> str:
    """A hash of the findings: a conclusion is about what was seen, so it may not outlive a correction."""
    return content_hash(found.to_json())


def report_content(
    *,
    exam: Exam,
    conclusion: str,
    number: int,
    supersedes: int | None,
    role: str,
    by: Person,
) -> ReportContent:
    """Everything the report of an exam says, as the record stands now."""
    found = stored_interpretation(exam)
    chart = chart_of(exam)
    criteria = criteria_of(exam)
    zone, patient, clinic = exam.clinic.zone, exam.patient, exam.clinic
    slips = (
        HandOver.objects.filter(exam=exam)
        .select_related("raised_by", "told_by")
        .prefetch_related(Prefetch("attempts", HandOverAttempt.objects.order_by("pk")))
        .order_by("-limb", "pk")
    )
    answers = RemarkAnswer.objects.filter(exam=exam).order_by("pk")
    at = moment_of(exam)
    # Only what was known: a report of an old exam does not compare it with a later one.
    records = [one for one in limb_history(by, patient) if (one.at, one.exam_id) <= (at, exam.pk)]
    resting = at_rest(found)
    own = own_noise_of(clinic)
    years = years_of(records, events_of(patient), criteria, zone, chart.on, own=own)
    now = clock.now()
    made_at = assemble.moment(now, zone)
    indication = exam.indication_text or exam.get_indication_display() or assemble.NOT_RECORDED
    return ReportContent(
        title=assemble.TITLES[exam.exam_type],
        subtitle=f"Exam of {assemble.moment(at, zone)}. Indication: {indication}.",
        status=str(Status.PRELIMINARY.label),
        number=number,
        supersedes=supersedes,
        exam_number=f"exam {exam.pk}",
        clinic=ClinicFacts(clinic.name, clinic.address, clinic.phone),
        identity=_identity(exam),
        invented=settings.DEMO,
        conclusion=conclusion,
        exam=assemble.exam_facts(chart) + assemble.whole_exam(resting),
        conditions=assemble.conditions(chart),
        right=standings_of(chart, Side.RIGHT, found),
        left=standings_of(chart, Side.LEFT, found),
        findings=assemble.finding_rows(resting, criteria),
        statements=assemble.statements(resting, conclusion),
        readings=assemble.reading_rows(chart),
        recordings=recording_figures(chart, pictures_of(chart.standing.values(), chart.readings)),
        further=further_sections(tables_of(rows_of(exam), found)),
        hand_overs=tuple(assemble.hand_over_row(slip, tuple(slip.attempts.all()), zone) for slip in slips),
        comparisons=over_years.comparisons(years, exam.pk),
        trend=over_years.trend(years),
        limitations=assemble.limitations(chart, answers),
        criteria=f"{criteria.label}: {criteria.title}",
        criteria_hash=found.criteria_hash or criteria.content_hash,
        sources=assemble.sources(criteria, found.findings),
        uncertainty=assemble.UNCERTAINTY,
        software=f"vaslab {settings.VERSION}",
        made=f"Made by {by.name} as {Role(role).label} on {made_at}.",
        made_at=f"made {made_at}",
        interpretation=found.to_json(),
    )


def _identity(exam: Exam) -> Identity:
    patient = exam.patient
    numbers = patient.identifiers.filter(withdrawn_at=None).order_by("pk")
    return Identity(
        name=f"{patient.family_name}, {patient.given_name}",
        birth_date=assemble.day(patient.birth_date),
        sex=str(patient.get_sex_display()),
        identifiers=tuple(f"{one.issuer} {one.value}" for one in numbers) or ("no identifier on record",),
    )


def _versions(exam: Exam) -> tuple[Document, ...]:
    rows = Document.objects.filter(exam=exam).select_related("created_by", "job").defer("content")
    return tuple(rows.order_by("-number"))


def _of_clinic(person: Person) -> QuerySet[Document]:
    return Document.objects.filter(clinic=person.clinic).select_related(
        "exam__patient", "exam__clinic", "clinic", "created_by", "job"
    )
