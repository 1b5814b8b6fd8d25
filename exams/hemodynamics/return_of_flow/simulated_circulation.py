"""A simulated person: heart beats, the arterial pressure under the cuff, the blood that passes and the pulp
it fills.

Everything here is the body; cuff, sensor and their faults are in ``simulated_apparatus``. No source is
claimed for single numbers: they are ranges that people in a vascular laboratory would find ordinary. The laws
between them are what carries the simulation, and each is argued where it stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]


@dataclass(slots=True)
class Body:
    """One person. Pressures in mmHg at the height of the toe, volumes in parts of what the pulp holds when
    full."""

    systolic_mmhg: float
    pulse_mmhg: float  # systolic minus diastolic
    rate_per_min: float
    upstroke_s: float
    runoff_s: float  # how fast the pressure falls away after its peak
    respiration_mmhg: float
    respiration_hz: float
    slow_wave_mmhg: float  # about ten seconds long, of the vessels' own tone
    beat_scatter_mmhg: float
    irregular: float  # coefficient of variation of the interval; 0 is a regular heart
    extra_beat_share: float
    filling_s: float  # of the pulp, were the cuff 10 mmHg below systolic
    softness: float  # exponent of the flow in the excess pressure, 1 and more
    pulse_share: float  # height of the pulse in rest
    stiffening_mmhg: float  # excess at which half of the artery's give is used up
    leak: float  # under an inflated cuff, fillings of the pulp a second
    venous_volume: float  # to which the pulp fills without any artery
    venous_s: float
    venous_delay_s: float
    left_after_emptying: float
    flows: bool  # False: no blood ever passes, at any cuff pressure


@dataclass(frozen=True, slots=True)
class Beats:
    """Each beat: foot, top, and the systolic pressure at the top."""

    onset_s: Floats
    interval_s: Floats
    top_s: Floats
    systolic_mmhg: Floats


def heart_beats(body: Body, duration_s: float, variability: float, draw: np.random.Generator) -> Beats:
    """The beats of ``duration_s`` seconds, a few before and after.

    - A regular heart varies its interval by about 2 %, and shortens it a little in each breath in.
    - Breathing and slow waves of the vessels' tone raise and lower systolic by a few mmHg each; what is left
      from beat to beat is random.
    - Atrial fibrillation: intervals scatter, and a beat after a long interval is a strong one, because the
      heart filled longer (here 20 mmHg per second of interval, less a third of that for the interval before).
    - An extra beat comes after about 0.62 of an interval with too little in the heart, the pause after it
      lasts about 1.35, and the beat after the pause is stronger than ordinary ones.

    ``variability`` scales every difference from beat to beat; at 0 all beats are alike.
    """
    mean_s = 60.0 / body.rate_per_min
    number = int(duration_s / mean_s * 1.6) + 20
    scatter = draw.standard_normal(number)
    if body.irregular:
        interval = mean_s * np.exp(variability * body.irregular * scatter - body.irregular**2 / 2)
    else:
        breath = np.sin(2 * np.pi * body.respiration_hz * mean_s * np.arange(number))
        interval = mean_s * (1 + variability * (0.02 * scatter + 0.025 * breath))
    interval = np.clip(interval, 0.36, 2.4)
    early = np.flatnonzero(draw.random(number) < body.extra_beat_share)
    early = early[(early > 1) & (early < number - 2)]
    early = early[np.diff(early, prepend=-9) > 2]
    interval[early] *= 1 - 0.38 * variability
    interval[early + 1] *= 1 + 0.35 * variability

    onset = np.cumsum(interval) - interval - mean_s * (3 + draw.random())
    before = np.roll(interval, 1)
    phase = draw.uniform(0, 2 * np.pi, 2)
    change = (
        body.respiration_mmhg * np.sin(2 * np.pi * body.respiration_hz * onset + phase[0])
        + body.slow_wave_mmhg * np.sin(2 * np.pi * 0.1 * onset + phase[1])
        + body.beat_scatter_mmhg * draw.standard_normal(number)
    )
    if body.irregular:
        change += 20 * (before - mean_s) - 6.6 * (np.roll(interval, 2) - mean_s)
    # ``early`` is the short interval; the beat that ends it is the weak one, the one after the pause the
    # strong.
    change[early + 1] -= draw.uniform(0.2, 0.6, early.size) * body.pulse_mmhg
    change[early + 2] += draw.uniform(0.05, 0.2, early.size) * body.pulse_mmhg
    systolic = np.maximum(body.systolic_mmhg + variability * change, 1.0)
    return Beats(onset, interval, onset + np.minimum(body.upstroke_s, interval / 2), systolic)


def arterial_pressure(body: Body, beats: Beats, time_s: Floats) -> Floats:
    """Pressure in the artery under the cuff, mmHg, at each time.

    A beat climbs from where the last one has fallen to (a smooth half wave), reaches its own systolic, and
    runs off exponentially through the vessels beyond, with a small second wave. A late beat therefore starts
    from lower.
    """
    mean_s = 60.0 / body.rate_per_min
    fallen = float(_run_off(body, np.array([mean_s - min(body.upstroke_s, mean_s / 2)]))[0])
    diastolic = body.systolic_mmhg - body.pulse_mmhg
    end = (diastolic - body.systolic_mmhg * fallen) / (1 - fallen)

    upstroke = beats.top_s - beats.onset_s
    foot = end + (beats.systolic_mmhg - end) * _run_off(body, beats.interval_s - upstroke)
    foot = np.roll(foot, 1)

    beat = np.searchsorted(beats.onset_s, time_s, side="right") - 1
    since = time_s - beats.onset_s[beat]
    top, low, climb = beats.systolic_mmhg[beat], foot[beat], upstroke[beat]
    rising = low + (top - low) * np.sin(np.pi / 2 * np.minimum(since / climb, 1)) ** 2
    after = np.maximum(since - climb, 0)
    second = 0.08 * body.pulse_mmhg * np.exp(-(((after - 0.22) / 0.06) ** 2) / 2)
    falling = end + (top - end) * _run_off(body, after) + second * (after > 0)
    return np.maximum(np.where(since < climb, rising, falling), 0.0)


def _run_off(body: Body, after_s: Floats) -> Floats:
    """Part of the pressure left so long after the top, whose roundness is the first 0.06 s."""
    return np.exp(-(after_s**2) / (after_s + 0.06) / body.runoff_s)


def blood_in_pulp(
    body: Body, time_s: Floats, arterial_mmhg: Floats, cuff_mmhg: Floats, pressing: Floats, released_s: float
) -> tuple[Floats, Floats]:
    """Standing volume of the pulp (1 is full) and the pulse on it (1 is the pulse in rest), at each time.

    - **Inflow only above the cuff.** The cuff closes the artery whenever its pressure is the higher one. In
      the part of a beat that stands above it, blood flows with the excess through an artery that the excess
      itself has to open: a tube lets pass more than in proportion the wider it stands. Together that is a
      power of the excess (``softness``) from 1, an artery that snaps open, to above 2, one that opens slowly.
      The first beat to pass stands above the cuff by less than what the cuff loses in one beat, and only with
      its top: it brings a few hundredths of what the pulp holds, or less. The start of the rise is soft.
    - **No outflow.** The cuff closes the veins too: what came in stays, and the pulp fills until it is full
      (1 − volume scales the inflow). Below about 25 mmHg the veins open.
    - **Emptying** closes the pulp's vessels and presses the blood out, down to what cannot be pressed out.
    - **Slow refill** by what was pressed aside and by veins, from the release on: a bounded, exponential
      climb that has nothing to do with the artery.
    - **A leak** is inflow at any cuff pressure, in time with the beats.
    - **The pulse** is the artery beyond the cuff widening with what stands above the cuff: it grows as the
      cuff falls, less and less as the wall stiffens.

    Volume obeys dV/dt = in (1 − V) − out V − press (V − left) + veins (venous − V): linear in V, so it is
    solved in one pass for the whole recording.
    """
    from scipy.signal import lfilter

    step = float(time_s[1] - time_s[0])
    excess = np.maximum(arterial_mmhg - cuff_mmhg, 0.0)
    at_rest = arterial_mmhg[: max(2, int(3 / step))]
    usual = _mean_flow(np.maximum(at_rest - (body.systolic_mmhg - 10), 0.0), body.softness)
    inflow = excess**body.softness / (usual * body.filling_s)
    inflow = inflow / (1 + inflow / 2.0)  # the artery itself passes no more than two fillings a second
    leaking = body.leak * arterial_mmhg / body.systolic_mmhg
    inflow = (inflow + leaking) * (1 - pressing) * body.flows

    veins_open = 0.5 * np.clip(1 - cuff_mmhg / 25, 0, 1) * body.flows
    pressed = pressing * 2.5
    refill = (time_s > released_s + body.venous_delay_s) * (1 - pressing) / body.venous_s
    gain = (inflow + pressed * body.left_after_emptying + refill * body.venous_volume) * step
    loss = np.cumsum((inflow + veins_open + pressed + refill) * step)
    coming, going = float(np.mean(inflow[: at_rest.size])), float(np.mean(veins_open[: at_rest.size]))
    start = coming / (coming + going) if body.flows else 0.5
    volume = np.exp(-loss) * (start + np.cumsum(gain * np.exp(loss)))

    give = excess / (1 + excess / body.stiffening_mmhg)
    passing = 3 * min(body.leak, 0.3) * (arterial_mmhg - body.systolic_mmhg + body.pulse_mmhg)
    give = give + np.maximum(passing, 0)
    slack = float(np.exp(-step / 0.07))
    # It starts from its own mean, as the recording begins amid an ordinary life.
    settled = [slack * float(np.mean(give[: at_rest.size]))]
    pulse = lfilter([1 - slack], [1.0, -slack], give, zi=settled)[0] * body.flows
    in_rest = body.systolic_mmhg / (1 + body.systolic_mmhg / body.stiffening_mmhg)
    low = max(body.systolic_mmhg - body.pulse_mmhg, 0)
    height = in_rest - low / (1 + low / body.stiffening_mmhg)
    # Where the wall has little give left in rest the pulse may grow as the cuff takes its load off: up to
    # threefold.
    return volume, (1 - pressing) * np.asarray(pulse) / max(height, body.pulse_mmhg / 3)


def _mean_flow(excess: Floats, softness: float) -> float:
    return max(float(np.mean(excess**softness)), 1e-6)
