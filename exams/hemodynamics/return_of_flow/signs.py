"""What can be seen in a recording: numbers only. ``trust`` decides what they mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import (
    Conditioned,
    Floats,
    moving_average,
    quantile,
)
from exams.hemodynamics.return_of_flow.occlusion import Deflation
from exams.hemodynamics.return_of_flow.onset import (
    READ_STEP_S,
    Belief,
    Rise,
    belief_of,
    line_through,
    rise_of,
)
from exams.hemodynamics.return_of_flow.rhythm import (
    USUAL_BEAT_S,
    Rhythm,
    above_the_beat,
    likeness_after,
    rhythm_of,
    strength_of,
    without_tremor,
)
from exams.hemodynamics.return_of_flow.stirs import Stir, activity_of, stirs_in, without_stirs
from exams.hemodynamics.return_of_flow.veins import veins_of

# Pulses this high at the start of the deflation, as a share of the later ones, and this alike: blood may
# never have been stopped, so that starts above the highest cuff pressure are weighed too.
FLOWING_SHARE = 0.25
FLOWING_LIKENESS = 0.35
ABOVE_START_MMHG = 20.0
# Down to so far below the start, and so much of it, pulses are still small.
NEAR_MMHG = 7.0
NEAR_SHARE = 0.15
# A rise of less than this share of all the level did is none.
SMALL_RISE = 0.02
# Not a single step of the converter for so long is no living finger or toe.
STILL_S = 4.0


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything measured on one recording.

    Heights are shares of the signal's range, blood upwards. ``signal`` is as recorded, ``level`` the beat's
    mean of it without the ``stirs``. ``rise`` and ``belief`` are about the deflation; ``start`` is the tick
    at which the cuff stood at the believed pressure; ``full`` the tick from which the cuff was inflated.
    ``occluded_strength`` and ``occluded_likeness`` are of the pulses between full inflation and the start,
    ``early_…`` of those in its first beats.
    """

    conditioned: Conditioned
    deflation: Deflation
    polarity: int
    signal: Floats
    level: Floats
    pulses: Floats
    strength: Floats
    rhythm: Rhythm
    rise: Rise
    belief: Belief
    start: int
    full: int
    occluded_strength: float
    occluded_likeness: float
    early_strength: float
    early_likeness: float
    early_climb: float
    return_strength: float
    return_likeness: float
    disturbance: float
    dip: float
    came_off: bool
    stirs: tuple[Stir, ...]


