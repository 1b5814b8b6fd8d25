"""Recordings that were read, for tests of the desk: simulated, stored as the worker stores them."""

from dataclasses import replace
from functools import cache

from access import clock
from access.people import Person
from exams.hemodynamics import (
    READER_VERSION,
    Confidence,
    SimulatedTrace,
    TraceReading,
    read_trace,
    simulate_trace,
)
from exams.traces.models import Analysis, Format, Kind, State, Trace
from exams.traces.samples import checksum_of_samples, pack
from exams.traces.services.growing import Samples, receive_whole
from exams.traces.services.reading import suggestion_of
from exams.traces.services.sending import Said
from exams.visits.models import Exam


@cache
def simulated(family: str = "clean", seed: int = 3, systolic_mmhg: float = 90.0) -> SimulatedTrace:
    return simulate_trace(family=family, seed=seed, systolic_mmhg=systolic_mmhg, sampling_hz=50.0)


@cache
def read(family: str = "clean", seed: int = 3, systolic_mmhg: float = 90.0) -> TraceReading:
    made = simulated(family, seed, systolic_mmhg)
    return read_trace(made.time_s, made.cuff_mmhg, made.signal, kind=made.kind)


def read_recording(
    by: Person,
    exam: Exam,
    *,
    family: str = "clean",
    seed: int = 3,
    systolic_mmhg: float = 90.0,
    side: str = "right",
    site: str = "toe_1",
    attempt: int = 1,
    technique: str = "two_cuffs",
    **changed,
) -> Trace:
    """A recording of a site with its suggestion; ``changed`` replaces parts of what the reader found."""
    made, reading = simulated(family, seed, systolic_mmhg), read(family, seed, systolic_mmhg)
    reading = replace(reading, **changed)
    packed = pack(made.time_s, made.cuff_mmhg, made.signal)
    trace = Trace.objects.create(
        clinic=exam.clinic,
        exam=exam,
        side=side,
        site=site,
        attempt=attempt,
        technique=technique,
        kind=Kind(made.kind.value),
        state=State.READ,
        format=Format.PIECES,
        samples=packed,
        samples_sha256=checksum_of_samples(made.time_s, made.cuff_mmhg, made.signal),
        sample_count=len(made.time_s),
        duration_s=float(made.time_s[-1] - made.time_s[0]),
        sampling_hz=50.0,
        received_at=clock.now(),
        received_by=by.user,
    )
    Analysis.objects.create(
        trace=trace,
        version=READER_VERSION,
        reading=reading.to_json(),
        usable=reading.usable,
        confidence=reading.confidence.value,
        computed_at=clock.now(),
        **suggestion_of(reading),
    )
    return trace


def unsure_recording(by: Person, exam: Exam) -> Trace:
    """A second toe whose suggestion is of low confidence, whatever the reader of the day makes of it."""
    return read_recording(by, exam, family="cold", site="toe_2", confidence=Confidence.LOW)


def sent_recording(
    by: Person, exam: Exam, time_s, cuff_mmhg, signal, *, side="right", site="toe_1", key="one"
) -> Trace:
    """A whole recording of a first attempt, sent in arrays: it waits to be read."""
    trace, _ = receive_whole(
        exam=exam,
        said=Said(side, site, 1, "two_cuffs"),
        samples=Samples(time_s, cuff_mmhg, signal),
        key=key,
        by=by,
    )
    return trace


def newest_analysis(trace: Trace) -> Analysis:
    return trace.analyses.latest("pk")
