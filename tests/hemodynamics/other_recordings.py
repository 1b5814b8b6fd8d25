"""Recordings of another origin than our own simulator's, to try the reader on.

Written without sight of `exams/hemodynamics/return_of_flow/simulate.py`, and argued otherwise:

- the heart throws stroke volumes, smaller after a short filling, into a windkessel;
- the artery under the cuff is a waterfall: while it is open, what drives the flow is artery minus cuff; its
  mouth opens with the transmural pressure and lags behind it;
- behind the cuff the arterioles store blood and let it into the pulp, whose veins stay shut until the pulp's
  own pressure exceeds the cuff's;
- the sensor sees the pulp's blood and the arterioles' pulse through Beer-Lambert's law, upright or inverted.

Pressures in mmHg, times in s, volumes in parts of the pulp's blood at rest.
"""

import zlib
from dataclasses import dataclass, field

import numpy as np
from scipy.signal import lfilter

STEP_S = 0.01
TRUSTWORTHY = (
    "clean", "drifting", "noisy", "tremor", "mains", "irregular", "extra_beats", "cold", "low_pressure",
    "uneven", "quick", "step_before", "spike_before", "movement_before", "slow_refill", "gap_elsewhere",
    "clipped_elsewhere", "one_cuff", "two_cuffs", "from_deflation", "ends_soon",
)  # fmt: skip
# Any of the words named is a fair one; the first is the plainest.
UNTRUSTED = {
    "leak": ("occlusion_doubtful",),
    "started_too_low": ("started_too_low", "occlusion_doubtful"),
    "stopped_too_early": ("stopped_too_early", "no_return"),
    "gap_at_start": ("gap_at_mark",),
    "clipped_at_start": ("clipped",),
    "sensor_off": ("unreadable", "low_amplitude", "no_return"),
}
NO_RETURN = ("no_return_quiet", "no_return_moving")


@dataclass
class OtherRecording:
    """A recording and its answer; both pressures are None where no blood returns."""

    family: str
    seed: int
    time_s: np.ndarray
    cuff_mmhg: np.ndarray
    signal: np.ndarray
    systolic_mmhg: float | None
    ideal_mmhg: float | None


@dataclass
class _Toe:
    """What is drawn by lot before blood flows; arrays on the grid of STEP_S."""

    family: str
    seed: int
    lot: np.random.Generator
    beat_s: float
    cuff: np.ndarray
    squeeze: np.ndarray
    deflates_s: float
    released_s: float
    artery: np.ndarray = field(default_factory=lambda: np.zeros(0))
    systolic: float | None = None
    ideal: float | None = None
    crossing_s: float = 0.0
    fill_per_s: float = 0.1
    leak: float = 0.0


def recordings(families, seeds):
    """Every family with every seed; a recording depends on its family and seed alone."""
    toes = [_toe(family, seed) for family in families for seed in seeds]
    volume, arterioles = _blood(toes)
    return [_recorded(toe, volume[:, i], arterioles[:, i]) for i, toe in enumerate(toes)]


def _toe(family, seed):
    lot = np.random.default_rng([zlib.crc32(family.encode()), seed])
    draw = lot.uniform
    systolic = draw(15, 34) if family == "low_pressure" else draw(35, 150)
    pulse_mmhg = systolic * draw(0.3, 0.55)
    rate = draw(6, 10) if family == "quick" else draw(1.5, 3.5)
    start = systolic - pulse_mmhg * draw(0.2, 0.7) if family == "started_too_low" else systolic + draw(20, 45)
    rest, up, hold = draw(4, 8), draw(1, 3), draw(2, 5)
    fall_s = min((start - 5) / rate, (start - systolic) / rate + 22)
    clock = np.arange(0, fall_s, STEP_S)
    speed = np.ones_like(clock)
    if family == "uneven":  # the valve sticks and gives way
        speed = np.exp(draw(0.3, 0.7) * np.sin(2 * np.pi * clock / draw(3, 9) + draw(0, 6)))
    falling = start - rate * np.cumsum(speed) * STEP_S
    cuff = np.concatenate(
        [
            np.zeros(int(rest / STEP_S)),
            np.linspace(0, start, int(up / STEP_S)),
            np.full(int(hold / STEP_S), start),
        ]
    )
    deflates = cuff.size * STEP_S
    released = deflates - draw(0.3, 0.8) * hold
    cuff = np.maximum(np.concatenate([cuff, falling]), 0)
    time = np.arange(cuff.size) * STEP_S
    squeeze = draw(100, 200) * np.clip((time - rest + 2) / 0.6, 0, 1) * np.clip((released - time) / 0.3, 0, 1)
    toe = _Toe(family, seed, lot, 60 / draw(50, 95), cuff, squeeze, deflates, released)
    low, high = {"slow_refill": (0.02, 0.05), "cold": (0.03, 0.07)}.get(family, (0.08, 0.3))
    toe.fill_per_s = draw(low, high)
    toe.leak = draw(0.15, 0.5) if family == "leak" else 0.0
    _beat(toe, systolic, pulse_mmhg)
    return toe