def look(c: Conditioned, d: Deflation, *, use_level: bool) -> Seen:
    """Measure a conditioned recording."""
    step = c.step_s
    calm = without_tremor(c.signal, step)
    rough = above_the_beat(calm, step, USUAL_BEAT_S)
    rhythm = rhythm_of([rough[: d.inflated_at], rough[d.begins : d.ends]], step)
    beat_s = rhythm.beat_s
    beat = round(beat_s / step)
    hidden = c.missing | c.clipped
    full = d.inflated_at + int(np.argmax(c.cuff_mmhg[d.inflated_at : d.begins + 1] >= 0.95 * d.start_mmhg))

    stirs = stirs_in(c.signal, hidden, full, d.ends, step, beat_s)
    mended = without_stirs(c.signal, stirs)
    level = moving_average(mended, beat)
    if stirs:
        calm = without_tremor(mended, step)
        rough = above_the_beat(calm, step, USUAL_BEAT_S)
    polarity = _polarity(c, d, level, rough)
    mended, level = polarity * mended, polarity * level
    pulses = above_the_beat(polarity * calm, step, beat_s)
    strength = strength_of(pulses, step, beat_s)
    full_strength = quantile(strength[d.begins + (d.ends - d.begins) // 2 : d.ends], 0.9)

    # The first beats after full inflation, when nothing may pulsate.
    first = slice(min(full + beat // 2, d.begins), d.begins + 2 * beat)
    early_strength = quantile(strength[first], 0.5)
    early_likeness = likeness_after(pulses[first], step, beat_s) if rhythm.seen else 0.0
    flowing = early_strength > FLOWING_SHARE * full_strength and early_likeness > FLOWING_LIKENESS

    ticks = np.arange(d.begins, d.ends, max(1, round(READ_STEP_S / step)))
    dark = moving_average(hidden.astype(float), beat) > 0.25
    for stir in stirs:
        dark[max(0, stir.begins - beat // 4) : stir.ends + beat // 4] = True
    # Where pulses alone count, their strength is what climbs.
    climbing = level if use_level else strength
    part = (c.time_s[ticks], c.cuff_mmhg[ticks], climbing[ticks], strength[ticks], ~dark[ticks])
    rise = rise_of(*part, beat_s)
    veins = veins_of(rise, beat_s) if use_level and rhythm.seen else None
    if veins is not None:
        rise = rise_of(*part[:2], part[2] - veins, *part[3:], beat_s)
    belief = belief_of(
        rise,
        beat_s=beat_s,
        rate_mmhg_per_s=d.rate_mmhg_per_s,
        use_level=use_level,
        above_start_mmhg=ABOVE_START_MMHG if flowing else 0.0,
        stirs_s=tuple((stir.begins * step, stir.ends * step) for stir in stirs),
    )
    start = d.tick_at(belief.middle_mmhg)
    below = min(NEAR_MMHG, NEAR_SHARE * belief.middle_mmhg)
    near = min(start + 3 * beat, max(start + beat, d.tick_at(belief.middle_mmhg - below)))
    before = slice(first.start, max(first.stop, start - beat))
    after = slice(min(start, d.ends - 1), d.ends)
    return Seen(
        conditioned=c,
        deflation=d,
        polarity=polarity,
        signal=polarity * c.signal,
        level=level,
        pulses=pulses,
        strength=strength,
        rhythm=rhythm,
        rise=rise,
        belief=belief,
        start=start,
        full=full,
        occluded_strength=quantile(strength[before], 0.5),
        occluded_likeness=likeness_after(pulses[before], step, beat_s) if rhythm.seen else 0.0,
        early_strength=early_strength,
        early_likeness=early_likeness,
        early_climb=float(level[(d.begins + d.ends) // 2] - level[full]) / max(float(np.ptp(level)), 1e-9),
        return_strength=quantile(strength[after], 0.9),
        return_likeness=likeness_after(pulses[after], step, beat_s) if rhythm.seen else 0.0,
        disturbance=_disturbance(mended, pulses, start, near, d.ends, step, beat),
        dip=_dip(level, start, d.ends, beat, rise.height) if use_level else 0.0,
        came_off=_came_off(c, d, full),
        stirs=tuple(stirs),
    )


def _disturbance(
    signal: Floats, pulses: Floats, start: int, near: int, ends: int, step: float, beat: int
) -> float:
    """How much livelier it is around the start, up to the tick ``near``, than later: sudden changes and
    pulses, the lesser of both.

    Pulses grow as the cuff falls, so that about 1 is the most that blood alone brings; 0 where too little
    follows to compare with.
    """
    around, later = slice(max(0, start - 2 * beat), near), slice(near + beat, ends)
    ratios = []
    for lively in (activity_of(signal[:ends], step), np.abs(pulses[:ends])):
        if len(lively[later]) < 3 * beat or not len(lively[around]):
            return 0.0
        ratios.append(float(np.max(lively[around])) / max(quantile(lively[later], 0.98), 1e-9))
    return min(ratios)


def _dip(level: Floats, start: int, ends: int, beat: int, height: float) -> float:
    """How far the level falls below the base line around the start, as a share of the rise: blood adds.
    0 where there is hardly a rise."""
    if height <= SMALL_RISE * float(np.ptp(level[:ends])):
        return 0.0
    around = level[max(0, start - 2 * beat) : min(start + 5 * beat, ends)]
    base = level[max(0, start - 6 * beat) : max(1, start - beat)]
    if not len(around):
        return 0.0
    return (quantile(base, 0.5) - float(np.min(around))) / height


def _came_off(c: Conditioned, d: Deflation, full: int) -> bool:
    """Whether the sensor came off: the signal, once the cuff is up, lies far outside all it was before, or
    does not change at all to the end."""
    if _stands_still(c, d):
        return True
    before = c.signal[: max(d.inflated_at, 1)]
    if len(before) * c.step_s < 3.0:
        return False
    low, high = quantile(before, 0.01), quantile(before, 0.99)
    held = quantile(c.signal[full : d.begins + 1], 0.5)
    return bool(max(held - high, low - held) > max(high - low, 1e-6))


def _stands_still(c: Conditioned, d: Deflation) -> bool:
    last = slice(max(d.begins, d.ends - round(STILL_S / c.step_s)), d.ends)
    return not c.clipped[last].any() and float(np.ptp(c.signal[last])) <= 1e-9


def _polarity(c: Conditioned, d: Deflation, level: Floats, pulses: Floats) -> int:
    """1 if more blood raises the signal, -1 if it lowers it, by three witnesses: the last big change of the
    deflation, how far resting lies above emptied, and that a pulse rises faster than it falls."""
    fall = level[d.begins : d.ends]
    n = len(fall)
    first = max(4, n // 4)
    here = np.arange(n, dtype=float)
    slope, at_zero = line_through(here[:first], fall[:first])
    line = at_zero + slope * here
    # A slope read from a short piece must not be drawn out too far.
    flat = np.full(n, quantile(fall[:first], 0.5))
    tail = (0.5 * (fall - line) + 0.5 * (fall - flat))[n // 2 :]
    up, down = max(float(tail.max()), 0.0), max(float(-tail.min()), 0.0)
    votes = 1.5 * (up - down) / (up + down) if up + down > 0 else 0.0
    rest = level[: d.inflated_at]
    if len(rest) * c.step_s > 2.0:
        # Pressing blood out lowers what is there, whichever way the sensor shows it.
        emptied = quantile(rest[: len(rest) // 2 + 1], 0.5) - quantile(fall[:first], 0.5)
        votes += 2.5 * float(np.clip(emptied / (np.ptp(level) or 1.0), -1, 1))
    slopes = np.diff(pulses)
    size = float(np.mean(slopes * slopes)) ** 1.5
    if size > 0:
        off = slopes - slopes.mean()
        votes += 0.5 * min(max(float(np.mean(off * off * off)) / size, -1.0), 1.0)
    return 1 if votes >= 0 else -1
