"""Reads one recording: conditions it, looks, believes, and says what may be wrong."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.return_of_flow.conditioning import Unreadable, condition
from exams.hemodynamics.return_of_flow.occlusion import deflation_of
from exams.hemodynamics.return_of_flow.reading import (
    READER_VERSION,
    Confidence,
    TraceFlag,
    TraceKind,
    TraceReading,
)
from exams.hemodynamics.return_of_flow.signs import look
from exams.hemodynamics.return_of_flow.trust import judged


def read_trace(
    time_s: npt.ArrayLike,
    cuff_mmhg: npt.ArrayLike,
    signal: npt.ArrayLike,
    *,
    kind: TraceKind = TraceKind.REFILL,
) -> TraceReading:
    """Find the return of flow on a recorded trace, how sure that is, and what is wrong with the recording.

    Parameters
    ----------
    time_s, cuff_mmhg, signal : array-like, shape (n,)
        Seconds of any clock, cuff pressure in mmHg, and the sensor's signal in any unit and either polarity;
        8 to some thousand samples a second, evenly or not. Values that are not finite count as missing.
    kind : TraceKind
        Whether the pulp refills (a toe) or pulsation returns (an arm or ankle).

    Returns
    -------
    TraceReading
        Always: what cannot be read is said in ``flags``, and nothing is raised about the values.

    Notes
    -----
    Source: the start of the lasting rise is the systolic pressure (common practice, no source); the
    estimate from the whole beginning of the rise is ours, docs/return-of-flow.md.
    """
    kind = TraceKind(kind)
    with np.errstate(all="ignore"):
        conditioned = condition(time_s, cuff_mmhg, signal)
        if isinstance(conditioned, Unreadable):
            return _unreadable(kind, conditioned)
        deflation = deflation_of(conditioned.cuff_mmhg, conditioned.step_s)
        if isinstance(deflation, Unreadable):
            return _unreadable(kind, deflation)
        return judged(look(conditioned, deflation, use_level=kind is TraceKind.REFILL), kind)


def _unreadable(kind: TraceKind, why: Unreadable) -> TraceReading:
    missing = NotStated(why.words)
    return TraceReading(
        version=READER_VERSION,
        kind=kind,
        mark=missing,
        alternatives=(),
        usable=False,
        confidence=Confidence.LOW,
        flags=tuple(TraceFlag(code, refuses=True, words=why.words) for code in why.codes),
        reasons=(),
        phases=(),
        beats=(),
        beat_interval_s=missing,
        beat_mmhg=missing,
        deflation_mmhg_per_s=missing,
        deflation_unevenness=missing,
        start_mmhg=missing,
        end_mmhg=missing,
        polarity=1,
        sampling_hz=missing,
        enough=False,
        enough_words="There is nothing to read yet.",
    )
