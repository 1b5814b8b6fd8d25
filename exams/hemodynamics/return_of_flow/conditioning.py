"""A recording made fit to be read: one even clock, gaps and rails known, spikes gone.

Nothing here decides anything about the mark; every step keeps time and pressure where they were.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.return_of_flow.reading import FlagCode

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# The working clock. Pulses are slower than 10 Hz, so no more is needed; a slower recording keeps its own.
WORKING_HZ = 50.0
SLOWEST_HZ = 8.0
SHORTEST_S = 5.0
FEWEST_SAMPLES = 60
# A hole longer than this is a gap; a shorter one is bridged.
GAP_S = 0.3
BEAT_LIMITS_S = (0.33, 1.8)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """Why a recording cannot be read at all: in words a nurse understands, and as the flags that say it."""

    words: str
    codes: tuple[FlagCode, ...] = (FlagCode.UNREADABLE,)


@dataclass(frozen=True, slots=True)
class Conditioned:
    """A recording on an even clock.

    Attributes
    ----------
    start_s : float
        Of the recording's own clock; ``time_s`` counts from here.
    step_s : float
    cuff_mmhg : array, shape (n,)
        Smoothed over about half a second, so that whole-mmHg steps and noise do not matter.
    signal : array, shape (n,)
        -1 to 1 over the whole recording; missing and clipped stretches bridged by straight lines.
    middle, unit : float
        The recording's own value is ``middle + unit * signal``.
    missing, clipped : bool array, shape (n,)
    sampling_hz : float
        As recorded.
    mains_share : float
        Height of a fast steady hum over the height of all else that is fast; 0 where it cannot be told.
    """

    start_s: float
    step_s: float
    cuff_mmhg: Floats
    signal: Floats
    middle: float
    unit: float
    missing: Bools
    clipped: Bools
    sampling_hz: float
    mains_share: float

    @property
    def time_s(self) -> Floats:
        return ticks_of(len(self.signal), self.step_s)


def condition(
    time_s: npt.ArrayLike, cuff_mmhg: npt.ArrayLike, signal: npt.ArrayLike
) -> Conditioned | Unreadable:
    """Bring a recording onto an even clock.

    Parameters
    ----------
    time_s, cuff_mmhg, signal : array-like, shape (n,)
        Seconds, mmHg, and any unit. Values may be missing (not finite) and the clock uneven.

    Returns
    -------
    Conditioned, or Unreadable with the reason. Nothing is ever raised about the values.
    """
    read = _as_numbers(time_s, cuff_mmhg, signal)
    if isinstance(read, Unreadable):
        return read
    time, cuff, values, usual_step = read
    sampling_hz = 1.0 / usual_step
    if sampling_hz < SLOWEST_HZ:
        return Unreadable(
            f"The recording has {sampling_hz:.1f} samples a second; at least {SLOWEST_HZ:.0f} are needed."
        )
    known = np.isfinite(values)
    if known.sum() < FEWEST_SAMPLES:
        words = "The sensor's signal is missing from almost all of the recording."
        return Unreadable(words, (FlagCode.GAP_AT_MARK, FlagCode.LOW_AMPLITUDE))
    if not np.isfinite(cuff).sum() >= FEWEST_SAMPLES:
        return Unreadable("The cuff pressure is missing from almost all of the recording.")
    # From here on the signal counts from its middle in parts of its whole range, whatever its units were.
    highest, lowest = float(np.max(values[known])), float(np.min(values[known]))
    middle, unit = 0.5 * highest + 0.5 * lowest, 0.5 * highest - 0.5 * lowest
    if not 0 < unit < 1e300:
        words = "The sensor's signal does not change at all: the sensor was off or not connected."
        return Unreadable(words, (FlagCode.LOW_AMPLITUDE, FlagCode.NO_RETURN))
    values = (values - middle) / unit
    clipped = _at_a_rail(values, known, usual_step)
    hum = _mains_share(values[known], sampling_hz)

    step = max(1.0 / WORKING_HZ, usual_step)
    length = int(np.floor((time[-1] - time[0]) / step)) + 1
    grid = ticks_of(length, step)
    clock: Floats = time - time[0]
    whole = known & ~clipped
    if whole.sum() < FEWEST_SAMPLES:
        words = "The signal stands at the end of its range almost all of the time."
        return Unreadable(words, (FlagCode.CLIPPED,))
    if usual_step < 0.67 * step:
        even = _averaged(clock[whole], values[whole], step, length)
    else:
        even = np.interp(grid, clock[whole], values[whole])
    at_rail = _lies_in(grid, clock[clipped], step) if clipped.any() else np.zeros(length, bool)
    missing = _in_a_hole(grid, clock[known])
    has_cuff = np.isfinite(cuff)
    even_cuff = np.interp(grid, clock[has_cuff], cuff[has_cuff])
    return Conditioned(
        start_s=float(time[0]),
        step_s=step,
        cuff_mmhg=_smooth_cuff(even_cuff, step),
        signal=_without_spikes(even),
        middle=middle,
        unit=unit,
        missing=missing | _in_a_hole(grid, clock[has_cuff], longest_s=1.0),
        clipped=at_rail,
        sampling_hz=sampling_hz,
        mains_share=hum,
    )


def ticks_of(length: int, step_s: float) -> Floats:
    """The times of an even clock, s."""
    return np.arange(length, dtype=np.float64) * np.float64(step_s)


def moving_average(values: Floats, samples: int) -> Floats:
    """Mean over ``samples`` (made odd) around each place; at the ends over what there is."""
    count = len(values)
    half = min(max(0, int(samples) // 2), max(count - 1, 0))
    if half == 0:
        return values.copy()
    total = np.zeros(count + 1)
    np.cumsum(values, out=total[1:])
    average = np.empty(count)
    inner = count - 2 * half
    if inner <= 0:
        here = np.arange(count)
        low, high = np.maximum(here - half, 0), np.minimum(here + half + 1, count)
        np.divide(total[high] - total[low], high - low, out=average)
        return average
    whole = 2 * half + 1
    np.subtract(total[whole:], total[:inner], out=average[half : half + inner])
    average[half : half + inner] /= whole
    shares = np.arange(half + 1.0, whole)
    np.divide(total[half + 1 : whole], shares, out=average[:half])
    np.divide(total[count] - total[inner : inner + half], shares[::-1], out=average[count - half :])
    return average


def quantile(values: Floats, share: float) -> float:
    """The value that ``share`` (0 to 1) of the values lie below; the nearest one there is."""
    place = round(share * (len(values) - 1))
    return float(np.partition(values, place)[place])


def _as_numbers(
    time_s: npt.ArrayLike, cuff_mmhg: npt.ArrayLike, signal: npt.ArrayLike
) -> tuple[Floats, Floats, Floats, float] | Unreadable:
    """The three as numbers in the order of time, and the usual step between two samples, s."""
    try:
        time, cuff, values = (
            np.array(one, dtype=np.float64).reshape(-1) for one in (time_s, cuff_mmhg, signal)
        )
    except (TypeError, ValueError, OverflowError):
        return Unreadable("The recording holds something that is not a number.")
    if not len(time) == len(cuff) == len(values):
        return Unreadable("Time, cuff pressure and signal have different lengths.")
    cuff[~(np.abs(cuff) < 1000)] = np.nan  # no cuff reaches it: a broken number, not a pressure
    timed = np.isfinite(time) & (np.abs(time) < 1e12)
    time, cuff, values = time[timed], cuff[timed], values[timed]
    if len(time) < FEWEST_SAMPLES:
        words = "The recording has too few samples to be read."
        return Unreadable(words, (FlagCode.STOPPED_TOO_EARLY,))
    steps = np.diff(time)
    if np.any(steps <= 0):
        order = np.argsort(time, kind="stable")
        time, cuff, values = time[order], cuff[order], values[order]
        first = np.concatenate(([True], np.diff(time) > 0))
        time, cuff, values = time[first], cuff[first], values[first]
        steps = np.diff(time)
    if len(time) < FEWEST_SAMPLES or time[-1] - time[0] < SHORTEST_S:
        words = f"The recording is shorter than {SHORTEST_S:.0f} seconds."
        return Unreadable(words, (FlagCode.STOPPED_TOO_EARLY,))
    usual_step = quantile(steps, 0.5)
    if (time[-1] - time[0]) > 7200 or usual_step * len(time) * 50 < time[-1] - time[0]:
        return Unreadable("The recording's clock jumps; its times cannot be right.")
    return time, cuff, values, usual_step


def _at_a_rail(values: Floats, known: Bools, step_s: float) -> Bools:
    """Where the signal stands at the end of the converter's range.

    A rail is the highest or the lowest value, kept unchanged for several samples again and again, in a signal
    that elsewhere does change from sample to sample (a coarse converter repeats values everywhere).
    """
    rail = np.zeros(len(values), bool)
    if known.sum() < 10:
        return rail
    top, floor = np.max(values[known]), np.min(values[known])
    tolerance = 1e-9 * (top - floor)
    same = np.zeros(len(values), bool)
    same[1:] = np.abs(np.diff(values)) <= tolerance
    shortest = max(4, round(0.12 / step_s))
    for edge in (top, floor):
        at_edge = known & (np.abs(values - edge) <= tolerance)
        away = known & ~at_edge
        if at_edge.sum() < shortest or np.mean(same[away]) > 0.3:
            continue
        starts, ends = runs_of(at_edge)
        for start, end in zip(starts, ends, strict=True):
            if end - start >= shortest:
                rail[start:end] = True
    return rail


def runs_of(where: Bools) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Starts and (exclusive) ends of the stretches that are True."""
    edges = np.diff(np.concatenate(([0], where.astype(np.int8), [0])))
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


