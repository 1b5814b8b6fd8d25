"""Example objects of the recordings room for the walk through every page."""

from decimal import Decimal

import numpy as np

from exams.hemodynamics import simulate_trace
from exams.traces.services.growing import begin_trace
from exams.traces.services.marks import mark_trace
from exams.traces.services.reading import analyse
from exams.traces.services.receiving import receive_file
from exams.traces.services.sending import Said
from tests.build import exam_with, reading_at
from tests.traces.made import sent_recording


def csv_file(time_s, cuff_mmhg, signal) -> bytes:
    """A table as this house writes it."""
    rows = (f"{a:.3f},{b:.2f},{c:.5f}" for a, b, c in zip(time_s, cuff_mmhg, signal, strict=True))
    return "\n".join(("time_s,cuff_mmhg,ppg", *rows)).encode()


def toe_samples(seed: int = 0):
    """Time, cuff and signal of a clean simulated recording of a toe."""
    made = simulate_trace(seed=seed, sampling_hz=50.0)
    return made.time_s, made.cuff_mmhg, made.signal


OF_ITS_SENDER = {"traces_api:piece", "traces_api:finish"}


def examples(cast):
    exam = exam_with(cast.measurer, arm_right=140, right_hallux=90)
    trace = sent_recording(cast.measurer, exam, *toe_samples(), key="walk")
    analysis = analyse(trace=trace, by=cast.measurer)
    mark_trace(
        trace=trace,
        analysis=analysis,
        verdict="good",
        pressure_mmhg=Decimal(90),
        time_s=None,
        how="moved",
        reason="",
        blind=False,
        by=cast.measurer,
    )
    short = (np.arange(100) / 50, np.linspace(140.0, 130.0, 100), np.zeros(100))
    dropped = receive_file(exam=exam, name="left_hallux.csv", content=csv_file(*short), by=cast.measurer)
    arriving, _ = begin_trace(
        exam=exam, said=Said("left", "toe_1", 1, "two_cuffs"), key="recording-1", by=cast.gateway
    )
    of_exam = {"exam_id": exam.pk}
    read, file = {"trace_id": trace.pk}, {"trace_id": dropped.pk}
    return {
        "traces:exam": of_exam,
        "traces:exam_part": of_exam,
        "traces:match": of_exam,
        "traces:of_reading": {"reading_id": reading_at(exam, "right_hallux").pk},
        "traces:desk": read,
        "traces:blind": read,
        "traces:window": read,
        "traces:thumbnail": read,
        "traces:columns": file,
        "traces:withdraw": file,
        "traces:original": file,
        "traces:live": {"trace_id": arriving.pk},
        "traces:live_part": {"trace_id": arriving.pk},
        "traces_api:trace": read,
        "traces_api:piece": {"trace_id": arriving.pk, "number": 1},
        "traces_api:finish": {"trace_id": arriving.pk},
    }