def _beat(toe, systolic, pulse_mmhg):
    """The artery's pressure, the true systolic (mean of beats around the crossing), the ideal reader's."""
    lot, size = toe.lot, toe.cuff.size
    toe.crossing_s = toe.deflates_s + 0.6 * (size * STEP_S - toe.deflates_s)
    if toe.family in NO_RETURN:
        toe.artery = np.full(size, 5.0)
        return
    starts = [-5.0]
    while starts[-1] < size * STEP_S:
        interval = toe.beat_s * (1 + 0.03 * lot.standard_normal())
        if toe.family == "irregular":
            interval = toe.beat_s * np.clip(lot.gamma(20, 1 / 20), 0.55, 1.8)
        if toe.family == "extra_beats" and lot.random() < 0.1:
            starts.append(starts[-1] + 0.6 * interval)
            interval *= 1.4
        starts.append(starts[-1] + interval)
    starts = np.array(starts)
    filling = np.diff(starts, prepend=starts[0] - toe.beat_s) - 0.12
    stroke = np.clip((1 - np.exp(-filling / (0.35 * toe.beat_s))) / (1 - np.exp(-1 / 0.35)), 0.2, 1.15)
    stroke *= (
        1
        + lot.uniform(0.01, 0.05) * np.sin(2 * np.pi * 0.25 * starts)
        + 0.01 * lot.standard_normal(starts.size)
    )
    time = np.arange(-5, size * STEP_S, STEP_S)[: size + int(5 / STEP_S)]
    ejected = np.zeros(time.size)
    throw = np.sin(np.pi * np.arange(0, 0.28, STEP_S) / 0.28)
    for start, volume in zip(np.searchsorted(time, starts), stroke, strict=True):
        part = ejected[start : start + throw.size]
        part += volume * throw[: part.size]
    wave = lfilter([STEP_S], [1, -np.exp(-STEP_S / lot.uniform(0.9, 1.8))], ejected) + 0.03 * ejected
    whole = (starts > -1) & (starts < time[-1] - 0.4)
    tops = np.array([i + np.argmax(wave[i : i + 35]) for i in np.searchsorted(time, starts[whole])])
    wave = (wave - np.percentile(wave[200:], 3)) / (np.median(wave[tops]) - np.percentile(wave[200:], 3))
    toe.artery = (systolic - pulse_mmhg + pulse_mmhg * wave)[-size:]
    tops = tops - (wave.size - size)
    tops = tops[tops >= 0]
    passing = tops[(tops * STEP_S >= toe.deflates_s) & (toe.artery[tops] > toe.cuff[tops])]
    around = np.abs(tops - passing[0]) * STEP_S < 4
    toe.systolic, toe.ideal = float(toe.artery[tops[around]].mean()), float(toe.cuff[passing[0]])
    toe.crossing_s = passing[0] * STEP_S


def _blood(toes):
    """Blood in the pulp and pressure in its arterioles, all toes integrated side by side."""
    size = max(toe.cuff.size for toe in toes)
    cuff, artery, squeeze = (
        np.stack([np.pad(getattr(toe, name), (0, size - toe.cuff.size), "edge") for toe in toes], axis=1)
        for name in ("cuff", "artery", "squeeze")
    )
    draws = np.array([toe.lot.uniform([0.8, 0.3, 0.02, 1.8], [2.0, 0.7, 0.05, 3.0]) for toe in toes]).T
    softness, store_s, lag_s, stiffness = draws
    fill = np.array([toe.fill_per_s for toe in toes])
    # The arterioles pass `fill` a second at the mean pressure of rest; their store empties in `store_s`.
    rest_mean = artery[:400].mean(axis=0)
    resistance = np.maximum(rest_mean - 12, 4) / fill
    store, leak, vein = store_s / resistance, np.array([toe.leak for toe in toes]) / resistance, 8 / fill
    opening = np.clip(0.5 + np.arctan((artery - cuff) / softness) / np.pi, 0, 1) ** 4
    opening[artery - cuff < -3 * softness] = 0
    volume, arterioles = np.empty_like(cuff), np.empty_like(cuff)
    v, a, mouth = np.ones(len(toes)), artery[0] * 0.8, np.ones(len(toes))
    for i in range(size):
        mouth += (opening[i] - mouth) * STEP_S / (lag_s + STEP_S)
        pulp = 12 * v**stiffness + squeeze[i]
        # 25 ms to fill the store through an open mouth, solved implicitly: the step is not much shorter.
        head = np.where(squeeze[i] > artery[i], 0, np.maximum(artery[i] - np.maximum(a, cuff[i]), 0))
        let_in = np.maximum(a - pulp, 0) / resistance
        a += head * mouth * STEP_S / (0.025 + STEP_S) - let_in * STEP_S / store
        outflow = np.maximum(pulp - np.maximum(cuff[i], 4), 0) / vein
        pressed = np.where(squeeze[i] > 20, 1 / 0.25, 0)
        v += STEP_S * (
            let_in + leak * np.maximum(artery[i] - pulp, 0) - outflow - pressed * np.maximum(v - 0.15, 0)
        )
        a -= STEP_S * pressed * np.maximum(a - 9, 0)
        v, a = np.maximum(v, 0.1), np.maximum(a, 0)
        volume[i], arterioles[i] = v, a + 1.2 * leak * resistance * (artery[i] - rest_mean)
    return volume, arterioles


