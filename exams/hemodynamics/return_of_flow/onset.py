"""Where the rise starts: the systolic pressure, from all of the rise and not from its first sight.

The first beats that pass bring little blood, so the rise starts softly and a straight line laid along it
meets the base line several mmHg too low. Here the whole beginning of the rise is compared with every soft
start that could have made it: for each pressure P and each softness, blood collects as a power of
``P - cuff``. The strength of the pulses is compared in the same way. What each explains of the signal is
turned into a belief over P; its middle is the suggestion, its 95 % the interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.return_of_flow.conditioning import Bools, Floats, quantile

# Ticks of the curves that are compared.
READ_STEP_S = 0.2
# How far the rise is used: until it has made this share of its whole height.
USED_SHARE = 0.35
# How well any smooth curve can describe a real rise, as a share of the height reached: beats differ.
SHAPE_ERROR = 0.4
# Blood comes in lumps, a beat at a time: how far a smooth curve is off, as a share of one beat's gain.
BEAT_ERROR = 0.12
# Softness of the start: blood collected is a power of how far the cuff is below systolic. Flow through a cuff
# that opens only while the pulse is above it goes with a power of 1.5 to 2 of that, and what collects is its
# sum over falling pressure, one power more; a stiff or half-full pulp, or arterioles that fill before it,
# show less still, but seldom so much less: the softest weigh less, or every noisy recording would be read as
# one of them, and too high.
POWERS = (1.0, 1.5, 2.0, 2.75, 3.75, 5.0)
POWER_WEIGHTS = (0.3, 1.0, 1.0, 1.0, 0.9, 0.7)
# The rise slackens as the pulp fills: half of it after so many mmHg (the last: not within what is used).
HALF_RISES_MMHG = (20.0, 1000.0)
# Pulses grow to full height over so many mmHg below systolic, by such a power.
PULSE_SPANS_MMHG = (20.0, 40.0, 80.0)
PULSE_POWERS = (0.8, 1.2, 1.7)
# Those spans are of a systolic of 80 mmHg. A higher one has a higher pulse, but a wall that stiffens: between
# a span in proportion and one that never changes stands the square root (ours, no source).
SPANS_AT_MMHG = 80.0
SPANS_FROM_MMHG = 15.0
# Spread of the strength of pulses about such a curve, natural logarithm; where there are none it is that of
# the noise, but never less than the second.
PULSE_SPREAD = 0.35
QUIET_SPREAD = 0.15
SETTLING_S = (1.5, 5.0)
SETTLING_SHARE = 0.15
# How long a real rise stays off a smooth curve to the same side.
SHAPE_LASTS_S = 1.0
# A climb counts from this share of the steepest climb on.
CLIMB_SHARE = 0.12
GRID_MMHG = 1.0
NEAR_MIDDLE_MMHG = 3.0
PRESSURES_AT_ONCE = 24
_TABLE_STEP_MMHG = 0.25
_TABLE_FROM_MMHG = -20.0
_TABLE_TO_MMHG = 160.0
_EXCESS_MMHG = np.arange(_TABLE_FROM_MMHG, _TABLE_TO_MMHG, _TABLE_STEP_MMHG)


@dataclass(frozen=True, slots=True)
class Rise:
    """The stretch that is read, every ``READ_STEP_S``.

    ``level`` is the signal averaged over one beat (blood upwards), ``strength`` that of the pulses, ``seen``
    where both can be seen. ``guess`` is the first rough place of the start and ``height`` how far the level
    climbs from there. Before the guess the level scatters by ``noise`` about a base line that climbs by
    ``slope_per_s`` and wanders: after t seconds by ``wander * sqrt(t)``.
    """

    time_s: Floats
    cuff_mmhg: Floats
    level: Floats
    strength: Floats
    seen: Bools
    guess: int
    height: float
    noise: float
    wander: float
    slope_per_s: float
    used_until: int


@dataclass(frozen=True, slots=True)
class Belief:
    """How much each pressure is believed (``share`` sums to 1), and what the rise explains over no rise at
    all (natural logarithm of the odds): in the level, in the pulses. ``apart_mmhg`` is how far the place that
    the level alone points to lies above the one that the pulses alone do; ``at_odds`` how much less one of
    them believes in the middle of both than in its own place (natural logarithm). 0 where only pulses count.
    """

    pressure_mmhg: Floats
    share: Floats
    level_odds: float
    pulse_odds: float
    apart_mmhg: float
    at_odds: float

    @property
    def middle_mmhg(self) -> float:
        return float(self.pressure_mmhg @ self.share)

    def quantile(self, share: float) -> float:
        cumulated = np.cumsum(self.share) - 0.5 * self.share
        return float(np.interp(share, cumulated, self.pressure_mmhg))


def rise_of(
    time_s: Floats, cuff_mmhg: Floats, level: Floats, strength: Floats, seen: Bools, beat_s: float
) -> Rise:
    """The stretch to read, with a first guess of the start and what the level does before it."""
    n = len(level)
    guess, peak = _largest_climb(level, seen)
    height = float(level[peak] - level[guess])
    before = np.flatnonzero(seen[: max(guess - 1, 8)])
    if len(before) < 6:
        before = np.arange(min(max(guess - 1, 8), n))
    slope, noise, wander = _before_the_rise(time_s[before], level[before], beat_s)
    smallest = max(2e-3 * abs(height), 1e-9)
    high = np.flatnonzero(level[guess:] - level[guess] > USED_SHARE * height)
    used_until = guess + int(high[0]) + 2 if len(high) else n
    # What lies hidden is bridged: some of what can be seen after it is needed too.
    later = np.flatnonzero(seen[used_until - 1 :])
    if len(high) and not seen[min(used_until - 1, n - 1)] and len(later):
        used_until += int(later[:4][-1])
    return Rise(
        time_s=time_s,
        cuff_mmhg=cuff_mmhg,
        level=level,
        strength=strength,
        seen=seen,
        guess=guess,
        height=height,
        noise=max(noise, smallest),
        wander=max(wander, 0.2 * smallest),
        slope_per_s=slope,
        used_until=int(np.clip(used_until, min(14, n), n)),
    )


def _largest_climb(level: Floats, seen: Bools) -> tuple[int, int]:
    """First and last tick of the stretch that gains most over a slow drift: no base line is drawn for it."""
    steps = np.diff(level)
    shown = steps[seen[1:]] if seen[1:].sum() > 8 else steps
    usual, most = quantile(shown, 0.25), quantile(shown, 0.97)
    gains = steps - (usual + CLIMB_SHARE * max(most - usual, 0.0))
    total = np.concatenate(([0.0], np.cumsum(gains)))
    lowest = np.minimum.accumulate(total)
    end = int(np.argmax(total - lowest))
    start = int(np.flatnonzero(total[: end + 1] <= lowest[end])[-1])
    return start, max(end, start)


def _before_the_rise(t: Floats, x: Floats, beat_s: float) -> tuple[float, float, float]:
    """Slope, scatter and wander of the level while occluded.

    Two ticks a beat apart differ by the scatter alone, two ticks four beats apart by the wander too.
    """
    slope, at_zero = line_through(t, x)
    off = x - (at_zero + slope * t)
    near, far = max(1, round(beat_s / READ_STEP_S)), max(2, round(4 * beat_s / READ_STEP_S))
    if len(off) <= far + 3:
        return slope, float(np.std(off)), float(np.std(off)) / 2
    short, long = (_robust_variance(off[lag:] - off[:-lag]) for lag in (near, far))
    wander = max(long - short, 0.0) / ((far - near) * READ_STEP_S)
    noise = max(0.5 * (short - wander * near * READ_STEP_S), 0.05 * short)
    return slope, float(np.sqrt(noise)), float(np.sqrt(wander))


def _robust_variance(values: Floats) -> float:
    return (1.4826 * quantile(np.abs(values), 0.5)) ** 2


def line_through(t: Floats, x: Floats) -> tuple[float, float]:
    """Slope and value at 0 of the least-squares line."""
    middle, level = float(t.mean()), float(x.mean())
    off = t - middle
    power = float(off @ off)
    slope = float(off @ x) / power if power > 0 else 0.0
    return slope, level - slope * middle


def belief_of(
    rise: Rise,
    *,
    beat_s: float,
    rate_mmhg_per_s: float,
    use_level: bool,
    above_start_mmhg: float,
    stirs_s: tuple[tuple[float, float], ...] = (),
) -> Belief:
    """Weigh every pressure the cuff passed as the start of this rise.

    Parameters
    ----------
    beat_s, rate_mmhg_per_s : float
        How long a beat lasts and how fast the cuff falls: curves are blurred over one beat.
    use_level : bool
        False where only pulses count (an arm or ankle).
    above_start_mmhg : float
        How far above the cuff's start is weighed too, where blood may never have been stopped.
    stirs_s : stretches before the rise in which the sensor moved; each may have left the level shifted.
    """
    cuff = rise.cuff_mmhg[: rise.used_until]
    lowest, highest = np.ceil(cuff[-1]) - 2.0, np.floor(cuff[0]) + above_start_mmhg
    pressures = np.arange(lowest, max(highest, lowest + 4) + GRID_MMHG, GRID_MMHG)
    blur_mmhg = rate_mmhg_per_s * beat_s
    level = np.zeros(len(pressures))
    if use_level:
        fit = _LevelFit.of(rise, beat_s, stirs_s)
        coarse = pressures[::4]
        quick = fit.explained(coarse, blur_mmhg, _QUICK_LOOK).max(axis=0)
        likely = coarse[quick > quick.max() - 14.0]
        pressures = pressures[(pressures >= likely.min() - 6.0) & (pressures <= likely.max() + 6.0)]
        level = _summed(fit.explained(pressures, blur_mmhg) + _LOG_SHAPE_WEIGHTS)
    # Neighbouring ticks share most of a beat's pulse: they count as one witness, not as many.
    witnesses = READ_STEP_S / (1.5 * beat_s)
    pulse_logs, none_at_all = _pulse_logs(rise, pressures, blur_mmhg)
    pulses = _summed(witnesses * pulse_logs)
    logs = level + pulses if use_level else pulses
    share = _shares(logs)
    near = np.abs(pressures - float(pressures @ share)) <= NEAR_MIDDLE_MMHG
    return Belief(
        pressure_mmhg=pressures,
        share=share,
        level_odds=float(np.max(level)),
        pulse_odds=float(np.max(pulses)) - witnesses * none_at_all,
        apart_mmhg=float(pressures @ (_shares(level) - _shares(pulses))) if use_level else 0.0,
        at_odds=max(float(one.max() - one[near].max()) for one in (level, pulses)) if use_level else 0.0,
    )


def _shares(logs: Floats) -> Floats:
    weights = np.exp(logs - logs.max())
    shares: Floats = weights / weights.sum()
    return shares


def _summed(logs: Floats) -> Floats:
    top = logs.max(axis=0)
    total: Floats = top + np.log(np.exp(logs - top).sum(axis=0))
    return total


@dataclass(frozen=True, slots=True)
class _LevelFit:
    """The level with its base line taken out, ready to be compared with every soft start.

    Errors are of three kinds, and none is independent from tick to tick: the noise, which a beat's mean
    spreads over a beat; the wander of the base line; and what a smooth curve cannot describe of a real rise.
    ``root`` whitens them; ``basis`` and ``rest`` are whitened already.
    """

    cuff_mmhg: Floats
    root: Floats
    basis: Floats
    inverse: Floats
    rest: Floats

    @classmethod
    def of(cls, rise: Rise, beat_s: float, stirs_s: tuple[tuple[float, float], ...]) -> _LevelFit:
        every = max(1, round(0.45 * beat_s / READ_STEP_S))
        ticks = np.arange((rise.used_until - 1) % every, rise.used_until, every)
        ticks = ticks[rise.seen[ticks]] if rise.seen[ticks].sum() >= 8 else ticks
        t, x, c = rise.time_s[ticks], rise.level[ticks], rise.cuff_mmhg[ticks]
        since = t - rise.time_s[0]
        base = rise.level[rise.guess] + rise.slope_per_s * (t - rise.time_s[rise.guess])
        shown = np.where(ticks > rise.guess, np.maximum(x - base, 0.0), 0.0)
        gained = np.interp(t + beat_s, t, shown) - shown
        unlike = SHAPE_ERROR * shown + BEAT_ERROR * np.maximum(gained, 0.0)
        apart = np.abs(t[:, None] - t[None, :])
        covariance = (
            rise.noise**2 * np.maximum(1.0 - apart / beat_s, 0.0)
            + rise.wander**2 * np.minimum(since[:, None], since[None, :])
            + np.outer(unlike, unlike) * np.exp(-apart / SHAPE_LASTS_S)
        )
        covariance[np.diag_indices(len(t))] += (0.3 * rise.noise) ** 2
        root = _inverse_of_lower(np.linalg.cholesky(covariance))
        # A base line; and what settles after the pulp is released, quickly or slowly: small, so pulled to 0.
        columns = [np.ones(len(t)), since / max(since[-1], 1.0)]
        pull = [0.0, 0.0]
        for settling_s in SETTLING_S:
            columns.append(np.exp(-since / settling_s))
            pull.append((SETTLING_SHARE * abs(rise.height) + rise.noise) ** -2)
        for begins, ends in stirs_s:
            if t[0] < ends < t[-1]:
                columns.append(np.clip((t - 0.5 * (begins + ends)) / beat_s + 0.5, 0.0, 1.0))
                pull.append((0.2 * abs(rise.height) + rise.noise) ** -2)
        basis = np.stack(columns) @ root.T
        weighted = root @ x
        gram = basis @ basis.T + np.diag(pull)
        inverse = np.linalg.inv(gram + 1e-9 * np.trace(gram) * np.eye(len(basis)))
        rest = weighted - (inverse @ (basis @ weighted)) @ basis
        return cls(c, root, basis, inverse, rest)

    def explained(self, pressures: Floats, blur_mmhg: float, which: slice = slice(None)) -> Floats:
        """Half the squared error each softness and pressure explains; shape (softness, pressure)."""
        table = _blurred(_SOFT_SUMS[which], blur_mmhg)
        parts = [self._explained(part, table, blur_mmhg) for part in _neighbours(pressures)]
        return np.concatenate(parts, axis=1)

    def _explained(self, pressures: Floats, table: Floats, blur_mmhg: float) -> Floats:
        # Until the cuff has fallen to the highest of the pressures no curve has begun: nothing to multiply.
        begun = slice(_begins(pressures, self.cuff_mmhg, blur_mmhg), None)
        starts = np.take(table, _place(pressures, self.cuff_mmhg[begun]), axis=1)
        curves = starts @ self.root[begun, begun].T
        shared = curves @ self.basis[:, begun].T
        own = np.einsum("spn,spn->sp", curves, curves) - ((shared @ self.inverse) * shared).sum(axis=2)
        fits = curves @ self.rest[begun]
        explained: Floats = np.where((fits > 0) & (own > 1e-12), 0.5 * fits**2 / np.maximum(own, 1e-12), 0.0)
        return explained


def _inverse_of_lower(lower: Floats) -> Floats:
    from scipy.linalg.lapack import dtrtri

    inverse: Floats = dtrtri(lower, lower=1)[0]
    return inverse


def _blurred(sums: Floats, blur_mmhg: float) -> Floats:
    """Curves against ``P - cuff``, one a row, from their running sums: blurred over the fall of one beat."""
    places = np.arange(sums.shape[1] - 1)
    half = _half_of(blur_mmhg)
    low, high = np.maximum(places - half, 0), np.minimum(places + half + 1, len(places))
    blurred: Floats = (sums[:, high] - sums[:, low]) / (high - low)
    return blurred


def _neighbours(pressures: Floats) -> list[Floats]:
    """The pressures a few at a time: each part is spared the ticks before its own highest one."""
    return np.array_split(pressures, -(-len(pressures) // PRESSURES_AT_ONCE))


def _begins(pressures: Floats, cuff: Floats, blur_mmhg: float) -> int:
    """The first tick at which a blurred curve of the highest pressure may stand above zero."""
    reach = (_half_of(blur_mmhg) + 1) * _TABLE_STEP_MMHG
    begun = np.flatnonzero(cuff < pressures[-1] + reach)
    return int(begun[0]) if len(begun) else len(cuff) - 1


def _place(pressures: Floats, cuff: Floats) -> npt.NDArray[np.intp]:
    """Where in a table over ``P - cuff`` each pressure (rows) stands at each tick (columns)."""
    place = ((pressures[:, None] - cuff[None, :] - _TABLE_FROM_MMHG) / _TABLE_STEP_MMHG + 0.5).astype(np.intp)
    return np.clip(place, 0, len(_EXCESS_MMHG) - 1)


def _half_of(blur_mmhg: float) -> int:
    return round(min(blur_mmhg, 20.0) / _TABLE_STEP_MMHG) // 2


def _running_sums(curves: list[Floats]) -> Floats:
    rows = np.stack(curves)
    return np.concatenate((np.zeros((len(rows), 1)), np.cumsum(rows, axis=1)), axis=1)


_TENS_ABOVE = np.maximum(_EXCESS_MMHG, 0.0) / 10.0
# Blood collected, one row a softness.
_SOFT_SUMS = _running_sums(
    [
        _TENS_ABOVE**power / (1.0 + (10.0 * _TENS_ABOVE / half) ** power)
        for power in POWERS
        for half in HALF_RISES_MMHG
    ]
)
# The square of the pulses, one row a growth.
_PULSE_SUMS = _running_sums(
    [
        np.clip(_EXCESS_MMHG / span, 0.0, 1.0) ** (2 * power)
        for span in PULSE_SPANS_MMHG
        for power in PULSE_POWERS
    ]
)
_SHAPE_WEIGHTS = np.repeat(np.array(POWER_WEIGHTS), len(HALF_RISES_MMHG))
_LOG_SHAPE_WEIGHTS = np.log(_SHAPE_WEIGHTS / _SHAPE_WEIGHTS.sum())[:, None]
_QUICK_LOOK = slice(3, 12, 4)  # powers 1.5, 2.75 and 5, the rise unbounded


def _pulse_logs(rise: Rise, pressures: Floats, blur_mmhg: float) -> tuple[Floats, float]:
    """What each growth of the pulses and pressure explains of their strength; and what none at all does."""
    n = min(len(rise.strength), rise.used_until + round(2.0 / READ_STEP_S))
    before = rise.strength[: max(5, rise.guess - 3)]
    none = max(quantile(before, 0.5), 1e-9)
    full = max(quantile(rise.strength[rise.guess :], 0.9), none)
    seen = np.log(np.maximum(rise.strength[:n] / none, 1e-12))
    scatter = 1.4826 * quantile(np.abs(seen[: len(before)]), 0.5)
    quiet, alive = max(QUIET_SPREAD, scatter), max(PULSE_SPREAD, scatter)
    # Neighbouring ticks share most of a beat's pulse: every second one tells as much.
    seen, weight = seen[::2], 2.0 * rise.seen[:n:2]
    flat = seen / quiet
    where_none = (-0.5 * np.minimum(flat * flat, 9.0) - np.log(quiet / alive)) * weight
    scale = float(np.sqrt(SPANS_AT_MMHG / max(rise.cuff_mmhg[rise.guess], SPANS_FROM_MMHG)))
    pressures, cuff, blur_mmhg = scale * pressures, scale * rise.cuff_mmhg[:n:2], scale * blur_mmhg
    expected = 0.5 * np.log(1.0 + (full / none) ** 2 * _blurred(_PULSE_SUMS, blur_mmhg))
    # A pulse seen where none may be says more than one that is a little too strong where some must be.
    spread = np.hypot(quiet, PULSE_SPREAD * np.minimum(expected, 1.0))
    sharpness, breadth = 1.0 / spread, np.log(spread / alive)
    parts = []
    for some in _neighbours(pressures):
        # Until the cuff has fallen to the highest of them none expects a pulse.
        begins = _begins(some, cuff, blur_mmhg)
        place = _place(some, cuff[begins:])
        off = (seen[begins:] - np.take(expected, place, axis=1)) * np.take(sharpness, place, axis=1)
        logs = (-0.5 * np.minimum(off * off, 9.0) - np.take(breadth, place, axis=1)) @ weight[begins:]
        parts.append(float(where_none[:begins].sum()) + logs)
    return np.concatenate(parts, axis=1), float(where_none.sum())
