"""Small pictures of recordings, for the pages and papers that show their readings."""

from collections.abc import Iterable
from dataclasses import dataclass

from access.people import Person
from access.permissions import NotHere
from exams.hemodynamics import Mark, TraceReading
from exams.traces.desk import interval_words, whole, why_not_offered
from exams.traces.models import Analysis, ReaderMark, Trace
from exams.traces.queries.desk import placed_trace
from exams.traces.queries.desk_marks import newest_analysis
from exams.traces.samples import unpack
from exams.traces.thumbnail import Shown, thumbnail
from exams.visits.wording import place_words, plain


@dataclass(frozen=True)
class TracePicture:
    """A recording in small.

    ``pressure`` ("62 mmHg", or empty), ``quality`` ("good", "not reviewed yet", …), ``suggested`` and
    ``marked`` are words; ``sentence`` says it all to whoever does not see the picture.
    """

    trace_id: int
    svg: str
    pressure: str
    quality: str
    suggested: str
    marked: str
    sentence: str


def pictures_of(reading_ids: Iterable[int]) -> dict[int, TracePicture]:
    """The picture behind each reading that was read from a recording; one query however many there are.

    The caller has asked whether the readings may be seen.
    """
    marks = (
        ReaderMark.objects.filter(reading_id__in=list(reading_ids), blind=False)
        .select_related("trace", "analysis", "marked_by")
        .order_by("pk")
    )
    newest = {mark.reading_id: mark for mark in marks if mark.reading_id is not None}
    return {
        reading_id: picture
        for reading_id, mark in newest.items()
        if (picture := _picture(mark.trace, mark.analysis, mark)) is not None
    }


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
    pressure = f"{plain(mark.pressure_mmhg)} mmHg" if mark and mark.pressure_mmhg else ""
    unread = "not reviewed yet" if reading.usable else "not reviewed, not to be reported"
    quality = str(mark.get_verdict_display()) if mark else unread
    suggested = _suggested(reading)
    marked = f"{pressure or 'no mark'}, {quality}, {mark.marked_by.full_name}" if mark else ""
    place = place_words(trace.side, trace.site, trace.attempt)
    sentence = f"Recording of {place}: {marked or quality}. {suggested}"
    shown = Shown(plain(mark.pressure_mmhg) if mark else "", mark.time_s if mark else None, quality, sentence)
    svg = thumbnail(*unpack(bytes(trace.samples)), reading, shown)
    return TracePicture(trace.pk, svg, pressure, quality, suggested, marked, sentence)


def _suggested(reading: TraceReading) -> str:
    if not isinstance(reading.mark, Mark) or not reading.usable:
        return "Suggested: not to be reported."
    unsure = " (unsure)" if why_not_offered(reading) else ""
    mark = reading.mark
    return f"Suggested: {whole(mark.pressure_mmhg)} mmHg ({interval_words(mark)}){unsure}."
