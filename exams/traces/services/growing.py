"""Recordings that a device at the bedside sends: whole, or in pieces while they are being made."""

from dataclasses import asdict, dataclass

import numpy as np
from django.core.exceptions import ValidationError
from django.db.models import Sum

from access import clock
from access.people import Person
from access.permissions import require
from access.refusals import Conflict, TooMuch, Unfit
from access.trail import one_act, record
from exams.traces.files import MOST_SAMPLES, MOST_SECONDS
from exams.traces.models import State, Trace, TracePiece
from exams.traces.queries.sending import SILENT_AFTER, last_heard, pieces_missing, pieces_there
from exams.traces.samples import Floats, checksum_of_samples, pack, sampling_hz_of, unpack
from exams.traces.services.sending import Said, new_trace, sent_once
from exams.visits.models import Exam
from jobs.services import start

READING = "Reading of a trace"

# A recording of half an hour in pieces of half a second.
MOST_PIECES = 3600


@dataclass(frozen=True)
class Samples:
    """A recording or a part of it: seconds, mmHg and signal, arrays of one length, times finite and never
    falling, missing values NaN."""

    time_s: Floats
    cuff_mmhg: Floats
    signal: Floats

    @property
    def checksum(self) -> str:
        return checksum_of_samples(self.time_s, self.cuff_mmhg, self.signal)


@one_act()
def receive_whole(*, exam: Exam, said: Said, samples: Samples, key: str, by: Person) -> tuple[Trace, bool]:
    """Take a whole recording and have it read; the trace, and whether it is new.

    Raises
    ------
    Conflict
        If the exam is not being measured, or ``key`` came with another recording before.
    Unfit, TooMuch
        If the recording or what is said of it cannot be taken.
    """
    require(by, "send traces", exam)

    def make() -> Trace:
        trace = new_trace(exam, said, key, by)
        TracePiece.objects.create(trace=trace, number=1, **_packed(samples))
        return _assembled(trace, by, details={"pieces": 1})

    return sent_once(key, {"whole": exam.pk, **asdict(said), "sum": samples.checksum}, by, make)


@one_act()
def begin_trace(*, exam: Exam, said: Said, key: str, by: Person) -> tuple[Trace, bool]:
    """Begin a recording whose pieces will follow; the trace, and whether it is new.

    Raises
    ------
    Conflict
        If the exam is not being measured, or ``key`` came with something else before.
    Unfit
        If what is said of the recording cannot be.
    """
    require(by, "send traces", exam)

    def make() -> Trace:
        trace = new_trace(exam, said, key, by)
        record(by, "trace begun", trace, details={"place": _place(trace)})
        return trace

    return sent_once(key, {"growing": exam.pk, **asdict(said)}, by, make)


@one_act()
def add_piece(*, trace: Trace, number: int, samples: Samples, by: Person) -> bool:
    """Take one piece; whether it is new. No trail line: beginning and end of the recording leave one each.

    Raises
    ------
    Conflict
        If another piece stands under this number, or the recording is finished.
    Unfit
        If its times do not lie between those of its neighbours.
    TooMuch
        If the recording would become longer than is taken.
    """
    require(by, "send traces", trace)
    if not 1 <= number <= MOST_PIECES:
        raise Unfit(
            "piece_number",
            f"Pieces are numbered from 1 to {MOST_PIECES}.",
            "Send fewer and longer pieces, of half a second or more.",
            field="number",
        )
    trace = _held(trace)
    _not_withdrawn(trace)
    packed = _packed(samples)
    there = TracePiece.objects.filter(trace=trace, number=number).first()
    if there is not None:
        if there.samples_sha256 == packed["samples_sha256"]:
            return False
        raise Conflict(
            "piece_differs",
            f"Piece {number} came before, with other samples. The first is kept.",
            "Give each piece its own number, and send a repeat unchanged.",
            field="number",
        )
    if trace.state != State.GROWING:
        raise _finished()
    _fits(trace, number, samples)
    TracePiece.objects.create(trace=trace, number=number, **packed)
    return True


@one_act()
def finish_trace(*, trace: Trace, pieces: int, by: Person) -> bool:
    """The device says that it has sent ``pieces`` pieces: put them together and have them read.

    Whether this was news; saying it again changes nothing.

    Raises
    ------
    Conflict
        If pieces are missing, more came, or the recording was finished with another number of them.
    """
    require(by, "send traces", trace)
    trace = _held(trace)
    _not_withdrawn(trace)
    there = pieces_there(trace)
    if trace.state != State.GROWING:
        if len(there) == pieces:
            return False
        raise _finished()
    missing = pieces_missing(there, up_to=pieces)
    if missing:
        named = ", ".join(map(str, missing[:20])) + (" and more" if len(missing) > 20 else "")
        raise Conflict(
            "pieces_missing",
            f"Of {pieces} pieces {len(missing)} did not arrive: {named}.",
            "Send those, then finish again.",
            field="pieces",
        )
    if len(there) > pieces:
        raise Conflict(
            "pieces_left_over",
            f"{len(there)} pieces arrived, more than the {pieces} you name.",
            "Name the number of the last piece that was sent.",
            field="pieces",
        )
    _assembled(trace, by, details={"pieces": pieces})
    return True


