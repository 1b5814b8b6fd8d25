"""Bringing what was read onto one clock: units, order, gaps, caps. The last step of every reader."""

from __future__ import annotations

import numpy as np

from exams.traces.files.kinds import (
    MMHG_PER_KPA,
    MOST_SAMPLES,
    MOST_SECONDS,
    Annotation,
    CuffUnit,
    ParsedTrace,
    Samples,
    TimeUnit,
    TraceFileError,
)

_SECONDS = {TimeUnit.SECONDS: 1.0, TimeUnit.MILLISECONDS: 1e-3, TimeUnit.MINUTES: 60.0, TimeUnit.CLOCK: 1.0}
# A clock that starts later than this counts from a date, not from the start of the recording.
_FROM_A_DATE_S = 2 * 86400.0
_DAY_S = 86400.0


def trace(
    time_s: Samples,
    cuff: Samples,
    signal: Samples,
    *,
    cuff_unit: CuffUnit,
    warnings: list[str],
    annotations: tuple[Annotation, ...] = (),
) -> ParsedTrace:
    """One recording from three columns of one length.

    Samples without a time are left out; a few out of order are put in order; both are said in the warnings.

    Raises
    ------
    TraceFileError
        ``columns_wrong``, ``no_signal``, ``time_wrong``, ``duration`` or ``too_many_samples``.
    """
    too_many(time_s.size)
    timed = np.isfinite(time_s)
    if not timed.all():
        warnings.append(f"{np.count_nonzero(~timed)} samples have no time and were left out.")
        time_s, cuff, signal = time_s[timed], cuff[timed], signal[timed]
    if time_s.size < 2:
        raise TraceFileError("columns_wrong", "The column chosen as time holds no times. Choose another.")
    time_s, cuff, signal = _in_order(time_s, cuff, signal, warnings)
    if abs(time_s[0]) > _FROM_A_DATE_S:
        time_s = time_s - time_s[0]
    not_longer_than_allowed(float(time_s[-1] - time_s[0]))
    if time_s[0] == time_s[-1]:
        raise TraceFileError("time_wrong", "The times do not move. Choose another column for the time.")
    if cuff_unit is CuffUnit.KPA:
        cuff = cuff * MMHG_PER_KPA
    return ParsedTrace(
        time_s=_plain(time_s),
        cuff_mmhg=_known(cuff, "cuff pressure", "columns_wrong"),
        signal=_known(signal, "signal", "no_signal"),
        warnings=tuple(warnings),
        annotations=annotations,
    )


def in_seconds(time: Samples, unit: TimeUnit) -> Samples:
    """Times in seconds. A clock that passes midnight goes on counting."""
    if unit is TimeUnit.CLOCK and time.size:
        known = np.flatnonzero(np.isfinite(time))
        back = np.diff(time[known]) < -_DAY_S / 2
        time = time.copy()
        time[known[1:]] += _DAY_S * np.cumsum(back)
        return time - time[known[0]] if known.size else time
    scale = _SECONDS[unit]
    return time if scale == 1.0 else time * scale


def made(samples: int, sampling_hz: float | None) -> Samples:
    """The clock of a recording without one.

    Raises
    ------
    TraceFileError
        ``columns_wrong`` where the rate is missing or no rate of a trace.
    """
    if sampling_hz is None or not 1 <= sampling_hz <= 20_000:
        raise TraceFileError(
            "columns_wrong",
            "Without a column for the time the sampling rate is needed, from 1 to 20000 samples a second.",
        )
    return np.arange(samples) / sampling_hz


def onto(time_s: Samples, other_s: Samples, other: Samples, step_s: float) -> Samples:
    """Values of another channel at ``time_s``, between its neighbours; NaN outside it and across its gaps.

    ``step_s`` is the other channel's usual step; neighbours more than one and a half steps apart are a gap.
    """
    known = np.isfinite(other)
    if np.count_nonzero(known) < 2:
        return np.full(time_s.size, np.nan)
    at, values = other_s[known], other[known]
    result = np.interp(time_s, at, values, left=np.nan, right=np.nan)
    after = np.searchsorted(at, time_s, side="left").clip(1, at.size - 1)
    across = (at[after] - at[after - 1] > 1.5 * step_s) & (time_s > at[after - 1]) & (time_s < at[after])
    result[across] = np.nan
    return result


def too_many(samples: int) -> None:
    if samples > MOST_SAMPLES:
        raise TraceFileError(
            "too_many_samples",
            f"A channel holds {samples} samples; at most {MOST_SAMPLES} are read. Export only the part with "
            "the recording, or fewer samples a second.",
        )


def not_longer_than_allowed(seconds: float) -> None:
    if seconds > MOST_SECONDS:
        raise TraceFileError(
            "duration",
            f"By its times it lasts {seconds / 60:.0f} minutes; up to {MOST_SECONDS // 60} are read. "
            "If the times are milliseconds, say so; otherwise export only the part with the cuff.",
        )


def _in_order(
    time_s: Samples, cuff: Samples, signal: Samples, warnings: list[str]
) -> tuple[Samples, Samples, Samples]:
    back = int(np.count_nonzero(np.diff(time_s) < 0))
    if not back:
        return time_s, cuff, signal
    if back > max(3, time_s.size // 50):
        raise TraceFileError(
            "time_wrong", "The times jump back and forth. Choose another column for the time."
        )
    warnings.append(
        f"The clock jumps back at {back} places; the samples were put in the order of their times."
    )
    order = np.argsort(time_s, kind="stable")
    return time_s[order], cuff[order], signal[order]


def _known(values: Samples, name: str, code: str) -> Samples:
    values = _plain(values)
    finite = np.isfinite(values)
    if not finite.any():
        raise TraceFileError(code, f"The column chosen as {name} holds no numbers. Choose another column.")
    if not finite.all():
        values = np.where(finite, values, np.nan)
    return values


def _plain(values: Samples) -> Samples:
    return np.ascontiguousarray(values, dtype=np.float64)
