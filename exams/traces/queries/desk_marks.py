"""What was said of a recording: the suggestion, and each reader's mark."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import CharField, IntegerField

from access.models import User
from access.people import Person
from access.prepared import Given, Prepared, stored
from exams.hemodynamics import Mark, NotStated, TraceReading
from exams.traces import desk as shown
from exams.traces.models import Analysis, ReaderMark, State, Trace, TraceSeen
from exams.traces.queries.by_hand import words_of
from exams.visits.models import Reading
from exams.visits.wording import plain

# What is said of a mark: building a query costs by the column.
_OF_A_MARK = (
    "id",
    "trace_id",
    "verdict",
    "how",
    "pressure_mmhg",
    "time_s",
    "reason",
    "blind",
    "had_seen",
    "program_version",
    "marked_at",
    "replaces_id",
    "reading_id",
    "analysis_id",
    "marked_by_id",
)


@dataclass(frozen=True)
class Suggested:
    """A recording with what one version of the reader suggests; ``stands``: it was read and not withdrawn."""

    trace_id: int
    attempt: int
    stands: bool
    samples: bytes | memoryview | None
    analysis_id: int
    version: str
    pressure_mmhg: Decimal | None
    reading: dict[str, Any]


def newest_analysis(trace: Trace) -> Analysis | None:
    return Analysis.objects.filter(trace=trace).order_by("-pk").first()


_of_the_place = Prepared(
    lambda: Trace.objects.filter(
        exam=Given("exam", IntegerField()), side=Given("side", CharField()), site=Given("site", CharField())
    ),
    "pk",
    "attempt",
    "state",
    "withdrawn_at",
    "samples",
    "analyses__pk",
    "analyses__version",
    "analyses__pressure_mmhg",
    "analyses__reading",
)


def suggested_at_the_place(trace: Trace) -> list[Suggested]:
    """What each version suggests for this recording and for every other of its place, by attempt, the newest
    last."""
    rows = _of_the_place.rows(exam=trace.exam_id, side=trace.side, site=trace.site)
    found = [
        Suggested(pk, attempt, state == State.READ and withdrawn_at is None, samples, *analysis)
        for pk, attempt, state, withdrawn_at, samples, *analysis in rows
        if analysis[0] is not None
    ]
    return sorted(found, key=lambda one: (one.attempt, one.trace_id, one.analysis_id))


_marks_of_the_place = Prepared(
    lambda: ReaderMark.objects.filter(
        trace__exam=Given("exam", IntegerField()),
        trace__side=Given("side", CharField()),
        trace__site=Given("site", CharField()),
    ).order_by("pk"),
    *_OF_A_MARK,
    "marked_by__full_name",
)


def marks_at_the_place(trace: Trace) -> list[ReaderMark]:
    """Marks on this recording and on every other of its place, the oldest first."""
    found = []
    for *said, full_name in _marks_of_the_place.rows(exam=trace.exam_id, side=trace.side, site=trace.site):
        columns = dict(zip(_OF_A_MARK, said, strict=True))
        reader = stored(User, {"id": columns["marked_by_id"], "full_name": full_name})
        found.append(stored(ReaderMark, columns, marked_by=reader))
    return found


def has_seen(person: Person, trace: Trace) -> bool:
    """Whether its suggestion, or a mark on it, has been on this person's screen."""
    return TraceSeen.objects.filter(trace=trace, person=person.user).exists()


def stands(mark: ReaderMark, marks: Sequence[ReaderMark]) -> bool:
    return all(other.replaces_id != mark.pk for other in marks)


def standing_of(person: Person, marks: Sequence[ReaderMark]) -> ReaderMark | None:
    own = [mark for mark in marks if mark.marked_by_id == person.user.pk and not mark.blind]
    return own[-1] if own else None


def read_blind(person: Person, marks: Sequence[ReaderMark]) -> ReaderMark | None:
    """This person's blind reading, which stands beside whatever they say later."""
    return next((one for one in marks if one.blind and one.marked_by_id == person.user.pk), None)


def considered_mmhg(marks: Sequence[ReaderMark], reading: TraceReading) -> float | None:
    """The pressure that is compared with repeats and other sites: that of the newest mark that stands, else
    the suggestion; None where those who marked it refused it."""
    standing = [mark for mark in marks if not mark.blind and stands(mark, marks)]
    for mark in reversed(standing):
        if mark.pressure_mmhg:
            return float(mark.pressure_mmhg)
    if standing:
        return None
    return reading.mark.pressure_mmhg if reading.usable and isinstance(reading.mark, Mark) else None


