"""The parts of a recording by name, and each beat that can be seen."""

from __future__ import annotations

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import quantile
from exams.hemodynamics.return_of_flow.reading import Beat, Phase, PhaseName
from exams.hemodynamics.return_of_flow.rhythm import beats_of
from exams.hemodynamics.return_of_flow.signs import Seen


def beats_seen(seen: Seen, found: bool) -> tuple[Beat, ...]:
    """Every beat before the inflation and after the return, with the height of its pulse."""
    c, d = seen.conditioned, seen.deflation
    step, beat_s = c.step_s, seen.rhythm.beat_s
    if not seen.rhythm.seen:
        return ()
    back = max(2, round(0.6 * beat_s / step))
    beats: list[Beat] = []
    for first, last in ((0, d.inflated_at), (seen.start if found else d.ends, d.ends)):
        part = seen.pulses[first:last]
        if len(part) < 3:
            continue
        floor = 0.5 * quantile(part, 0.95)
        for top in first + beats_of(part, step, beat_s, floor):
            if c.missing[top] or c.clipped[top]:
                continue
            low = float(seen.pulses[max(0, top - back) : top + 1].min())
            beats.append(
                Beat(
                    time_s=c.start_s + float(top * step),
                    cuff_mmhg=float(c.cuff_mmhg[top]),
                    level=seen.polarity * c.middle + c.unit * float(seen.signal[top]),
                    amplitude=c.unit * (float(seen.pulses[top]) - low),
                )
            )
    return tuple(beats)


def phases_of(seen: Seen, found: bool) -> tuple[Phase, ...]:
    """Rest, emptying, inflation, occluded, return and stop, as far as each is there."""
    c, d = seen.conditioned, seen.deflation
    step = c.step_s

    def at(tick: float) -> float:
        return c.start_s + float(tick) * step

    full = seen.full
    emptied = _emptying(seen)
    phases: list[Phase] = []
    rest_ends = emptied[0] if emptied else d.inflated_at
    if rest_ends * step > 0.5:
        phases.append(Phase(PhaseName.REST, at(0), at(rest_ends)))
    if emptied:
        phases.append(Phase(PhaseName.EMPTYING, at(emptied[0]), at(emptied[1])))
    if full > d.inflated_at:
        phases.append(Phase(PhaseName.INFLATION, at(d.inflated_at), at(full)))
    occluded_ends = seen.start if found else d.ends - 1
    phases.append(Phase(PhaseName.OCCLUDED, at(full), at(occluded_ends)))
    if found:
        phases.append(Phase(PhaseName.RETURN, at(occluded_ends), at(d.ends - 1)))
    if d.ends < len(seen.signal) - round(0.5 / step):
        phases.append(Phase(PhaseName.STOP, at(d.ends - 1), at(len(seen.signal) - 1)))
    return tuple(phases)


def _emptying(seen: Seen) -> tuple[int, int] | None:
    """When the pulp was pressed empty: the signal leaves its resting level for good before the fall."""
    c, d = seen.conditioned, seen.deflation
    before = seen.level[: d.begins]
    if len(before) * c.step_s < 2.0:
        return None
    rest = quantile(before[: max(2, len(before) // 4)], 0.5)
    empty = quantile(seen.level[d.begins : max(d.begins + 2, (d.begins + seen.start) // 2)], 0.5)
    if rest - empty < 0.3 * max(seen.rise.height, 1e-12):
        return None
    high = np.flatnonzero(before > rest - 0.2 * (rest - empty))
    low = np.flatnonzero(before < empty + 0.2 * (rest - empty))
    if not len(high) or not len(low) or low[-1] <= high[-1]:
        return None
    return int(high[-1]), int(low[low > high[-1]][0])
