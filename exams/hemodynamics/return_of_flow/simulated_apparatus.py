"""The simulated apparatus: how the cuff is worked, what the sensor makes of the blood, and everything that
spoils it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.simulated_circulation import Floats

GRID_HZ = 250.0


@dataclass(slots=True)
class Apparatus:
    """Cuff, manometer, sensor and clock. Noise and drift in parts of the full rise of the signal."""

    rest_s: float
    emptying_s: float  # 0: none (an arm or an ankle)
    inflation_s: float
    hold_s: float
    start_mmhg: float
    floor_mmhg: float
    deflation_mmhg_per_s: float
    bend: float  # a valve gives less as the pressure falls: change of the rate over the deflation
    unevenness: float  # 0 an even valve, 1 stops and jumps
    by_hand: bool
    sampling_hz: float
    clock_scatter: float  # of a step, in steps
    lost_share: float  # of samples that never arrived
    manometer_noise_mmhg: float
    manometer_step_mmhg: float
    cuff_pulse_mmhg: float  # the beat felt by the cuff
    gain: float
    offset: float
    signal_step: float  # of the converter, in parts of the rise
    polarity: int
    absorption: float  # bends the signal: the more blood, the less each further part shows
    coupling_s: float  # 0: standing level kept; else the time constant of the AC coupling
    white_noise: float
    pink_noise: float
    drift: float  # over ten seconds
    tremor: float
    mains: float
    mains_hz: float
    stop_volume: float
    stop_later_s: float
    dump: bool  # the cuff is let go before the recording ends


@dataclass(frozen=True, slots=True)
class Course:
    """The protocol on an even grid: cuff pressure, and how hard the pulp is pressed (0 to 1)."""

    time_s: Floats
    cuff_mmhg: Floats
    pressing: Floats
    released_s: float
    deflation_s: float  # where it begins


def course(kit: Apparatus, lowest_mmhg: float, draw: np.random.Generator) -> Course:
    """Rest, emptying, inflation, release, hold, slow deflation down to ``lowest_mmhg`` (or the floor).

    The cuff goes up while the pulp is still pressed, so that nothing flows back; while holding it settles by
    a few tenths. A valve is never perfect: its rate bends with the pressure, and by hand it may stop and
    jump.
    """
    lowest = max(kit.floor_mmhg, lowest_mmhg)
    pressed_from = kit.rest_s
    inflated_from = kit.rest_s + kit.emptying_s
    inflated = inflated_from + kit.inflation_s
    released = inflated + (0.6 if kit.emptying_s else 0.0)
    deflation = released + kit.hold_s
    # Twice the time an even valve needs, so that the slow ones arrive as well; the stop cuts the rest off.
    end = deflation + 2 * (kit.start_mmhg - lowest) / kit.deflation_mmhg_per_s + 3
    time_s = np.arange(0.0, end, 1 / GRID_HZ)

    part = np.clip((time_s - inflated_from) / kit.inflation_s, 0, 1)
    cuff = kit.start_mmhg * part**1.3
    cuff -= np.clip(time_s - inflated, 0, kit.hold_s) * 0.1
    going = (time_s >= deflation).astype(np.float64)
    through = np.clip((time_s - deflation) / (end - deflation) * 2, 0, 1)
    rate = kit.deflation_mmhg_per_s * (1 + kit.bend * (0.5 - through)) * _valve(kit, time_s, draw)
    cuff -= np.cumsum(rate * going) / GRID_HZ
    cuff = np.where(time_s > inflated, np.maximum(cuff, lowest), cuff)
    below = np.flatnonzero((cuff <= lowest) & (time_s > deflation))
    last = min(time_s.size, int(below[0]) + int(3 * GRID_HZ)) if below.size else time_s.size

    pressing = np.clip((time_s - pressed_from) / 0.5, 0, 1) * np.clip((released - time_s) / 0.3, 0, 1)
    if not kit.emptying_s:
        pressing = np.zeros_like(time_s)
    elif kit.by_hand:
        # A hand strokes: it lets go a little between strokes, until the cuff is up.
        strokes = 0.25 * (1 + np.sin(2 * np.pi * 0.9 * (time_s - pressed_from)))
        pressing = pressing * (1 - strokes * (time_s < inflated_from))
    return Course(time_s[:last], cuff[:last], pressing[:last], released, deflation)


def _valve(kit: Apparatus, time_s: Floats, draw: np.random.Generator) -> Floats:
    """Factor of the rate at each time, about 1 on average: stretches of 0.5 to 2.5 s, each with its own."""
    number = int(time_s[-1] / 0.5) + 2
    ends = np.cumsum(draw.uniform(0.5, 2.5, number))
    factor = np.exp(draw.standard_normal(number) * 0.7 - 0.25)
    factor[draw.random(number) < 0.2] = 0.0
    factor = 1 + min(kit.unevenness, 1.0) * (factor / max(float(np.mean(factor)), 0.3) - 1)
    return factor[np.minimum(np.searchsorted(ends, time_s), number - 1)]


def sampled_times(kit: Apparatus, end_s: float, draw: np.random.Generator) -> Floats:
    """The recording's clock: even, or scattered with samples lost on the way. Always increasing."""
    steps = np.arange(int(end_s * kit.sampling_hz))
    scatter = kit.clock_scatter * draw.uniform(-0.5, 0.5, steps.size)
    time_s = np.maximum(steps + scatter, 0) / kit.sampling_hz
    return time_s[draw.random(steps.size) >= kit.lost_share]