def _averaged(clock: Floats, values: Floats, step: float, length: int) -> Floats:
    """Mean of the samples from each tick to the next; ticks without a sample are bridged."""
    # A hair is added so that a sample on a tick belongs to it, however its time was rounded.
    tick = np.minimum((clock / step + 1e-3).astype(np.intp), length - 1)
    count = np.bincount(tick, minlength=length)
    total = np.bincount(tick, weights=values, minlength=length)
    filled = count > 0
    means: Floats = np.interp(np.arange(length), np.flatnonzero(filled), total[filled] / count[filled])
    return means


def _lies_in(grid: Floats, moments: Floats, step: float) -> Bools:
    """Which ticks have one of the moments within half a step."""
    near = np.zeros(len(grid), bool)
    near[np.clip(np.round(moments / step).astype(np.intp), 0, len(grid) - 1)] = True
    return near


def _in_a_hole(grid: Floats, clock: Floats, longest_s: float = GAP_S) -> Bools:
    """Which ticks lie in a stretch longer than ``longest_s`` without a sample."""
    gaps = np.concatenate(([0.0], np.diff(clock), [0.0])) > longest_s
    hole: Bools = gaps[np.searchsorted(clock, grid, side="left")] if gaps.any() else np.zeros(len(grid), bool)
    hole |= (grid < clock[0] - longest_s) | (grid > clock[-1] + longest_s)
    return hole