def suggestion(analysis: Suggested, reading: TraceReading) -> shown.Suggestion:
    mark, why = reading.mark, shown.why_not_offered(reading)
    if isinstance(mark, NotStated):
        return shown.Suggestion(
            analysis.analysis_id,
            analysis.version,
            "none",
            "",
            None,
            None,
            None,
            reading.confidence.value,
            False,
            False,
            why,
        )
    return shown.Suggestion(
        analysis_id=analysis.analysis_id,
        version=analysis.version,
        words=f"{shown.whole(mark.pressure_mmhg)} mmHg",
        interval_words=shown.interval_words(mark),
        mmhg=shown.whole(mark.pressure_mmhg),
        exact_mmhg=mark.pressure_mmhg,
        time_s=mark.time_s,
        confidence=reading.confidence.value,
        usable=reading.usable,
        offered=not why,
        why_not_offered=why,
    )


def choices(reading: TraceReading, own: ReaderMark | None) -> tuple[shown.Choice, ...]:
    """``own``: a mark that this person has put already, blind or not; no suggestion is chosen before it."""
    choices = []
    if isinstance(reading.mark, Mark) and not shown.why_not_offered(reading):
        mark = reading.mark
        kept = own is None or not own.pressure_mmhg
        mmhg = str(shown.whole(mark.pressure_mmhg))
        choices.append(
            shown.Choice("suggested", f"as suggested, {mmhg} mmHg", mmhg, mark.time_s, checked=kept)
        )
    for number, other in enumerate(reading.alternatives, start=1):
        mmhg = str(shown.whole(other.pressure_mmhg))
        choices.append(
            shown.Choice(
                f"other-{number}", f"at the other place, {mmhg} mmHg", mmhg, other.time_s, checked=False
            )
        )
    return tuple(choices)


def leading(history: Sequence[shown.MarkLine]) -> shown.MarkLine | None:
    """The verdict that is told first: the one behind the value of the exam sheet, else the newest."""
    standing = [line for line in history if line.stands and not line.blind]
    in_sheet = [line for line in standing if line.in_sheet]
    return next(reversed(in_sheet or standing), None)


def mark_lines(
    person: Person,
    marks: Sequence[ReaderMark],
    suggested: Mapping[int, Suggested],
    beat_mmhg: float | None,
    readings: Sequence[Reading],
) -> tuple[shown.MarkLine, ...]:
    """The marks of a recording; ``suggested`` is what each of its analyses said, by number."""
    became = {one.replaces_id: one for one in readings if one.replaces_id is not None}
    return tuple(
        shown.MarkLine(
            id=mark.pk,
            verdict=str(mark.get_verdict_display()),
            mmhg=plain(mark.pressure_mmhg),
            shown=f"{plain(mark.pressure_mmhg)} mmHg" if mark.pressure_mmhg else "no mark",
            how=str(mark.get_how_display()) if mark.pressure_mmhg else "",
            reason=mark.reason,
            who=mark.marked_by.full_name,
            when=shown.moment_words(mark.marked_at),
            version=suggested[mark.analysis_id].version,
            program_version=mark.program_version,
            blind=mark.blind,
            had_seen=mark.had_seen,
            stands=stands(mark, marks),
            mine=mark.marked_by_id == person.user.pk,
            in_sheet=mark.reading_id is not None,
            later=_later(became.get(mark.reading_id or 0)),
            apart=_apart(mark, suggested[mark.analysis_id].pressure_mmhg, beat_mmhg),
        )
        for mark in marks
    )


def _later(row: Reading | None) -> str:
    if row is None:
        return ""
    because = f": {row.replaced_because}" if row.replaced_because else ""
    return f"then {'emptied' if row.withdrawn else words_of(row)}{because}"


def _apart(mark: ReaderMark, suggested: Decimal | None, beat_mmhg: float | None) -> str:
    """How far from what was suggested at the time."""
    if mark.pressure_mmhg is None or suggested is None:
        return ""
    than = float(shown.whole(suggested))
    return shown.apart_words(float(mark.pressure_mmhg), than, beat_mmhg, "the suggestion")
