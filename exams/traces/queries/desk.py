"""One recording as the Trace desk shows it."""

from typing import Any

from access.people import Person
from access.permissions import NotHere, allowed, require
from exams.hemodynamics import TraceKind, TraceReading
from exams.traces import desk as shown
from exams.traces.curves import fall_of, part_of
from exams.traces.desk import Desk
from exams.traces.figure import mean_beat_mmhg, pressure_figure, whole_view
from exams.traces.models import Analysis, ReaderMark, State, Trace
from exams.traces.queries.by_hand import read_first
from exams.traces.queries.desk_drawn import (
    Drawn,
    beat_lines,
    figure_of,
    for_script,
    repeats_of,
    strip_drawn,
    view_of,
)
from exams.traces.queries.desk_marks import (
    Suggested,
    choices,
    considered_mmhg,
    has_seen,
    leading,
    mark_lines,
    marks_at_the_place,
    newest_analysis,
    read_blind,
    standing_of,
    suggested_at_the_place,
    suggestion,
)
from exams.traces.queries.in_sheet import chart_for_desk, compared_with, in_sheet
from exams.traces.samples import unpack
from exams.visits.models import Reading
from exams.visits.queries.sheet import banner_of
from exams.visits.wording import place_words, technique_words

# What the desk says of a recording, its exam and its patient: building a query costs by the column.
_OF_A_PLACED_TRACE = (
    "clinic_id",
    "side",
    "site",
    "attempt",
    "technique",
    "kind",
    "state",
    "problem",
    "recorded_at",
    "received_at",
    "received_by__full_name",
    "withdrawn_at",
    "withdrawn_by_id",
    "withdrawn_because",
    "exam__clinic_id",
    "exam__state",
    "exam__booked_for",
    "exam__first_inflation_at",
    "exam__indication",
    "exam__cautions_confirmed_at",
    "exam__patient__clinic_id",
    "exam__patient__family_name",
    "exam__patient__given_name",
    "exam__patient__birth_date",
    "exam__patient__sex",
    "exam__patient__diabetes",
    "exam__patient__kidney_disease",
)
# Put together once: that takes Django as long as asking the database.
_PLACED = (
    Trace.objects.filter(site__gt="").select_related("exam__patient", "received_by").only(*_OF_A_PLACED_TRACE)
)


def placed_trace(person: Person, trace_id: int) -> Trace:
    """The recording of that number, with its exam, patient and clinic, but without its samples.

    Raises
    ------
    NotHere
        If it is another clinic's, or nobody has said yet which site it is of.
    """
    require(person, "see traces")
    try:
        found = _PLACED.get(pk=trace_id, clinic=person.clinic)
    except Trace.DoesNotExist:
        raise NotHere("no such recording in this clinic") from None
    assert person.clinic is not None  # noqa: S101 - a recording of no clinic was not found
    found.exam.clinic = person.clinic
    return found


def analysis_shown(trace: Trace, analysis_id: int) -> Analysis | None:
    """The suggestion a page showed for this recording; None for a number of another one."""
    return Analysis.objects.filter(trace=trace, pk=analysis_id).first()


def trace_of_reading(person: Person, reading_id: int) -> int:
    """The recording behind a reading, or behind the one it corrects by hand; NotHere if there is none."""
    require(person, "see traces")
    rows = Reading.objects.filter(exam__readings=reading_id, exam__clinic=person.clinic)
    readings = {row.pk: row for row in rows}
    marks = ReaderMark.objects.filter(reading__in=list(readings), blind=False).order_by("pk")
    behind = {mark.reading_id: mark.trace_id for mark in marks}
    row = readings.get(reading_id)
    first = read_first(row, readings.values(), behind) if row else None
    if first is None:
        raise NotHere("no recording behind this reading")
    return int(behind[first.pk])


def window_of(person: Person, trace_id: int, from_s: float, to_s: float) -> dict[str, list[int | None]]:
    """The points of the deflation between two seconds; NotHere where there is no deflation."""
    trace = placed_trace(person, trace_id)
    analysis = newest_analysis(trace)
    if trace.samples is None or analysis is None:
        raise NotHere("nothing to draw yet")
    fall = fall_of(*unpack(bytes(trace.samples)), TraceReading.from_json(analysis.reading))
    if fall is None:
        raise NotHere("no deflation to draw")
    return part_of(fall, from_s, to_s)


def desk_for(person: Person, trace_id: int, *, blind: bool = False, all_of_it: bool = False) -> Desk:
    """The desk of the recording of that number; NotHere (a 404) for one of another clinic or of nobody."""
    return desk_of(person, placed_trace(person, trace_id), blind=blind, all_of_it=all_of_it)


def desk_of(person: Person, trace: Trace, *, blind: bool = False, all_of_it: bool = False) -> Desk:
    """Everything the desk shows of a recording already read for this person; a fixed number of queries.

    Made ``blind``, nothing in it says where anyone or the program would put the mark. ``all_of_it``: the
    whole deflation is drawn instead of what lies near the mark.
    """
    suggested = suggested_at_the_place(trace)
    marks = marks_at_the_place(trace) if suggested else []
    newest = {one.trace_id: one for one in suggested if one.stands or one.trace_id == trace.pk}
    here = newest.get(trace.pk)
    if trace.state != State.READ or here is None or here.samples is None:
        return _not_read(person, trace)
    samples = unpack(bytes(here.samples))
    reading = TraceReading.from_json(here.reading)
    own = [mark for mark in marks if mark.trace_id == trace.pk]
    drawn = Drawn(samples, reading, fall_of(*samples, reading), own, person)
    if blind:
        return _blind(person, trace, here, drawn, own)
    return _seeing(person, trace, suggested, newest, drawn, marks, all_of_it)


