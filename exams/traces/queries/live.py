"""A recording as it arrives: how much of it is there, what is happening, and whether it is enough."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from access import clock
from access.people import Person
from access.permissions import NotHere, require
from exams.hemodynamics import PhaseName, TraceKind, TraceReading, read_trace
from exams.traces.live_picture import PressurePicture, StripPicture, pressure_picture, strip_picture
from exams.traces.models import State, Trace, TracePiece
from exams.traces.queries.sending import SILENT_AFTER, pieces_missing
from exams.traces.samples import Floats, unpack
from exams.visits.wording import place_words

# A device sends about once a second; after this long without anything the page says so.
QUIET_AFTER_S = 5

_INFLATED_MMHG = 20.0
_MOVING_MMHG_PER_S = 4.0


@dataclass(frozen=True)
class Arriving:
    """One recording on its way, for the lists of an exam."""

    trace_id: int
    place: str
    since: datetime
    left: bool


@dataclass(frozen=True)
class Live:
    """What the live view shows.

    ``seen`` changes whenever there is something new to show. ``heard`` is when the device last sent
    something; ``quiet`` and ``left``: not for some seconds, not for ten minutes.
    """

    trace: Trace
    place: str
    growing: bool
    seen: str
    phase: str
    phase_words: str
    enough: bool
    enough_words: str
    heard: datetime
    quiet: bool
    left: bool
    missing: tuple[int, ...]
    seconds: int
    pressure: PressurePicture | None
    strip: StripPicture | None

    @property
    def stage(self) -> str:
        """Changes when something must be read aloud."""
        if not self.growing:
            return "finished"
        return "left" if self.left else "quiet" if self.quiet else "enough" if self.enough else self.phase

    @property
    def stage_words(self) -> str:
        """What is read aloud then."""
        return {
            "finished": "The recording is finished.",
            "left": "The device has been silent for more than ten minutes.",
            "quiet": "Nothing new arrives.",
            "enough": "Enough recorded.",
        }.get(self.stage, self.phase_words)


def growing_of(exam_id: int) -> list[Arriving]:
    """Recordings that are arriving for this exam, the newest first. The caller has asked for the right."""
    growing = Trace.objects.filter(exam_id=exam_id, state=State.GROWING, withdrawn_at=None)
    newest = dict(
        TracePiece.objects.filter(trace__in=growing)
        .order_by("received_at")
        .values_list("trace_id", "received_at")
    )
    return [
        Arriving(
            trace_id=one.pk,
            place=place_words(one.side, one.site, one.attempt),
            since=one.received_at,
            left=clock.now() - newest.get(one.pk, one.received_at) > SILENT_AFTER,
        )
        for one in growing.order_by("-received_at", "-pk")
    ]


def trace_shown(person: Person, trace_id: int) -> Trace:
    """The recording of that number, for whoever may see it.

    Raises
    ------
    NotHere
        If it is another clinic's, or its site is not known yet.
    """
    require(person, "see traces")
    found = (
        Trace.objects.select_related("exam__patient", "clinic")
        .filter(pk=trace_id, clinic=person.clinic)
        .exclude(site="")
        .first()
    )
    if found is None:
        raise NotHere("no such recording in this clinic")
    return found


def seen_of(trace: Trace) -> str:
    """A word for what there is to see, cheap to ask: one count."""
    pieces, heard = _heard(trace)
    return _seen(trace, pieces, heard)


def live_of(trace: Trace) -> Live:
    """Everything the live view shows of this recording; reads all that has arrived anew."""
    pieces = list(TracePiece.objects.filter(trace=trace).order_by("number"))
    heard = max((one.received_at for one in pieces), default=trace.received_at)
    growing = trace.state == State.GROWING
    samples = _joined(pieces)
    reading = read_trace(*samples, kind=TraceKind(trace.kind)) if samples else None
    phase, words = _happening(samples, reading)
    return Live(
        trace=trace,
        place=place_words(trace.side, trace.site, trace.attempt),
        growing=growing,
        seen=_seen(trace, len(pieces), heard),
        phase=phase,
        phase_words=words,
        enough=bool(reading and reading.enough),
        enough_words=reading.enough_words if reading else "",
        heard=heard,
        quiet=growing and _silent_s(heard) > QUIET_AFTER_S,
        left=growing and clock.now() - heard > SILENT_AFTER,
        missing=tuple(pieces_missing([one.number for one in pieces])),
        seconds=round(float(samples[0][-1] - samples[0][0])) if samples else 0,
        pressure=pressure_picture(*samples, reading) if samples and reading else None,
        strip=strip_picture(*samples, reading) if samples and reading else None,
    )


def _heard(trace: Trace) -> tuple[int, datetime]:
    times = list(TracePiece.objects.filter(trace=trace).values_list("received_at", flat=True))
    return len(times), max(times, default=trace.received_at)


def _seen(trace: Trace, pieces: int, heard: datetime) -> str:
    silent = _silent_s(heard)
    how_long = "left" if silent > SILENT_AFTER.total_seconds() else "quiet" if silent > QUIET_AFTER_S else ""
    return f"{trace.state}-{pieces}-{how_long if trace.state == State.GROWING else ''}"


def _silent_s(heard: datetime) -> float:
    return (clock.now() - heard).total_seconds()


def _joined(pieces: list[TracePiece]) -> tuple[Floats, Floats, Floats] | None:
    if not pieces:
        return None
    rows = zip(*(unpack(bytes(one.samples)) for one in pieces), strict=True)
    time_s, cuff_mmhg, signal = (np.concatenate(row) for row in rows)
    return time_s, cuff_mmhg, signal


def _happening(
    samples: tuple[Floats, Floats, Floats] | None, reading: TraceReading | None
) -> tuple[str, str]:
    """A word for what is happening at the end of what is there, and the same for a person."""
    if samples is None or reading is None:
        return "begun", "begun; nothing has arrived yet"
    time_s, cuff_mmhg, _ = samples
    there = np.isfinite(cuff_mmhg)
    if not there.any():
        return "no_pressure", "no cuff pressure arrives"
    mmhg = float(cuff_mmhg[there][-1])
    now = f"{round(mmhg)} mmHg"
    named = reading.phases[-1].name if reading.phases else None
    if named is PhaseName.OCCLUDED:
        return "occluded", f"occluded, deflating: {now}"
    if named is PhaseName.RETURN:
        back = "blood has returned" if reading.kind is TraceKind.REFILL else "pulses have returned"
        return "return", f"{back}, deflating: {now}"
    if named is PhaseName.STOP:
        return "stop", "the cuff is let down"
    # The reader names phases once the cuff falls; before that its pressure alone says what happens.
    last = there & (time_s >= time_s[there][-1] - 1.0)
    rising = float(cuff_mmhg[last][-1] - cuff_mmhg[last][0])
    if mmhg < _INFLATED_MMHG and rising < _MOVING_MMHG_PER_S:
        return "rest", "at rest, the cuff is not inflated"
    if rising >= _MOVING_MMHG_PER_S:
        return "inflation", f"inflating: {now}"
    return "held", f"cuff held: {now}"
