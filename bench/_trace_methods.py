"""General-purpose ways to find where a curve starts to rise, with all help that needs no knowledge of blood.

Each gets the same stretch: from where the cuff begins to fall to the top of the rise, signal upright, gaps
bridged, smoothed over half a second, ten samples a second. Each answers the cuff pressure at its start of the
rise, mmHg.
"""

import numpy as np
import ruptures

STEP_S = 0.1
PART_OF_RISE = 0.1


def prepared(trace):
    """Time, cuff and upright signal of the stretch a general method is asked about; None if there is none."""
    known = np.isfinite(trace.signal) & np.isfinite(trace.cuff_mmhg)
    if known.sum() < 20:
        return None
    times = np.arange(trace.time_s[known][0], trace.time_s[known][-1], STEP_S)
    cuff = _smooth(np.interp(times, trace.time_s[known], trace.cuff_mmhg[known]), 5)
    fine = np.arange(times[0], times[-1], STEP_S / 5)
    signal = np.interp(fine, trace.time_s[known], trace.signal[known])
    if trace.kind == "pulsation":
        signal = np.abs(signal - _smooth(signal, 75))
    signal = np.interp(times, fine, _smooth(signal, 25 if trace.kind == "refill" else 50))

    highest = int(np.flatnonzero(cuff >= cuff.max() - 2)[-1])
    # A cuff let go at the end is no deflation.
    let_go = np.flatnonzero(np.gradient(cuff, STEP_S)[highest:] < -15)
    end = highest + int(let_go[0]) if let_go.size else times.size
    if end - highest < 60:
        return None
    times, cuff, signal = times[highest:end], cuff[highest:end], signal[highest:end]
    quarter = signal.size // 4
    signal = signal * (1 if signal[-quarter:].mean() >= signal[:quarter].mean() else -1)
    top = max(int(np.argmax(signal)), 40)
    return times[:top], cuff[:top], signal[:top]


def threshold(times, cuff, signal):
    """Where the signal leaves the first tenth of its rise for good."""
    base = np.median(signal[:30])
    below = np.flatnonzero(signal <= base + PART_OF_RISE * (signal.max() - base))
    return float(cuff[min(int(below[-1]) + 1, cuff.size - 1)]) if below.size else None


def two_lines(times, cuff, signal):
    """The corner of two straight lines that meet, least squares over every corner."""
    best, corner = np.inf, None
    for at in range(10, times.size - 5, 2):
        design = np.column_stack((np.ones(times.size), times - times[at], np.maximum(times - times[at], 0)))
        left = signal - design @ np.linalg.lstsq(design, signal, rcond=None)[0]
        if (error := float(left @ left)) < best:
            best, corner = error, at
    return float(cuff[corner])


def change_point(times, cuff, signal):
    """The change of slope that ``ruptures`` finds.

    Of its costs, searches and numbers of changes (nine were tried) the one nearest the truth.
    """
    scale = np.ptp(signal) or 1.0
    search = ruptures.Dynp(model="clinear", min_size=5, jump=2).fit((signal / scale).reshape(-1, 1))
    return float(cuff[search.predict(n_bkps=1)[0]])


def _smooth(values, width):
    """Mean over ``width`` samples, the ends held."""
    held = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(held, np.full(width, 1 / width), mode="valid")