def manometer(kit: Apparatus, time_s: Floats, cuff_mmhg: Floats, draw: np.random.Generator) -> Floats:
    """What the manometer shows of the cuff's pressure: noise, then its smallest step."""
    shown = cuff_mmhg + kit.manometer_noise_mmhg * draw.standard_normal(time_s.size)
    if kit.manometer_step_mmhg:
        shown = np.round(shown / kit.manometer_step_mmhg) * kit.manometer_step_mmhg
    return shown


def sensed(kit: Apparatus, blood: Floats, time_s: Floats) -> Floats:
    """What the light sensor makes of the blood on the grid, still in parts of the rise."""
    from scipy.signal import lfilter

    seen = (1 - np.exp(-kit.absorption * blood)) / kit.absorption if kit.absorption else blood
    if kit.coupling_s:
        keep = float(np.exp(-1 / GRID_HZ / kit.coupling_s))
        seen = lfilter([keep, -keep], [1.0, -keep], seen, zi=[-keep * seen[0]])[0]
    return np.asarray(seen, dtype=np.float64)


def disturbances(kit: Apparatus, time_s: Floats, draw: np.random.Generator) -> Floats:
    """Everything on the signal that is neither blood nor movement, in parts of the rise.

    White noise of light and amplifier; 1/f noise; drift as a random walk with a steady part; tremor of 4 to 8
    Hz that comes and goes; mains, sampled as it is (at 20 Hz it folds into anything from drift to 10 Hz).
    """
    number = time_s.size
    white = kit.white_noise * draw.standard_normal(number)
    pink = kit.pink_noise * _pink(number, draw)
    walk = np.cumsum(draw.standard_normal(number)) / np.sqrt(10 * kit.sampling_hz)
    drift = kit.drift * (walk + draw.standard_normal() * time_s / 10)
    comes_and_goes = np.clip(
        np.sin(2 * np.pi * draw.uniform(0.05, 0.2) * time_s + draw.uniform(0, 6)) + 0.4, 0, 1
    )
    wander = np.cumsum(draw.standard_normal(number)) / np.sqrt(kit.sampling_hz)
    tremor = kit.tremor * comes_and_goes * np.sin(2 * np.pi * draw.uniform(4, 8) * time_s + wander)
    mains = kit.mains * np.sin(2 * np.pi * kit.mains_hz * time_s + draw.uniform(0, 2 * np.pi))
    return np.asarray(white + pink + drift + tremor + mains, dtype=np.float64)


def _pink(number: int, draw: np.random.Generator) -> Floats:
    """1/f noise of standard deviation 1."""
    waves = np.fft.rfft(draw.standard_normal(number))
    waves[1:] /= np.sqrt(np.arange(1, waves.size))
    waves[0] = 0
    noise = np.fft.irfft(waves, number)
    return np.asarray(noise / max(float(np.std(noise)), 1e-12), dtype=np.float64)


def movement(time_s: Floats, at_s: float, lasts_s: float, size: float, draw: np.random.Generator) -> Floats:
    """A movement from ``at_s`` on: rough bumps inside a smooth window that starts and ends at nothing."""
    inside = np.clip((time_s - at_s) / lasts_s, 0, 1)
    bumps = sum(
        draw.standard_normal() * np.sin(np.pi * number * inside + draw.uniform(0, 1))
        for number in range(2, 7)
    )
    return np.asarray(size * np.sin(np.pi * inside) * bumps, dtype=np.float64)


def step(time_s: Floats, at_s: float, size: float) -> Floats:
    """The sensor slips: another level from ``at_s`` on, reached within 40 ms."""
    return size * np.clip((time_s - at_s) / 0.04, 0, 1)


def spike(time_s: Floats, at_s: float, lasts_s: float, size: float) -> Floats:
    """A pull at the cable: away and back."""
    return size * np.exp(-(((time_s - at_s) / (lasts_s / 2)) ** 2))
