"""The heart's rhythm in the signal: how long a beat lasts, how strong pulses are, where each beat stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import BEAT_LIMITS_S, Floats, moving_average, quantile

# Taken where no pulse shows: 70 beats a minute (common practice, no source).
UNKNOWN_BEAT_S = 0.86
# By which the pulses are first parted from the level, while the rhythm is not known (ours, no source).
USUAL_BEAT_S = 0.9
# Likeness of the signal with itself one beat later, from which on a rhythm is believed.
CLEAR_RHYTHM = 0.5
WINDOW_S = 4.0
MOST_WINDOWS = 6


@dataclass(frozen=True, slots=True)
class Rhythm:
    """``beat_s`` is ``UNKNOWN_BEAT_S`` while not ``seen``; ``clearness`` is 0 to 1."""

    beat_s: float
    clearness: float
    seen: bool


def without_tremor(signal: Floats, step_s: float) -> Floats:
    """The signal without what is faster than a pulse."""
    return moving_average(moving_average(signal, round(0.22 / step_s)), round(0.16 / step_s))


def above_the_beat(calm: Floats, step_s: float, beat_s: float) -> Floats:
    """The pulses: a signal without tremor, less all that is slower than a beat."""
    return calm - moving_average(calm, round(beat_s / step_s))


def strength_of(pulses: Floats, step_s: float, beat_s: float) -> Floats:
    """Root mean square of the pulses over one beat around each tick."""
    return np.sqrt(np.maximum(moving_average(pulses**2, round(beat_s / step_s)), 0.0))


def rhythm_of(stretches: list[Floats], step_s: float) -> Rhythm:
    """The beat that the clearest few seconds of the stretches of pulses repeat at."""
    length = round(WINDOW_S / step_s)
    windows = [
        stretch[begin : begin + length]
        for stretch in stretches
        for begin in range(0, len(stretch) - length + 1, max(length // 2, len(stretch) // MOST_WINDOWS))
    ]
    if not windows:
        return Rhythm(UNKNOWN_BEAT_S, 0.0, False)
    pulses = np.stack(windows)
    pulses = pulses - pulses.mean(axis=1, keepdims=True)
    power = (pulses**2).mean(axis=1)
    # A window in which something large moved once is not clear, one in which nothing moves is not either.
    curves = _likeness(pulses, step_s)
    best = Rhythm(UNKNOWN_BEAT_S, 0.0, False)
    for curve, strong in zip(curves, power > 0.02 * quantile(power, 0.5), strict=True):
        if strong:
            beat_s, clearness = _repeats_at(curve, step_s)
            if clearness > best.clearness:
                best = Rhythm(beat_s, clearness, clearness >= CLEAR_RHYTHM)
    return best if best.seen else Rhythm(UNKNOWN_BEAT_S, best.clearness, False)


def likeness_after(pulses: Floats, step_s: float, beat_s: float) -> float:
    """How alike the pulses are to themselves about one beat later, -1 to 1; 0 for too short a stretch."""
    if len(pulses) * step_s < 2.2 * beat_s:
        return 0.0
    curve = _likeness((pulses - pulses.mean())[None, :], step_s)[0]
    low, high = (round(share * beat_s / step_s) for share in (0.88, 1.12))
    near = curve[low : high + 1]
    return float(near.max()) if len(near) else 0.0


def _likeness(centred: Floats, step_s: float) -> Floats:
    """How alike each row is to itself some ticks later, -1 to 1; shape (rows, ticks)."""
    _rows, count = centred.shape
    longest = min(count, round(2.2 * BEAT_LIMITS_S[1] / step_s))
    size = 1 << int(np.ceil(np.log2(count + longest)))
    raw = np.fft.irfft(np.abs(np.fft.rfft(centred, size)) ** 2, size)[:, :longest]
    power = raw[:, :1] / count
    alike: Floats = raw / (count - np.arange(longest)) / np.where(power > 0, power, np.inf)
    return alike


def _repeats_at(curve: Floats, step_s: float) -> tuple[float, float]:
    first = round(BEAT_LIMITS_S[0] / step_s)
    last = min(round(BEAT_LIMITS_S[1] / step_s), round(WINDOW_S / step_s / 2), len(curve) - 2)
    if last <= first + 1:
        return UNKNOWN_BEAT_S, 0.0
    inner = curve[first : last + 1]
    peaks = first + np.flatnonzero((inner >= curve[first - 1 : last]) & (inner > curve[first + 1 : last + 2]))
    if not len(peaks) or not curve[peaks].max() > 0:
        return UNKNOWN_BEAT_S, 0.0
    # Twice the beat repeats as well as the beat; the shortest that is nearly as good is the beat.
    beat = int(peaks[curve[peaks] >= 0.8 * curve[peaks].max()][0])
    return beat * step_s, float(np.clip(curve[beat], 0.0, 1.0))


def beats_of(pulses: Floats, step_s: float, beat_s: float, floor: float) -> np.ndarray:
    """Ticks of the pulses' tops: higher than ``floor``, at least 0.6 of a beat apart."""
    inner = pulses[1:-1]
    tops = 1 + np.flatnonzero((inner > pulses[:-2]) & (inner >= pulses[2:]) & (inner > floor))
    kept: list[int] = []
    apart = 0.55 * beat_s / step_s
    for top in tops:
        if kept and top - kept[-1] < apart:
            if pulses[top] > pulses[kept[-1]]:
                kept[-1] = int(top)
            continue
        kept.append(int(top))
    return np.array(kept, dtype=np.intp)