def _recorded(toe, volume, arterioles):
    """What sensor, manometer and converter make of it, with the fault of the family."""
    lot, draw, size = toe.lot, toe.lot.uniform, toe.cuff.size
    time, crossing = np.arange(size) * STEP_S, toe.crossing_s
    signal = volume[:size] + draw(0.03, 0.12) * arterioles[:size] / max(np.ptp(arterioles[:300]), 1)
    base = np.interp(crossing - 0.3, time, signal)
    depth = max(signal[time > crossing].max() - base, 0.3) if toe.systolic else 0.8
    signal = signal + depth * _disturbance(toe, time)
    end = time[-1]
    if toe.family == "stopped_too_early":
        end = crossing + draw(-4, 1.2) * toe.beat_s
    elif toe.family == "ends_soon":  # half the rise, and six beats of it
        half = time[(time > crossing) & (signal > base + 0.5 * depth)]
        end = max([*half[:1], crossing + 6 * toe.beat_s])
    begin = toe.deflates_s - 1 if toe.family == "from_deflation" else 0.0
    hz = lot.choice([25, 50, 100, 100, 125, 200])
    clock = np.arange(max(begin, 0), min(end, time[-1]), 1 / hz)
    clock += draw(0, 0.3) * draw(-0.5, 0.5, clock.size) / hz
    seen, cuff = np.interp(clock, time, signal), np.interp(clock, time, toe.cuff)
    if toe.family == "mains":
        seen += depth * draw(0.02, 0.1) * np.sin(2 * np.pi * (50 + draw(-0.05, 0.05)) * clock)
    if toe.family == "clipped_at_start":
        seen = np.maximum(seen, base + draw(0.1, 0.3) * depth)
    if toe.family == "clipped_elsewhere":
        seen = np.minimum(seen, base + draw(0.6, 0.8) * depth)
    light = lot.choice([-1, 1]) * np.exp(-draw(0.05, 1) * seen)
    if toe.family == "sensor_off":
        light = np.where(clock > draw(toe.released_s, crossing - 1), draw(-1, 1), light)
    if toe.family in ("gap_at_start", "gap_elsewhere"):
        begins = crossing - draw(0.3, 1) if toe.family == "gap_at_start" else toe.deflates_s + draw(-2, 0)
        light[(clock > begins) & (clock < begins + 1.3 + 2 * toe.beat_s)] = np.nan
    light = light * 10 ** draw(-3, 6) + lot.choice([0, 1e3])
    cuff = np.round(cuff) if lot.random() < 0.5 else cuff + lot.normal(0, draw(0.1, 1), cuff.size)
    return OtherRecording(toe.family, toe.seed, clock, cuff, light, toe.systolic, toe.ideal)


def _disturbance(toe, time):
    """What is added to the blood, in parts of the rise."""
    lot, draw = toe.lot, toe.lot.uniform
    level = {"noisy": draw(0.015, 0.04), "cold": draw(0.004, 0.01)}.get(toe.family, draw(0.0005, 0.003))
    added = level * lot.standard_normal(time.size) - draw(0, 0.002) * np.maximum(time - toe.deflates_s, 0)
    latest = max(toe.crossing_s - 2.5, toe.deflates_s)
    at = draw(toe.deflates_s - 1, latest)
    if toe.family == "drifting":
        added += draw(-0.01, 0.01) * time + draw(0.01, 0.05) * np.sin(
            2 * np.pi * time / draw(12, 40) + draw(0, 6)
        )
    elif toe.family == "tremor":
        added += draw(0.01, 0.04) * np.sin(2 * np.pi * draw(4, 9) * time) * np.clip(np.sin(time / 2), 0, 1)
    elif toe.family == "step_before":
        added += lot.choice([-1, 1]) * draw(0.1, 0.5) * (time > at)
    elif toe.family == "spike_before":
        added += lot.choice([-1, 1]) * draw(0.3, 1.5) * np.exp(-np.abs(time - at) / draw(0.02, 0.1))
    elif toe.family in ("movement_before", "no_return_moving"):
        shaken = lfilter([0.1], [1, -0.9], lot.standard_normal(time.size)) * 4
        added += draw(0.1, 0.4) * shaken * (np.abs(time - at) < 1) + draw(-0.1, 0.1) * (time > at + 1)
    elif toe.family == "one_cuff":
        pressing = (time > toe.released_s - 4) & (time < toe.released_s + 0.2)
        added += draw(-0.2, 0.2) * pressing * (1 + 0.3 * np.sin(2 * np.pi * draw(1, 2) * time))
    return added
