"""The recordings that wait for a reader."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from access.people import Person
from access.permissions import require
from exams.traces.models import Analysis, ReaderMark, State, Trace
from exams.traces.queries.exam import to_be_reviewed, told_to
from exams.visits.wording import place_words

LISTED = 100
LISTED_FOR_A_SECOND_READER = 20
# What a line names of a recording and its patient: building a query costs by the column.
_OF_A_LINE = (
    "side",
    "site",
    "attempt",
    "received_at",
    "exam__patient__family_name",
    "exam__patient__given_name",
)


@dataclass(frozen=True)
class WaitingLine:
    """A recording in a list; ``why`` says what the program thinks of it, without a pressure."""

    trace_id: int
    patient_id: int
    patient: str
    place: str
    received_at: datetime
    why: str


def waiting_traces(person: Person) -> list[WaitingLine]:
    """Recordings without a verdict, the oldest first; two queries."""
    require(person, "mark traces")
    waiting = list(to_be_reviewed(person).select_related("exam__patient").only(*_OF_A_LINE)[:LISTED])
    analyses = Analysis.objects.filter(trace__in=[one.pk for one in waiting])
    suggested = {
        trace: (usable, confidence)
        for _, trace, usable, confidence in sorted(
            analyses.values_list("pk", "trace", "usable", "confidence"), key=lambda one: one[0]
        )
    }
    return [_line(one, _why(*suggested[one.pk]) if one.pk in suggested else "") for one in waiting]


def for_a_second_reader(person: Person) -> list[WaitingLine]:
    """Recordings others have marked and this person could read blind, the newest first; one query."""
    require(person, "mark traces")
    marks = ReaderMark.objects.filter(trace=OuterRef("pk"))
    read = (
        Trace.objects.filter(clinic=person.clinic, state=State.READ, withdrawn_at=None)
        .annotate(told=told_to(person))
        .filter(Exists(marks.filter(blind=False)), told=False)
        .select_related("exam__patient")
        .only(*_OF_A_LINE)
        .order_by("-received_at", "-pk")
    )
    return [_line(one, "") for one in read[:LISTED_FOR_A_SECOND_READER]]


def next_waiting(person: Person, after: Trace) -> Trace | None:
    """The recording to look at after this one: the next of the list, from its beginning again at its end."""
    require(person, "mark traces")
    waiting = to_be_reviewed(person).select_related("exam").exclude(pk=after.pk)
    later = Q(received_at__gt=after.received_at) | Q(received_at=after.received_at, pk__gt=after.pk)
    return waiting.filter(later).first() or waiting.first()


def _line(trace: Trace, why: str) -> WaitingLine:
    patient = trace.exam.patient
    return WaitingLine(
        trace_id=trace.pk,
        patient_id=patient.pk,
        patient=f"{patient.family_name}, {patient.given_name}",
        place=place_words(trace.side, trace.site, trace.attempt),
        received_at=trace.received_at,
        why=why,
    )


def _why(usable: bool, confidence: str) -> str:
    if not usable:
        return "not to be reported as it is"
    return f"a pressure is suggested, confidence {confidence}"