@one_act()
def finish_left_trace(*, trace: Trace, by: Person) -> Trace:
    """Finish what a device left half sent, with what there is; gaps stay gaps.

    Raises
    ------
    ValidationError
        If the recording is not growing any more, or a piece came within the last ten minutes.
    """
    require(by, "receive traces", trace)
    trace = _held(trace)
    if trace.state != State.GROWING or trace.withdrawn_at is not None:
        raise ValidationError("This recording is finished or withdrawn already.")
    if clock.now() - last_heard(trace) <= SILENT_AFTER:
        raise ValidationError(
            "The device sent something within the last ten minutes. Wait until it has been silent that long; "
            "it may go on."
        )
    there = pieces_there(trace)
    if not there:
        trace.state = State.FAILED
        trace.problem = "The device began this recording and sent nothing of it. Record the toe again."
        trace.save(update_fields=["state", "problem"])
        record(by, "trace left by its device closed", trace, details={"pieces": 0})
        return trace
    details = {"pieces": len(there), "missing": pieces_missing(there)}
    return _assembled(trace, by, "trace left by its device finished", details)


def _held(trace: Trace) -> Trace:
    """The trace as it stands now, held until the act is over: pieces and the end follow one another."""
    return Trace.objects.select_for_update(of=("self",)).select_related("exam").get(pk=trace.pk)


def _packed(samples: Samples) -> dict[str, object]:
    _within_caps(samples.time_s[0], samples.time_s[-1], len(samples.time_s))
    return {
        "samples": pack(samples.time_s, samples.cuff_mmhg, samples.signal),
        "samples_sha256": samples.checksum,
        "sample_count": len(samples.time_s),
        "received_at": clock.now(),
    }


def _fits(trace: Trace, number: int, samples: Samples) -> None:
    """Its place among the pieces that are there, in time and in number of samples."""
    others = TracePiece.objects.filter(trace=trace)
    count = (others.aggregate(there=Sum("sample_count"))["there"] or 0) + len(samples.time_s)
    before = others.filter(number__lt=number).order_by("-number").first()
    after = others.filter(number__gt=number).order_by("number").first()
    starts_early = before is not None and samples.time_s[0] < unpack(bytes(before.samples))[0][-1]
    ends_late = after is not None and samples.time_s[-1] > unpack(bytes(after.samples))[0][0]
    if starts_early or ends_late:
        raise Unfit(
            "time_not_in_order",
            f"The times of piece {number} do not lie between those of the pieces before and after it.",
            "Count the seconds of all pieces by one clock, from the start of the recording.",
            field="time_s",
        )
    ends = [others.order_by(order).first() for order in ("number", "-number")]
    times = np.concatenate([samples.time_s, *(unpack(bytes(one.samples))[0] for one in ends if one)])
    _within_caps(times.min(), times.max(), count)


def _assembled(
    trace: Trace, by: Person, action: str = "trace received", details: dict[str, object] | None = None
) -> Trace:
    pieces = TracePiece.objects.filter(trace=trace).order_by("number").values_list("samples", flat=True)
    time_s, cuff_mmhg, signal = (
        np.concatenate(rows) for rows in zip(*(unpack(bytes(one)) for one in pieces), strict=True)
    )
    whole = Samples(time_s, cuff_mmhg, signal)
    trace.samples = pack(time_s, cuff_mmhg, signal)
    trace.samples_sha256 = whole.checksum
    trace.sample_count = len(time_s)
    trace.duration_s = float(time_s[-1] - time_s[0])
    trace.sampling_hz = sampling_hz_of(time_s)
    trace.state = State.WAITING
    trace.save()
    record(
        by,
        action,
        trace,
        details={"place": _place(trace), "samples": trace.samples_sha256, **(details or {})},
    )
    trace.job = start(READING, by, {"trace": trace.pk})
    trace.save(update_fields=["job"])
    return trace


def _place(trace: Trace) -> str:
    return f"{trace.side}.{trace.site}.{trace.attempt}"


def _within_caps(begins_s: float, ends_s: float, count: int) -> None:
    if count > MOST_SAMPLES:
        raise TooMuch(
            "too_many_samples",
            f"A recording may hold {MOST_SAMPLES} samples.",
            "Record at a lower rate, or send the toe alone.",
            field="time_s",
        )
    if ends_s - begins_s > MOST_SECONDS:
        raise TooMuch(
            "too_long",
            f"A recording may last {MOST_SECONDS // 60} minutes.",
            "Send the toe alone, not the whole session.",
            field="time_s",
        )


def _not_withdrawn(trace: Trace) -> None:
    if trace.withdrawn_at is not None:
        raise Conflict(
            "withdrawn",
            "This recording was withdrawn by a person: it was attached in error.",
            "Begin another recording, with a key of its own.",
        )


def _finished() -> Conflict:
    return Conflict(
        "finished",
        "This recording is finished. What was sent now is not part of it.",
        "Begin another recording, with a key of its own.",
    )
