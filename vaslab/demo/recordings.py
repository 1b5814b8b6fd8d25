"""Recordings as the apparatus sent them and people read them: simulated, received, read, marked."""

from decimal import Decimal
from typing import Any

from access import clock
from access.people import Person
from exams.hemodynamics import Confidence, Mark, TraceReading, simulate_trace
from exams.traces.desk import REASONS, whole
from exams.traces.models import Analysis, How, Trace, Verdict
from exams.traces.services.growing import Samples, receive_whole
from exams.traces.services.marks import mark_trace
from exams.traces.services.reading import analyse
from exams.traces.services.seeing import show_figures
from exams.traces.services.sending import Said
from exams.visits.models import Exam
from exams.visits.plan import Place
from vaslab.demo.story import Recorded, SecondReader

SAMPLING_HZ = 50  # enough for the eye and the reader, and quickly made


def take(
    *, told: Recorded, exam: Exam, place: Place, technique: str, reading: str, key: str, by: Person
) -> Trace:
    """Have one recording made, sent and read; what a person makes of it follows unless it waits.

    A recording that is marked writes ``reading`` into the sheet, as it does at the desk.
    """
    made = simulate_trace(**made_of(told, technique, reading))
    trace, _ = receive_whole(
        exam=exam,
        said=Said(place.side, place.site, place.attempt, technique, recorded_at=clock.now()),
        samples=Samples(made.time_s, made.cuff_mmhg, made.signal),
        key=key,
        by=by,
    )
    analysis = analyse(trace=trace, by=by)
    if analysis is None:
        raise ValueError(f"the recording of {place.name} was not read: {trace.problem}")
    trace.refresh_from_db()
    if told.refused:
        reason = "; ".join(part for part in (REASONS[told.refused], told.words) if part)
        _marked(trace, analysis, Verdict.REPEAT, None, reason, by)
    elif not told.waits:
        verdict = Verdict.CAUTION if told.with_caution else Verdict.GOOD
        _marked(trace, analysis, verdict, Decimal(reading), told.words, by)
    return trace


def read_blind(trace: Trace, second: SecondReader, by: Person) -> None:
    """Another person marks it without having seen suggestion or mark."""
    analysis = trace.analyses.latest("pk")
    _marked(trace, analysis, Verdict.GOOD, Decimal(second.mmhg), second.words, by, blind=True)


def made_of(told: Recorded, technique: str, reading: str | None) -> dict[str, Any]:
    """How the recording is simulated; its artery holds what the story gives as reading, or says itself."""
    return {
        "family": told.family,
        "seed": told.seed,
        "severity": told.severity,
        "systolic_mmhg": told.systolic or int(reading or 0),
        "sampling_hz": SAMPLING_HZ,
        "technique": "one_cuff_hand" if technique == "one_cuff_hand" else "two_cuffs",
    }


def _marked(
    trace: Trace,
    analysis: Analysis,
    verdict: Verdict,
    mmhg: Decimal | None,
    words: str,
    by: Person,
    *,
    blind: bool = False,
) -> None:
    """The reader takes the suggestion over where it says the same as they do, else puts the mark.

    Whoever reads blind sees the figures only after it.
    """
    if not blind:
        show_figures(trace=trace, by=by, what="trace displayed")
    how = How.NONE if mmhg is None else How.MOVED
    time_s = None if blind else _suggested_at(analysis, mmhg)
    if time_s is not None:
        how = How.ACCEPTED
    mark_trace(
        trace=trace,
        analysis=analysis,
        verdict=verdict,
        pressure_mmhg=mmhg,
        time_s=time_s,
        how=how,
        reason=words,
        blind=blind,
        by=by,
    )
    if blind:
        show_figures(trace=trace, by=by, what="trace displayed")


def _suggested_at(analysis: Analysis, mmhg: Decimal | None) -> float | None:
    """When on the recording a suggestion stands that says ``mmhg`` and may be taken over."""
    suggested = TraceReading.from_json(analysis.reading)
    if not suggested.usable or suggested.confidence is Confidence.LOW:
        return None
    if not isinstance(suggested.mark, Mark) or whole(suggested.mark.pressure_mmhg) != mmhg:
        return None
    return suggested.mark.time_s