def _smooth_cuff(cuff: Floats, step: float) -> Floats:
    """Half a second's mean of a three-sample median: a single wrong number does not bend it."""
    return moving_average(_median_of_three(cuff), round(0.5 / step))


def _median_of_three(values: Floats) -> Floats:
    if len(values) < 3:
        return values
    before, here, after = values[:-2], values[1:-1], values[2:]
    middle = np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))
    return np.concatenate((values[:1], middle, values[-1:]))


def _without_spikes(values: Floats) -> Floats:
    """Replace single samples that stand far off both neighbours; a pulse never does at this clock."""
    middle = _median_of_three(values)
    off = np.abs(values - middle)
    usual = quantile(np.abs(np.diff(middle)), 0.5) + 1e-12 * (np.max(values) - np.min(values))
    return np.where(off > 6 * usual, middle, values)


def _mains_share(values: Floats, sampling_hz: float) -> float:
    """How much of what is fast in the signal is a steady hum of 50 or 60 Hz (folded down where needed).

    Returns
    -------
    float
        Height (standard deviation) of the hum over that of everything between successive samples; 0 to 1.
    """
    count = min(len(values), 4096)
    if count < 128:
        return 0.0
    quick = np.diff(values[-count:])
    spread = float(np.std(quick))
    if spread <= 0:
        return 0.0
    power = np.abs(np.fft.rfft(quick * _window(len(quick)))) ** 2
    pitch = np.fft.rfftfreq(len(quick), 1.0 / sampling_hz)
    total = float(power.sum())
    best = 0.0
    for mains in (50.0, 60.0):
        folded = abs(mains - sampling_hz * round(mains / sampling_hz))
        if folded < 6.0:  # among the pulses it cannot be told from them
            continue
        near = np.abs(pitch - folded) < 0.6
        best = max(best, float(np.sqrt(power[near].sum() / total)))
    return best


@functools.lru_cache(maxsize=4)
def _window(length: int) -> Floats:
    return np.hanning(length)
