"""Recordings of a third origin: how the artery opens under the cuff is drawn by lot, from hard to soft.

Written from quality.md's words alone. Nothing holds the blood back but the artery's opening: what drives it
through is artery minus pulp. It opens at once (`switch`), in proportion (`line`) or softly (`tanh`, `soft`);
the wave is one bell and what runs off after it; the pulp's pressure grows exponentially with its blood.

Pressures in mmHg, times in s, volumes in parts of the pulp's blood at rest.
"""

from dataclasses import dataclass

import numpy as np

STEP_S = 0.01
LAWS = {
    "switch": lambda above: np.clip(15 * above, 0, 1),
    "line": lambda above: np.clip(above, 0, 1),
    "tanh": lambda above: np.tanh(above) ** 1.5,
    "soft": lambda above: np.where(above < 1, above * above * (3 - 2 * above), 1.0),
}
FAMILIES = ("clean", "noisy", "drifting", "tremor", "irregular", "low_pressure", "quick", "step_before")


@dataclass
class OpeningRecording:
    """A recording, by which law its artery opened, and its answer."""

    law: str
    family: str
    time_s: np.ndarray
    cuff_mmhg: np.ndarray
    signal: np.ndarray
    systolic_mmhg: float
    ideal_mmhg: float


def opening_recording(law, family, seed):
    """One recording; the same three give the same."""
    lot = np.random.default_rng([777, list(LAWS).index(law), FAMILIES.index(family), seed])
    draw = lot.uniform
    systolic = draw(15, 35) if family == "low_pressure" else draw(30, 170)
    pulse = systolic * draw(0.3, 0.6)
    time, cuff, pressed, deflates = _course(family, systolic, draw)
    artery, tops, systolics = _heart(family, systolic, pulse, time, lot)
    blood = _blood(LAWS[law], time, cuff, pressed, artery, systolic, pulse, draw)

    under = (tops > deflates) & (tops < time[-1]) & (systolics > np.interp(tops, time, cuff))
    first = tops[under][0]
    rise = max(blood[time > first].max() - np.interp(first - 0.2, time, blood), 0.2)
    latest = max(first - 2.5, deflates)
    signal = blood + rise * _disturbance(family, time, draw(deflates - 1, latest), lot)

    clock = np.arange(0, time[-1], 1 / lot.choice([40, 50, 100, 128, 250]))
    shown = np.interp(clock, time, cuff)
    whole = lot.random() < 0.4
    return OpeningRecording(
        law=law,
        family=family,
        time_s=clock,
        cuff_mmhg=np.round(shown) if whole else shown + lot.normal(0, draw(0.05, 0.6), clock.size),
        signal=lot.choice([-1, 1]) * 10 ** draw(-2, 5) * np.interp(clock, time, signal),
        systolic_mmhg=float(systolics[np.abs(tops - first) < 4].mean()),
        ideal_mmhg=float(np.interp(first, time, cuff)),
    )


def _course(family, systolic, draw):
    """Time, cuff, where the pulp is pressed, and when the cuff begins to fall."""
    rate = draw(5, 8) if family == "quick" else draw(1.5, 4)
    start, rest, emptying, up = systolic + draw(20, 50), draw(4, 9), draw(2, 5), draw(1, 2.5)
    inflates = rest + emptying / 2
    released = inflates + up + emptying / 2
    deflates = released + draw(1, 4)
    time = np.arange(0, deflates + min((start - 4) / rate, (start - systolic) / rate + draw(10, 22)), STEP_S)
    held = np.interp(time, [inflates, inflates + up], [0, start])
    return time, held - rate * np.maximum(time - deflates, 0), (time > rest) & (time < released), deflates


def _heart(family, systolic, pulse, time, lot):
    """The artery's pressure, the tops of the beats and the systolic of each."""
    draw = lot.uniform
    beat_s, breath_hz = 60 / draw(48, 105), draw(0.15, 0.35)
    number = int(2 * (time[-1] + 6) / beat_s) + 4
    scatter = draw(0.1, 0.25) if family == "irregular" else 0.03
    interval = beat_s * np.clip(1 + scatter * lot.standard_normal(number), 0.5, 1.7)
    foot = np.cumsum(interval) - interval - 3
    filled = 1 - np.exp(-1.5 * np.roll(interval, 1) / beat_s)
    stronger = 0.7 * pulse * (filled - filled.mean()) if family == "irregular" else 0
    breath = draw(0.5, 3) * np.sin(2 * np.pi * breath_hz * foot + draw(0, 6))
    systolics = systolic + stronger + breath + draw(0.2, 1) * lot.standard_normal(number)

    beat = np.searchsorted(foot, time, side="right") - 1
    climb, second = draw(0.1, 0.2), draw(0, 0.25)
    since = time - foot[beat] - climb
    after = np.maximum(since, 0)
    falling = (1 - second) * np.exp(-((after / draw(0.25, 0.6)) ** 1.5)) + second * np.exp(-after / 0.5)
    wave = np.where(since < 0, np.exp(-((since / (0.45 * climb)) ** 2) / 2), falling)
    low = systolic - pulse
    return low + (systolics[beat] - low) * wave, foot + climb, systolics


def _blood(law, time, cuff, pressed, artery, systolic, pulse, draw):
    """What the sensor sees: the pulp's blood, and the pulse that gets past the cuff."""
    opening = law(np.maximum(artery - cuff, 0) / draw(3, 15))
    flow = np.exp(draw(np.log(0.08), np.log(0.5))) / max(systolic - 0.6 * pulse, 5)
    stiffness, left, lag_s = draw(1.5, 3.5), draw(0.03, 0.15), draw(0.03, 0.15)
    veins, veins_s, shown = draw(0, 0.06), draw(12, 40), draw(0.03, 0.2)
    above = opening * (artery - np.maximum(cuff, systolic - pulse))
    blood, passing, volume = np.empty(time.size), 0.0, 0.8
    for i in range(time.size):
        if pressed[i]:
            volume += STEP_S * 3 * (left - volume)
        else:
            pulp = 12 * np.expm1(stiffness * volume) / np.expm1(stiffness)
            volume += STEP_S * flow * opening[i] * max(artery[i] - pulp, 0) * max(1.15 - volume, 0)
            if cuff[i] > 20:
                volume += STEP_S * max(veins + left - volume, 0) / veins_s
            else:
                volume -= STEP_S * 0.4 * (1 - max(cuff[i], 0) / 20) * max(volume - 0.3, 0)
        passing += STEP_S * (above[i] - passing) / lag_s
        blood[i] = volume if pressed[i] else volume + shown * passing / pulse
    return blood


def _disturbance(family, time, at_s, lot):
    """What is added to the blood, in parts of the rise."""
    draw = lot.uniform
    white = draw(0.01, 0.04) if family == "noisy" else np.exp(draw(np.log(0.0005), np.log(0.004)))
    added = white * lot.standard_normal(time.size)
    added += draw(0.0003, 0.003) * np.sqrt(STEP_S) * np.cumsum(lot.standard_normal(time.size))
    if family == "drifting":
        slow = np.sin(2 * np.pi * time / draw(12, 40) + draw(0, 6))
        added += draw(-0.006, 0.006) * time + draw(0.01, 0.06) * slow
    elif family == "tremor":
        fast = np.sin(2 * np.pi * draw(4, 9) * time)
        added += draw(0.01, 0.06) * fast * np.clip(np.sin(draw(0.3, 0.8) * time), 0, 1)
    elif family == "step_before":
        added += lot.choice([-1, 1]) * draw(0.1, 0.5) * (time > at_s)
    return added
