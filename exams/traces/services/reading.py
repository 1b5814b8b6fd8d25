"""Reading a recording: its file becomes samples, the samples a suggestion. Done by a worker."""

from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import READER_VERSION, Mark, TraceKind, TraceReading, read_trace
from exams.traces.files import Columns, FileKind, TraceFileError
from exams.traces.models import Analysis, State, Trace
from exams.traces.queries.original import stored_original
from exams.traces.samples import Floats, checksum_of_samples, pack, sampling_hz_of, unpack

_TENTH = Decimal("0.1")


@dataclass(frozen=True)
class _Samples:
    time_s: Floats
    cuff_mmhg: Floats
    signal: Floats
    # What the file's reader had to say of it: a recording broken off, a checksum that does not agree.
    warnings: tuple[str, ...] = ()


def analyse(*, trace: Trace, by: Person) -> Analysis | None:
    """Read a waiting recording; run twice, or by two workers at once, it ends as if run once.

    The file is parsed and the trace read outside any transaction. A recording that cannot be read fails
    with words on it; nothing is raised for that.

    Returns
    -------
    Analysis or None
        None where there was nothing to read, or it could not be read.
    """
    # Whoever may send one, device or person, may have it read.
    require(by, "send traces", trace)
    trace.refresh_from_db()
    if trace.state != State.WAITING or trace.withdrawn_at is not None:
        return trace.analyses.filter(version=READER_VERSION).first()
    try:
        samples = _samples_of(trace)
    except TraceFileError as refused:
        return _failed(trace, refused.words, by)
    except ValidationError as refused:
        return _failed(trace, " ".join(refused.messages), by)
    return _read(trace, samples, _reading_of(trace, samples), by)


@one_act()
def analyse_again(*, trace: Trace) -> Analysis:
    """What the reader of today suggests for a recording, kept beside the earlier suggestions.

    No mark, no reading and no earlier suggestion changes. Safe to run twice.

    Raises
    ------
    ValidationError
        If the recording has no samples yet.
    """
    if trace.samples is None:
        raise ValidationError("This recording has not been read yet.")
    there = trace.analyses.filter(version=READER_VERSION).first()
    if there is not None:
        return there
    analysis = _keep_analysis(trace, _reading_of(trace, _Samples(*unpack(bytes(trace.samples)))))
    record(None, "trace read again", trace, details={"version": READER_VERSION})
    return analysis


def suggestion_of(reading: TraceReading) -> dict[str, Decimal | None]:
    """Pressure and interval in mmHg to one decimal, as they are kept; all None where nothing was found."""
    if not isinstance(reading.mark, Mark):
        return {"pressure_mmhg": None, "low_mmhg": None, "high_mmhg": None}
    mark = reading.mark
    return {
        "pressure_mmhg": _tenths(mark.pressure_mmhg),
        "low_mmhg": max(_tenths(mark.low_mmhg), Decimal(0)),
        "high_mmhg": max(_tenths(mark.high_mmhg), Decimal(0)),
    }


def _samples_of(trace: Trace) -> _Samples:
    if trace.samples is not None:
        return _Samples(*unpack(bytes(trace.samples)))
    content = stored_original(trace)
    from exams.traces.files import parse_safely  # a worker needs it, a web process does not

    parsed = parse_safely(FileKind(trace.format), content, Columns.from_json(trace.columns or {}))
    return _Samples(parsed.time_s, parsed.cuff_mmhg, parsed.signal, parsed.warnings)


def _reading_of(trace: Trace, samples: _Samples) -> TraceReading:
    return read_trace(samples.time_s, samples.cuff_mmhg, samples.signal, kind=TraceKind(trace.kind))


@one_act()
def _read(trace: Trace, samples: _Samples, reading: TraceReading, by: Person) -> Analysis | None:
    now = Trace.objects.select_for_update(of=("self",)).select_related("exam").get(pk=trace.pk)
    if now.state != State.WAITING:  # another worker was first
        return now.analyses.filter(version=READER_VERSION).first()
    if now.samples is None:
        now.samples = pack(samples.time_s, samples.cuff_mmhg, samples.signal)
        now.samples_sha256 = checksum_of_samples(samples.time_s, samples.cuff_mmhg, samples.signal)
        now.sample_count = len(samples.time_s)
        now.duration_s = float(samples.time_s[-1] - samples.time_s[0])
        now.sampling_hz = sampling_hz_of(samples.time_s)
        now.problem = " ".join(samples.warnings)[:300]
    now.state = State.READ
    now.save()
    analysis = _keep_analysis(now, reading)
    record(
        by,
        "trace read",
        now,
        details={
            "version": analysis.version,
            "pressure_mmhg": analysis.pressure_mmhg,
            "usable": analysis.usable,
        },
    )
    return analysis


@one_act()
def _failed(trace: Trace, words: str, by: Person) -> None:
    failed = Trace.objects.filter(pk=trace.pk, state=State.WAITING)
    if failed.update(state=State.FAILED, problem=words[:300]):
        record(by, "trace could not be read", trace, details={"because": words[:300]})


def _keep_analysis(trace: Trace, reading: TraceReading) -> Analysis:
    analysis = Analysis(
        trace=trace,
        version=reading.version,
        reading=reading.to_json(),
        usable=reading.usable,
        confidence=reading.confidence,
        computed_at=clock.now(),
        **suggestion_of(reading),
    )
    analysis.save()
    return analysis


def _tenths(mmhg: float) -> Decimal:
    return Decimal(repr(float(mmhg))).quantize(_TENTH, ROUND_HALF_UP)
