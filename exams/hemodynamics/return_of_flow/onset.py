"""Where the rise starts: the systolic pressure believed in, from all of the rise and not from its first sight.

The first beats that pass bring little blood, so the rise starts softly and a straight line laid along it
meets the base line several mmHg too low. Here the whole beginning of the rise is compared with every soft
start that could have made it: for each pressure P and each softness, blood collects as a power of
``P - cuff``. The strength of the pulses is compared in the same way. What each explains of the signal is
turned into a belief over P; its middle is the suggestion, its 95 % the interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.return_of_flow.conditioning import Bools, Floats, moving_average

# Ticks of the curves that are compared.
READ_STEP_S = 0.2
# How far the rise is used: until it has made this share of its whole height.
USED_SHARE = 0.5
# How well any smooth curve can describe a real rise, as a share of the height reached: beats differ.
SHAPE_ERROR = 0.12
# Blood comes in lumps, a beat at a time: how far a smooth curve is off, as a share of one beat's gain.
BEAT_ERROR = 0.1
# Softness of the start: blood collected is a power of how far the cuff is below systolic. Flow through a cuff
# that opens only while the pulse is above it goes with a power of 1.5 to 2 of that, and what collects is its
# sum over falling pressure, one power more; a stiff or half-full pulp shows less.
POWERS = (1.0, 1.5, 2.0, 2.5, 3.0, 3.5)
POWER_WEIGHTS = (0.3, 1.0, 1.0, 1.0, 1.0, 0.6)
# The rise slackens as the pulp fills: half of it after so many mmHg (the last: not within what is used).
HALF_RISES_MMHG = (20.0, 1000.0)
# Pulses grow to full height over so many mmHg below systolic, by such a power.
PULSE_SPANS_MMHG = (6.0, 12.0, 25.0, 50.0)
PULSE_POWERS = (0.7, 1.2, 2.0)
# Spread of the strength of pulses about such a curve, natural logarithm.
PULSE_SPREAD = 0.35
# A step is believed when it explains this much more than none (natural logarithm of the odds).
STEP_ODDS = 8.0
GRID_MMHG = 1.0
# Starts above the highest cuff pressure are weighed too: blood may never have been stopped.
ABOVE_START_MMHG = 20.0
_TABLE_STEP_MMHG = 0.25
_TABLE_FROM_MMHG = -20.0
_TABLE_TO_MMHG = 160.0
_EXCESS_MMHG = np.arange(_TABLE_FROM_MMHG, _TABLE_TO_MMHG, _TABLE_STEP_MMHG)


@dataclass(frozen=True, slots=True)
class Rise:
    """The stretch that is read, every ``READ_STEP_S``.

    ``level`` is the signal averaged over one beat (blood upwards), ``strength`` that of the pulses, ``weight``
    0 where nothing can be seen, else 1. ``base`` is the line through what lies before ``guess``, the first
    rough place of the start; ``noise`` the scatter about it; ``height`` of the whole rise.
    """

    time_s: Floats
    cuff_mmhg: Floats
    level: Floats
    strength: Floats
    weight: Floats
    base: Floats
    noise: float
    height: float
    guess: int
    used_until: int
    slope_per_s: float


@dataclass(frozen=True, slots=True)
class Belief:
    """How much each pressure is believed (``share`` sums to 1), and what the rise explains over no rise at
    all (natural logarithm of the odds): in the level, in the pulses."""

    pressure_mmhg: Floats
    share: Floats
    level_odds: float
    pulse_odds: float
    step_s: float | None = None

    @property
    def middle_mmhg(self) -> float:
        return float(self.pressure_mmhg @ self.share)

    def quantile(self, share: float) -> float:
        cumulated = np.cumsum(self.share) - 0.5 * self.share
        return float(np.interp(share, cumulated, self.pressure_mmhg))


def rise_of(time_s: Floats, cuff_mmhg: Floats, level: Floats, strength: Floats, seen: Bools) -> Rise:
    """The stretch to read; the base line is drawn through what lies before a first guess of the start."""
    n = len(level)
    first = max(8, n // 5)
    start, noise, height, off, base, slope = first, 0.0, 0.0, level, level, 0.0
    for _ in range(3):
        slope, base, noise = _base_line(time_s, level, seen, first)
        off = level - base
        tail = max(10, n // 5)
        height = float(np.max(off[n - tail :]))
        bar = max(5 * noise, 0.04 * height)
        half = np.flatnonzero((off > 0.5 * height) & (np.arange(n) >= 4))
        arrived = _for_good(off > 0.35 * height, half)
        low = np.flatnonzero(off[:arrived] < bar)
        start = int(low[-1]) if len(low) else 0
        first = int(np.clip(start - 5, 8, n))
    noise = max(noise, 2e-3 * height, 1e-12)
    used = np.flatnonzero(off[start:] > USED_SHARE * height)
    used_until = start + int(used[0]) + 2 if len(used) else n
    return Rise(
        time_s,
        cuff_mmhg,
        level,
        strength,
        seen.astype(float),
        base,
        noise,
        height,
        start,
        int(np.clip(used_until, min(14, n), n)),
        slope,
    )


def _base_line(time_s: Floats, level: Floats, seen: Bools, first: int) -> tuple[float, Floats, float]:
    use = np.flatnonzero(seen[:first])
    if len(use) < 6:
        use = np.arange(first)
    t, x = time_s[use], level[use]
    keep = np.ones(len(t), bool)
    slope, at_zero = 0.0, float(np.median(x))
    spread = 0.0
    for _ in range(3):
        slope, at_zero = (float(one) for one in np.polyfit(t[keep], x[keep], 1))
        off = x - (at_zero + slope * t)
        spread = float(1.4826 * np.median(np.abs(off)))
        if not spread > 0:
            spread = float(np.std(off))
            break
        inside = np.abs(off) < 4 * spread
        if inside.sum() < 6:
            break
        keep = inside
    return slope, at_zero + slope * time_s, spread


def _for_good(above: Bools, half: np.ndarray) -> int:
    """The first tick of ``half`` from which on the level stays ``above``; the last tick if it never does."""
    n = len(above)
    if not len(half):
        return n
    lows = np.flatnonzero(~above)
    last_low = int(lows[-1]) if len(lows) else -1
    if last_low >= n - 3:  # falls again at the very end: then the longest stay counts
        return int(half[0])
    later = half[half > last_low]
    return int(later[0]) if len(later) else int(half[0])


def belief_of(
    rise: Rise, *, beat_s: float, rate_mmhg_per_s: float, use_level: bool, jumps_s: tuple[float, ...] = ()
) -> Belief:
    """Weigh every pressure the cuff passed as the start of this rise.

    Parameters
    ----------
    beat_s, rate_mmhg_per_s : float
        How long a beat lasts and how fast the cuff falls: curves are blurred over one beat.
    use_level : bool
        False where only pulses count (an arm or ankle).
    jumps_s : times of sudden jumps that may be steps of the sensor and not blood.
    """
    end = rise.used_until
    c = rise.cuff_mmhg[:end]
    pressures = np.arange(np.ceil(c[-1]) - 2.0, np.floor(c[0]) + ABOVE_START_MMHG + GRID_MMHG, GRID_MMHG)
    temper = READ_STEP_S / (1.5 * beat_s)
    pulse_logs, pulse_none = _pulse_logs(rise, pressures, beat_s, rate_mmhg_per_s)
    pulses = temper * _summed(pulse_logs)
    pulse_odds = float(np.max(pulses) - temper * pulse_none)
    if not use_level:
        return _believed(pressures, pulses, 0.0, pulse_odds, None)
    tried: list[tuple[float | None, Floats]] = []
    for jump in (None, *jumps_s):
        logs = _level_logs(rise, pressures, beat_s, rate_mmhg_per_s, jump)
        tried.append((jump, _summed(temper * logs + np.log(_SHAPE_WEIGHTS)[:, None])))
    chosen, level = tried[0]
    for jump, logs in tried[1:]:
        if np.logaddexp.reduce(logs) > np.logaddexp.reduce(level) + STEP_ODDS:
            chosen, level = jump, logs
    return _believed(pressures, level + pulses, float(np.max(level)), pulse_odds, chosen)


_SHAPE_WEIGHTS = np.repeat(np.array(POWER_WEIGHTS), len(HALF_RISES_MMHG))
_SHAPE_WEIGHTS = _SHAPE_WEIGHTS / _SHAPE_WEIGHTS.sum()


def _summed(logs: Floats) -> Floats:
    top = logs.max(axis=0)
    total: Floats = top + np.log(np.exp(logs - top).sum(axis=0))
    return total


def _believed(
    pressures: Floats, logs: Floats, level_odds: float, pulse_odds: float, step_s: float | None
) -> Belief:
    share = np.exp(logs - logs.max())
    return Belief(pressures, share / share.sum(), level_odds, pulse_odds, step_s)


def _level_logs(rise: Rise, pressures: Floats, beat_s: float, rate: float, jump_s: float | None) -> Floats:
    """What each softness and pressure explains of the level, over no rise; shape (softness, pressure)."""
    n = rise.used_until
    t, c, x = rise.time_s[:n], rise.cuff_mmhg[:n], rise.level[:n]
    shown = np.maximum(x - rise.base[:n], 0.0)
    if jump_s is not None:
        after = t > jump_s + 0.5 * beat_s
        near = (t > jump_s) & (t < jump_s + 1.5 * beat_s)
        size = float(np.median(shown[near])) if near.any() else 0.0
        shown = np.where(after, np.maximum(shown - size, 0.0), shown)
    beat = max(1, round(beat_s / READ_STEP_S))
    gained = np.maximum(np.concatenate((shown[beat:], np.full(min(beat, n), shown[-1])))[:n] - shown, 0.0)
    root = np.sqrt(
        rise.weight[:n] / (rise.noise**2 + (SHAPE_ERROR * shown) ** 2 + (BEAT_ERROR * gained) ** 2)
    )
    since = t - t[0]
    columns = [np.ones(n), since / max(since[-1], 1.0), np.exp(-since / 2.0)]
    if jump_s is not None:
        columns.append(np.clip((t - jump_s) / beat_s + 0.5, 0.0, 1.0))
    basis = np.stack(columns) * root
    gram = basis @ basis.T
    # What settles after the release is small: pulled weakly to zero.
    gram[2, 2] += 1.0 / (4 * rise.noise) ** 2
    inverse = np.linalg.inv(gram + 1e-9 * np.trace(gram) * np.eye(len(columns)))
    weighted = x * root
    rest = weighted - (inverse @ (basis @ weighted)) @ basis
    nothing = 0.5 * float(rest @ weighted)
    curves = _soft_starts(rate * beat_s)[:, _place(pressures, c)] * root
    shared = curves @ basis.T
    own = np.einsum("spn,spn->sp", curves, curves) - np.einsum("spi,ij,spj->sp", shared, inverse, shared)
    fits = curves @ rest
    logs: Floats = np.where((fits > 0) & (own > 1e-12), 0.5 * fits**2 / np.maximum(own, 1e-12), 0.0)
    if jump_s is not None:
        logs += _without_a_jump(rise, n, root, weighted) - nothing
    return logs


def _without_a_jump(rise: Rise, n: int, root: Floats, weighted: Floats) -> float:
    """Half the squared rest of the plain base line, so that models with and without a step compare."""
    since = rise.time_s[:n] - rise.time_s[0]
    basis = np.stack([np.ones(n), since / max(since[-1], 1.0), np.exp(-since / 2.0)]) * root
    gram = basis @ basis.T
    gram[2, 2] += 1.0 / (4 * rise.noise) ** 2
    inverse = np.linalg.inv(gram + 1e-9 * np.trace(gram) * np.eye(3))
    rest = weighted - (inverse @ (basis @ weighted)) @ basis
    return 0.5 * float(rest @ weighted)


def _soft_starts(smear_mmhg: float) -> Floats:
    """Blood collected against ``P - cuff``, one row a softness, blurred over the fall of one beat."""
    half = max(_span(smear_mmhg) // 2, 0)
    places = np.arange(_SOFT_SUMS.shape[1] - 1)
    low, high = np.maximum(places - half, 0), np.minimum(places + half + 1, len(places))
    blurred: Floats = (_SOFT_SUMS[:, high] - _SOFT_SUMS[:, low]) / (high - low)
    return blurred


def _place(pressures: Floats, cuff: Floats) -> npt.NDArray[np.intp]:
    """Where in a table over ``P - cuff`` each pressure (rows) stands at each tick (columns)."""
    place = ((pressures[:, None] - cuff[None, :] - _TABLE_FROM_MMHG) / _TABLE_STEP_MMHG + 0.5).astype(np.intp)
    return np.clip(place, 0, len(_EXCESS_MMHG) - 1)


def _sums_of_soft_starts() -> Floats:
    above = np.maximum(_EXCESS_MMHG, 0.0) / 10.0
    rows = np.stack(
        [
            above**power / (1.0 + (10.0 * above / half) ** power)
            for power in POWERS
            for half in HALF_RISES_MMHG
        ]
    )
    return np.concatenate((np.zeros((len(rows), 1)), np.cumsum(rows, axis=1)), axis=1)


_SOFT_SUMS = _sums_of_soft_starts()


def _span(smear_mmhg: float) -> int:
    return round(min(smear_mmhg, 20.0) / _TABLE_STEP_MMHG)


def _pulse_logs(rise: Rise, pressures: Floats, beat_s: float, rate: float) -> tuple[Floats, float]:
    """What each growth of the pulses and pressure explains of their strength; and what none does."""
    n = min(len(rise.strength), rise.used_until + int(2.0 / READ_STEP_S))
    before = rise.strength[: max(5, rise.guess - 3)]
    none = max(float(np.median(before)), 1e-12)
    full = max(float(np.percentile(rise.strength[rise.guess :], 90)), none)
    spread = max(PULSE_SPREAD, float(1.4826 * np.median(np.abs(np.log(np.maximum(before, 1e-12) / none)))))
    seen = np.log(np.maximum(rise.strength[:n], 1e-12))
    weight = rise.weight[:n]
    place = _place(pressures, rise.cuff_mmhg[:n])
    rows = []
    for span in PULSE_SPANS_MMHG:
        for power in PULSE_POWERS:
            grown = np.clip(_EXCESS_MMHG / span, 0.0, 1.0) ** power
            power_of = moving_average(grown**2, _span(1.5 * rate * beat_s))
            expected = 0.5 * np.log(none**2 + full**2 * power_of)
            off = (seen - expected[place]) / spread
            rows.append(-0.5 * (np.minimum(off**2, 9.0) @ weight))
    flat = (seen - np.log(none)) / spread
    return np.stack(rows), float(-0.5 * (np.minimum(flat**2, 9.0) @ weight))


def without(rise: Rise, ticks: Bools) -> Rise:
    """The same stretch with some ticks left out."""
    return replace(rise, weight=np.where(ticks, 0.0, rise.weight))
