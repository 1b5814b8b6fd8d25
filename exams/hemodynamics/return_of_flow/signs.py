"""What can be seen in a recording: numbers only. ``trust`` decides what they mean."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import Bools, Conditioned, Floats, moving_average
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
    Rhythm,
    likeness_after,
    pulses_of,
    rhythm_of,
    strength_of,
)

# A jump is sharper than any pulse: it happens within two ticks of the working clock.
_JUMP_SIDE_S = 0.35
# The slowest clock on which a jump can be told from a pulse's rise.
_JUMP_STEP_S = 0.03
_MOST_JUMPS = 3


@dataclass(frozen=True, slots=True)
class Seen:
    """Everything measured on one recording.

    Heights are in the signal's units, blood upwards. ``rise`` and ``belief`` are about the deflation;
    ``start`` is the tick at which the cuff stood at the believed pressure.
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
    rest_strength: float
    occluded_strength: float
    return_strength: float
    occluded_likeness: float
    jumps_s: tuple[float, ...]
    moved: Bools


def look(c: Conditioned, d: Deflation, *, use_level: bool) -> Seen:
    """Measure a conditioned recording."""
    step = c.step_s
    rough = pulses_of(c.signal, step)
    late = rough[max(d.begins, d.ends - round(8.0 / step)) : d.ends]
    early = rough[: max(d.inflated_at - round(0.5 / step), 0)]
    rhythm = rhythm_of([early, late], step)
    beat_s = rhythm.beat_s
    blurred = moving_average(c.signal, round(beat_s / step))
    polarity = _polarity(c, d, blurred, rough)
    signal, level = polarity * c.signal, polarity * blurred
    pulses = polarity * pulses_of(c.signal, step, beat_s)
    strength = strength_of(pulses, step, beat_s)

    ticks = np.arange(d.begins, d.ends, max(1, round(READ_STEP_S / step)))
    hidden = c.missing | c.clipped
    dark = moving_average(hidden.astype(float), round(beat_s / step)) > 0.25
    time = c.time_s
    rise = rise_of(time[ticks], c.cuff_mmhg[ticks], level[ticks], strength[ticks], ~dark[ticks])
    jumps = _jumps(signal, d, rise, step)
    belief = belief_of(
        rise, beat_s=beat_s, rate_mmhg_per_s=d.rate_mmhg_per_s, use_level=use_level, jumps_s=jumps
    )
    start = d.tick_at(belief.middle_mmhg)
    before = slice(d.begins, max(d.begins + round(1.0 / step), start - round(beat_s / step)))
    after = slice(min(start, d.ends - 1), d.ends)
    rest = strength[: max(d.inflated_at - round(beat_s / step), 0)]
    return Seen(
        conditioned=c,
        deflation=d,
        polarity=polarity,
        signal=signal,
        level=level,
        pulses=pulses,
        strength=strength,
        rhythm=rhythm,
        rise=rise,
        belief=belief,
        start=start,
        rest_strength=float(np.median(rest)) if len(rest) else 0.0,
        occluded_strength=float(np.median(strength[before])),
        return_strength=float(np.percentile(strength[after], 90)),
        occluded_likeness=likeness_after(pulses[before], step, beat_s) if rhythm.seen else 0.0,
        jumps_s=jumps,
        moved=np.zeros(len(signal), bool),
    )


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
    flat = np.full(n, np.median(fall[:first]))
    off = 0.5 * (fall - line) + 0.5 * (fall - flat)
    tail = off[n // 2 :]
    up, down = max(float(tail.max()), 0.0), max(float(-tail.min()), 0.0)
    votes = 1.5 * (up - down) / (up + down) if up + down > 0 else 0.0
    spread = float(np.ptp(level)) or 1.0
    rest = level[: d.inflated_at]
    if len(rest) * c.step_s > 2.0:
        votes += float(
            np.clip((np.median(rest[: len(rest) // 2 + 1]) - np.median(fall[:first])) / spread, -1, 1)
        )
    slopes = np.diff(pulses)
    size = float(np.mean(slopes**2)) ** 1.5
    if size > 0:
        votes += 0.5 * float(np.clip(np.mean((slopes - slopes.mean()) ** 3) / size, -1, 1))
    return 1 if votes >= 0 else -1


def _jumps(signal: Floats, d: Deflation, rise: Rise, step: float) -> tuple[float, ...]:
    """Moments at which the signal changes level within a blink, before the rise is half made."""
    until = d.begins + round(rise.used_until * READ_STEP_S / step)
    part = signal[d.begins : min(until, d.ends)]
    side = round(_JUMP_SIDE_S / step)
    if step > _JUMP_STEP_S or len(part) < 2 * side + 8:
        return ()  # on a slow clock a step and the first beat look the same
    mean = moving_average(part, side)
    reach = side // 2 + 2
    change = np.zeros(len(part))
    change[reach:-reach] = mean[2 * reach :] - mean[: -2 * reach]
    sharp = np.zeros(len(part))
    sharp[1:-1] = part[2:] - part[:-2]
    quiet = sharp[: max(10, round(0.5 * len(part)))]
    noise = 1.4826 * float(np.median(np.abs(quiet))) + 1e-12
    bar = max(0.06 * rise.height, 4 * rise.noise, 6 * noise)
    found: list[float] = []
    size = np.abs(change)
    while len(found) < _MOST_JUMPS:
        at = int(np.argmax(size))
        if size[at] < bar:
            break
        near = slice(max(0, at - 3), at + 4)
        if np.max(sharp[near] * np.sign(change[at])) > 0.7 * size[at]:
            found.append((d.begins + at) * step)
        size[max(0, at - 2 * side) : at + 2 * side] = 0.0
    return tuple(found)
