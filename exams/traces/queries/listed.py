"""What programs read of recordings: a list by filter, a part at a time, and what was read from one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from access.paging import Asked, Part, part_of, within_days
from access.people import Person
from access.permissions import NotHere, require
from exams.traces.models import Analysis, ReaderMark, Trace
from exams.traces.queries.exam import trace_for
from exams.visits.models import ExamState


def traces_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    exam: int | None = None,
    side: str = "",
    site: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[Trace]:
    """The clinic's recordings that were not withdrawn, those received from since to until, without what was
    read from them: whoever could still read one blind shall not learn it from a list. One query."""
    require(person, "see traces")
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    received = within_days("received_at", person.clinic, since, until)
    rows = Trace.objects.filter(received, clinic=person.clinic, withdrawn_at=None)
    rows = rows.exclude(exam__state=ExamState.IN_ERROR)
    for name, number in (("exam__patient_id", patient), ("exam_id", exam)):
        if number is not None:
            rows = rows.filter(**{name: number})
    for name, words in (("side", side), ("site", site)):
        if words:
            rows = rows.filter(**{name: words})
    return part_of(
        rows, asked, filled=lambda found: found.select_related("exam", "received_by").defer("samples")
    )


@dataclass(frozen=True)
class TraceRead:
    """A recording, the newest suggestion for it, and every reader's mark, the first first."""

    trace: Trace
    suggestion: Analysis | None
    marks: Sequence[ReaderMark]


def trace_read(person: Person, trace_id: int) -> TraceRead:
    """NotHere for a number of another clinic or of nobody. Three queries."""
    trace = trace_for(person, trace_id)
    return TraceRead(
        trace=trace,
        suggestion=Analysis.objects.filter(trace=trace).defer("reading").order_by("-pk").first(),
        marks=tuple(ReaderMark.objects.filter(trace=trace).select_related("marked_by").order_by("pk")),
    )
