"""Stirs: short spells before the return in which the sensor moved, or was pulled, and lay still again.

Once blood returns, beat follows beat. A spell of sudden change that is followed by stillness for well over a
beat is therefore not the return, whatever it looks like: a step, a spike, a restless foot, or one strong beat
that slipped through alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import Bools, Floats, moving_average, quantile

# Still for so many beats means that the spell was not the return.
STILL_BEATS = 1.9
LONGEST_S = 4.0
# Lasting so many beats and ending as far from where it began as it ever went, a spell is a rise.
RISE_BEATS = 1.8
RISE_SHARE = 0.7
# Sudden is what exceeds the quiet part's change by so much, and a share of the liveliest part's.
_OVER_QUIET = 11.0
_OF_LIVELIEST = 0.04


@dataclass(frozen=True, slots=True)
class Stir:
    """A spell, ticks ``begins`` to ``ends`` (exclusive), and by how much the level after it is shifted."""

    begins: int
    ends: int
    shift: float


def activity_of(signal: Floats, step_s: float) -> Floats:
    """How much the signal changes within about 80 ms around each tick."""
    smooth = moving_average(signal, 3)
    reach = max(1, round(0.04 / step_s))
    activity = np.zeros(len(signal))
    activity[reach:-reach] = np.abs(smooth[2 * reach :] - smooth[: -2 * reach])
    return activity


def stirs_in(
    signal: Floats, hidden: Bools, begins: int, ends: int, step_s: float, beat_s: float
) -> list[Stir]:
    """The spells between two ticks that were followed by stillness, first to last."""
    part = signal[begins:ends]
    if len(part) * step_s < 4 * beat_s:
        return []
    activity = activity_of(part, step_s)
    quiet = quantile(activity, 0.35)
    bar = max(_OVER_QUIET * quiet, _OF_LIVELIEST * quantile(activity, 0.98))
    visible = ~hidden[begins:ends]
    lively = np.flatnonzero((activity > bar) & visible)
    if not len(lively):
        return []
    still = STILL_BEATS * beat_s / step_s
    # What cannot be seen counts neither as still nor as lively.
    seen = np.cumsum(visible)
    breaks = np.flatnonzero(np.diff(seen[lively]) > still)
    firsts = np.concatenate(([lively[0]], lively[breaks + 1]))
    lasts = np.concatenate((lively[breaks], [lively[-1]]))
    margin = round(0.08 / step_s)
    stirs: list[Stir] = []
    for first, last in zip(firsts, lasts, strict=True):
        if seen[-1] - seen[last] < still or (last - first) * step_s > LONGEST_S:
            continue
        a, b = max(0, int(first) - margin), min(len(part), int(last) + margin + 1)
        if (b - a) * step_s > RISE_BEATS * beat_s and _rises(part, a, b, round(beat_s / step_s)):
            continue
        stirs.append(Stir(begins + a, begins + b, _shift(part, a, b, step_s, beat_s)))
    return stirs


def _rises(part: Floats, a: int, b: int, beat: int) -> bool:
    """Whether the level, a beat's mean, climbs (or falls) from one end of the spell to the other."""
    level = moving_average(part, beat)[max(0, a - beat // 2) : b + beat // 2]
    return bool(abs(level[-1] - level[0]) > RISE_SHARE * np.ptp(level))


def _shift(part: Floats, a: int, b: int, step_s: float, beat_s: float) -> float:
    """Level shortly after less level shortly before, as a straight drift would have it."""
    span = max(4, round(1.2 * beat_s / step_s))
    before, after = part[max(0, a - span) : a], part[b : b + span]
    if len(before) < 4 or len(after) < 4:
        return 0.0
    return quantile(after, 0.5) - quantile(before, 0.5)


def without_stirs(signal: Floats, stirs: list[Stir]) -> Floats:
    """The signal with each spell bridged and what follows it brought back to the level before."""
    mended = signal.copy()
    for stir in stirs:
        mended[stir.ends :] -= stir.shift
        if stir.begins > 0 and stir.ends < len(mended):
            mended[stir.begins : stir.ends] = np.linspace(
                mended[stir.begins - 1], mended[stir.ends], stir.ends - stir.begins
            )
    return mended