def _seeing(
    person: Person,
    trace: Trace,
    suggested: list[Suggested],
    newest: dict[int, Suggested],
    drawn: Drawn,
    marks: list[ReaderMark],
    all_of_it: bool,
) -> Desk:
    reading = drawn.reading
    own = drawn.marks
    mine = standing_of(person, own)
    # Where this person starts from: what they have said themselves comes before the suggestion.
    start = mine or read_blind(person, own)
    others = repeats_of(trace, newest, marks)
    chart = chart_for_desk(person, trace.exam)
    considered = considered_mmhg(own, reading)
    place = place_words(trace.side, trace.site, trace.attempt)
    lead, act = shown.lead_words(place, reading)
    said = {one.analysis_id: one for one in suggested}
    history = mark_lines(person, own, said, drawn.beat_mmhg, chart.readings)
    judged = leading(history)
    if judged:
        lead = shown.marked_lead(place, judged, lead)
    view = view_of(drawn, start, all_of_it)
    figure = figure_of(drawn, view, mine, others) if drawn.fall and view else None
    strip = strip_drawn(drawn, view, start, blind=False)
    return _desk(
        person,
        trace,
        drawn,
        lead=lead,
        act=act,
        suggestion=suggestion(newest[trace.pk], reading),
        choices=choices(reading, start),
        mine=next((line for line in history if line.mine and line.stands and not line.blind), None),
        mine_blind=next((line for line in history if line.mine and line.blind), None),
        figure=figure,
        strip=strip,
        elsewhere=tuple(shown.FLAG_NAMES[flag.code] for flag in reading.flags if flag.at_s is None),
        beats=beat_lines(drawn),
        questions=shown.questions_of(
            reading, compared_with(chart, trace, considered, [line for line, _ in others])
        ),
        repeats=tuple(line for line, _ in others),
        history=history,
        sheet=in_sheet(person, trace, chart, marks),
        likely_reason=shown.likely_reason(reading),
        for_script=for_script(trace, drawn, figure, strip),
    )


def _blind(person: Person, trace: Trace, here: Suggested, drawn: Drawn, own: list[ReaderMark]) -> Desk:
    """Only what was recorded: no suggestion, no reasons, no beats (they begin where the return was found)."""
    place = place_words(trace.side, trace.site, trace.attempt)
    view = whole_view(drawn.fall) if drawn.fall else None
    strip = strip_drawn(drawn, view, None, blind=True)
    figure = None
    if drawn.fall and view:
        figure = pressure_figure(
            drawn.fall,
            view,
            beat_times_s=(),
            beat_mmhg=mean_beat_mmhg(drawn.fall, drawn.reading),
            interval=None,
            placed=(),
            repeats=(),
        )
    marked = any(mark.marked_by_id == person.user.pk for mark in own)
    begins = "the first pulse" if drawn.reading.kind is TraceKind.PULSATION else "the rise"
    lead = f"Read {place} by yourself: put the mark where {begins} begins."
    act = ""
    if marked:
        lead = f"You have already marked {place}."
        act = "A blind reading must come from somebody who has not."
    return _desk(
        person,
        trace,
        drawn,
        lead=lead,
        act=act,
        blind=True,
        had_seen=has_seen(person, trace),
        may_mark=allowed(person, "mark traces") and not marked and trace.withdrawn_at is None,
        # The number of the analysis alone: it says which one the mark will be compared with.
        suggestion=shown.Suggestion(here.analysis_id, "", "", "", None, None, None, "", False, False, ""),
        figure=figure,
        strip=strip,
        for_script=for_script(trace, drawn, figure, strip),
    )


def _not_read(person: Person, trace: Trace) -> Desk:
    place = place_words(trace.side, trace.site, trace.attempt)
    lead = {
        State.FAILED: f"{place}: this recording could not be read. {trace.problem}",
        State.GROWING: f"{place}: this recording is still arriving.",
        State.ARRIVED: f"{place}: its columns must be confirmed before it can be read.",
    }.get(State(trace.state), f"{place}: this recording waits to be read. That takes a moment.")
    return _desk(person, trace, None, lead=lead, act="", may_mark=False)


def _desk(person: Person, trace: Trace, drawn: Drawn | None, **said: Any) -> Desk:
    """The desk with what is the same for all: whose recording, how it was made, who may mark it."""
    withdrawn = ""
    if trace.withdrawn_at and trace.withdrawn_by:
        withdrawn = f"Withdrawn by {trace.withdrawn_by.full_name}: {trace.withdrawn_because}"
    said.setdefault("may_mark", allowed(person, "mark traces") and not withdrawn)
    return Desk(
        trace_id=trace.pk,
        exam_id=trace.exam_id,
        place=place_words(trace.side, trace.site, trace.attempt),
        site=trace.site,
        technique=technique_words(trace.technique),
        kind=trace.kind,
        state=trace.state,
        guidance=shown.guidance_words(trace.technique, drawn.reading.kind) if drawn else "",
        patient=banner_of(trace.exam.patient, trace.exam.booked_for.date()),
        recorded_at=shown.moment_words(trace.recorded_at),
        received_at=shown.moment_words(trace.received_at),
        received_by=trace.received_by.full_name,
        withdrawn=withdrawn,
        readable=drawn is not None and drawn.fall is not None,
        has_rhythm=drawn is not None and drawn.beat_mmhg is not None,
        **said,
    )
