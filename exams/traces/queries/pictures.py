"""Recordings behind readings, for the pages and papers that show a reading: where they are, and in small."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, Q, Subquery
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from access.people import Person
from access.permissions import NotHere, allowed
from exams.hemodynamics import Mark, TraceReading
from exams.patients.models import Patient
from exams.traces.desk import FLAG_NAMES, interval_words, whole, why_not_offered
from exams.traces.models import Analysis, ReaderMark, Trace
from exams.traces.queries.by_hand import by_hand_words, read_first
from exams.traces.queries.desk import placed_trace
from exams.traces.queries.desk_marks import newest_analysis
from exams.traces.queries.exam import told_to
from exams.traces.samples import unpack
from exams.traces.thumbnail import Shown, Sketch, sketch_of
from exams.visits.models import Reading
from exams.visits.wording import place_words, plain, technique_words


@dataclass(frozen=True)
class TraceLink:
    """Where the recording of a place is: "RIGHT hallux, again".

    ``drawn``: its picture may stand beside the link. It shows the mark, and whoever could still read the
    recording blind is not shown that unasked. ``by_hand``: how the value comes to be another than that of the
    recording; empty where it is not.
    """

    trace_id: int
    place: str
    drawn: bool
    by_hand: str = ""


@dataclass(frozen=True)
class Marked:
    """Who put the mark that counts, how, when, and in which words they explained it."""

    who: str
    how: str
    at: datetime
    reason: str


@dataclass(frozen=True)
class TracePicture:
    """A recording in small.

    ``pressure`` ("62 mmHg", or empty), ``quality`` ("good", "not reviewed yet", …) and ``suggested`` are
    words, ``flags`` the names of what was found wrong, ``version`` that of the reader; ``marked`` is None
    where nobody has, ``by_hand`` empty where the reading is still the one of the mark. The sketch's sentence
    says it all to whoever does not see the picture.
    """

    trace_id: int
    place: str
    technique: str
    sketch: Sketch
    pressure: str
    quality: str
    suggested: str
    marked: Marked | None
    flags: tuple[str, ...]
    version: str
    by_hand: str = ""

    @property
    def svg(self) -> SafeString:
        return render_to_string("traces/_sketch.html", {"sketch": self.sketch})


def recordings_behind(
    person: Person, patient: Patient, exams: Collection[int] | None = None
) -> dict[int, TraceLink]:
    """The recording behind each reading of a patient that was read from one; one query, however many.

    With `exams`, of the readings of these exams alone. A value that was corrected by hand keeps the recording
    of the value it replaces. None for whoever may not see recordings.
    """
    if not allowed(person, "see traces"):
        return {}
    wrote = ReaderMark.objects.filter(reading=OuterRef("pk"), blind=False).order_by("-pk")
    # A mark writes at the place of its recording, so that the recording itself need not be read.
    readings = Reading.objects.filter(exam__patient=patient, exam__clinic=person.clinic)
    if exams is not None:
        readings = readings.filter(exam__in=exams)
    rows = list(
        readings.annotate(trace_id=Subquery(wrote.values("trace_id")[:1]))
        .filter(Q(trace_id__isnull=False) | Q(replaces__isnull=False))
        .annotate(told=told_to(person, "trace_id"))
        .order_by("pk")
    )
    reads = allowed(person, "mark traces")
    traces = {row.pk: row.trace_id for row in rows if row.trace_id is not None}
    found = {}
    for row in rows:
        first: Any = read_first(row, rows, traces)
        if first is None:
            continue
        told = first.told or not reads
        by_hand = by_hand_words(first) if told else "corrected by hand"
        found[row.pk] = TraceLink(
            first.trace_id,
            place_words(first.side, first.site, first.attempt),
            drawn=told,
            by_hand="" if first == row else by_hand,
        )
    return found


def any_recording_of(patient: Patient) -> bool:
    """Whether any value of a patient was read from a recording; one query."""
    return ReaderMark.objects.filter(reading__exam__patient=patient, blind=False).exists()


def pictures_of(wanted: Iterable[Reading], among: Collection[Reading]) -> dict[int, TracePicture]:
    """The picture behind each reading that was read from a recording, by the reading's number; one query.

    ``among`` are all readings of their exams: a value that was corrected by hand keeps the picture of the one
    it replaces. The caller has asked whether they may be seen.
    """
    marks = (
        ReaderMark.objects.filter(reading__in=among, blind=False)
        .select_related("trace", "analysis", "marked_by")
        .order_by("pk")
    )
    newest = {mark.reading_id: mark for mark in marks}
    found = {}
    for row in wanted:
        first = read_first(row, among, newest)
        mark = newest[first.pk] if first else None
        picture = _picture(mark.trace, mark.analysis, mark) if mark else None
        if first and picture:
            found[row.pk] = picture if first == row else replace(picture, by_hand=by_hand_words(first))
    return found


def picture_of(person: Person, trace_id: int) -> TracePicture:
    """The picture of one recording, with the newest verdict on it; NotHere where it was not read yet."""
    trace = placed_trace(person, trace_id)
    analysis = newest_analysis(trace)
    mark = (
        ReaderMark.objects.filter(trace=trace, blind=False)
        .select_related("marked_by")
        .order_by("-pk")
        .first()
    )
    picture = _picture(trace, analysis, mark) if analysis else None
    if picture is None:
        raise NotHere("nothing to draw yet")
    return picture


def _picture(trace: Trace, analysis: Analysis, mark: ReaderMark | None) -> TracePicture | None:
    if trace.samples is None:
        return None
    reading = TraceReading.from_json(analysis.reading)
    unread = "not reviewed yet" if reading.usable else "not reviewed, not to be reported"
    quality = str(mark.get_verdict_display()) if mark else unread
    pressure = f"{plain(mark.pressure_mmhg)} mmHg" if mark and mark.pressure_mmhg else ""
    suggested = _suggested(reading)
    marked = None
    said = quality
    if mark:
        marked = Marked(mark.marked_by.full_name, str(mark.get_how_display()), mark.marked_at, mark.reason)
        because = f", because: {mark.reason}" if mark.reason else ""
        how = f" ({marked.how})" if pressure else ""
        said = f"{pressure or 'no mark'}, {quality}, by {marked.who}{how}{because}"
    flags = tuple(FLAG_NAMES[flag.code] for flag in reading.flags)
    technique = technique_words(trace.technique)
    place = place_words(trace.side, trace.site, trace.attempt)
    sentence = (
        f"Recording of {place}, {technique}: {said}. Suggested: {suggested}, by reader version "
        f"{analysis.version}. Flags: {', '.join(flags) or 'none'}."
    )
    shown = Shown(plain(mark.pressure_mmhg) if mark else "", mark.time_s if mark else None, quality, sentence)
    return TracePicture(
        trace_id=trace.pk,
        place=place,
        technique=technique,
        sketch=sketch_of(*unpack(bytes(trace.samples)), reading, shown),
        pressure=pressure,
        quality=quality,
        suggested=suggested,
        marked=marked,
        flags=flags,
        version=analysis.version,
    )


def _suggested(reading: TraceReading) -> str:
    if not isinstance(reading.mark, Mark) or not reading.usable:
        return "not to be reported"
    unsure = " (unsure)" if why_not_offered(reading) else ""
    mark = reading.mark
    return f"{whole(mark.pressure_mmhg)} mmHg ({interval_words(mark)}){unsure}"
