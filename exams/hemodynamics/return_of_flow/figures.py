"""The figures that the flags and the reasons are decided by, taken from what was seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import Bools, quantile, runs_of
from exams.hemodynamics.return_of_flow.occlusion import local_rates
from exams.hemodynamics.return_of_flow.onset import READ_STEP_S
from exams.hemodynamics.return_of_flow.reading import Beat
from exams.hemodynamics.return_of_flow.signs import Seen

# So many beats of a rise so many times the noise: more of it would not change the answer.
ENOUGH_BEATS = 6.0
ENOUGH_RISE = 12.0
# Beats around the mark that must be seen whole.
SEEN_BEFORE_BEATS = 1.0
SEEN_AFTER_BEATS = 2.0
HIDDEN_SHARE = 0.15
SHORTEST_REST_S = 3.0


@dataclass(frozen=True, slots=True)
class Signs:
    """The numbers that the flags are decided by; heights as shares of the whole rise or return."""

    found: bool
    pressure: float
    rate: float
    uneven: float
    beat_mmhg: float
    rise_over_noise: float
    drift_share: float
    occluded_share: float
    occluded_likeness: float
    early_share: float
    rest_share: float
    early_likeness: float
    early_climb: float
    beats_after: float
    above_start: float
    irregular: float
    hidden_by_gap: bool
    hidden_by_rail: bool
    stir_at_mark_s: float | None
    disturbance: float
    dip: float


def signs_of(seen: Seen, beats: tuple[Beat, ...], found: bool) -> Signs:
    """The figures of one recording; without a return those about the mark are of no use."""
    rise, d, step = seen.rise, seen.deflation, seen.conditioned.step_s
    beat_s = seen.rhythm.beat_s
    pressure = seen.belief.middle_mmhg
    around_mark = np.abs(d.falling_mmhg - pressure) <= 10.0
    stretch = d.falling_mmhg[around_mark] if around_mark.sum() > 2 / step else d.falling_mmhg
    rates = local_rates(stretch, step)
    rate = max(float(np.mean(rates)), 0.01)
    tick = int(np.clip((seen.start - d.begins) * step / READ_STEP_S, 0, len(rise.level) - 1))
    drifted = rise.slope_per_s * float(rise.time_s[tick] - rise.time_s[0])
    strongest = max(seen.return_strength, 1e-300)
    around = slice(
        max(0, seen.start - round(SEEN_BEFORE_BEATS * beat_s / step)),
        seen.start + round(SEEN_AFTER_BEATS * beat_s / step),
    )
    c = seen.conditioned
    near = [stir for stir in seen.stirs if abs(stir.ends - seen.start) * step < 2.0 * beat_s]
    return Signs(
        found=found,
        pressure=pressure,
        rate=rate,
        uneven=float(np.std(rates) / rate),
        beat_mmhg=rate * beat_s,
        rise_over_noise=rise.height / float(np.hypot(rise.noise, rise.wander)),
        drift_share=drifted / rise.height if found and rise.height > 0 else 0.0,
        occluded_share=seen.occluded_strength / strongest,
        occluded_likeness=seen.occluded_likeness,
        early_share=seen.early_strength / strongest,
        rest_share=_rest_share(seen),
        early_likeness=seen.early_likeness,
        early_climb=seen.early_climb,
        beats_after=(d.ends - seen.start) * step / beat_s,
        above_start=float(seen.belief.share[seen.belief.pressure_mmhg > d.start_mmhg - 1.0].sum()),
        irregular=_irregularity(beats, c.start_s + d.inflated_at * step),
        hidden_by_gap=_hidden(seen, c.missing, around, 0.5),
        hidden_by_rail=_hidden(seen, c.clipped, around, 0.25),
        stir_at_mark_s=near[0].begins * step if near else None,
        disturbance=seen.disturbance,
        dip=seen.dip,
    )


def _rest_share(seen: Seen) -> float:
    """How strong the pulses are at rest over in the deflation; infinite where no rest is."""
    d, step = seen.deflation, seen.conditioned.step_s
    if d.inflated_at * step < SHORTEST_REST_S:
        return float("inf")
    at_rest = quantile(seen.strength[: d.inflated_at], 0.75)
    return at_rest / max(quantile(seen.strength[d.begins : d.ends], 0.5), 1e-300)


def _irregularity(beats: tuple[Beat, ...], inflated_s: float) -> float:
    """Spread of the time between beats over its middle, in the calmer of rest and return.

    Noise makes one of them look irregular; a heart that is shows it in both. 0 with too few beats.
    """
    times = np.array([beat.time_s for beat in beats])
    spreads = []
    for part in (times[times < inflated_s], times[times >= inflated_s]):
        gaps = np.diff(part)
        gaps = gaps[gaps < 2.5]
        if len(gaps) >= 5:
            spreads.append((quantile(gaps, 0.84) - quantile(gaps, 0.16)) / 2 / quantile(gaps, 0.5))
    return min(spreads, default=0.0)


def _hidden(seen: Seen, where: Bools, around: slice, beats: float) -> bool:
    """Whether a hole lies over the mark, or over much of where the mark may be."""
    if not where.any():
        return False
    longest = beats * seen.rhythm.beat_s / seen.conditioned.step_s
    if _longest(where[around]) > longest:
        return True
    d, belief = seen.deflation, seen.belief
    if _longest(where[d.begins : d.ends]) <= longest:
        return False
    ticks = np.array([d.tick_at(pressure) for pressure in belief.pressure_mmhg])
    return float(belief.share[where[ticks]].sum()) > HIDDEN_SHARE


def _longest(where: Bools) -> int:
    """Ticks of the longest stretch that is True."""
    starts, ends = runs_of(where)
    return int((ends - starts).max(initial=0))
