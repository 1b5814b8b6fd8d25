"""What veins bring into an emptied pulp before any artery does: most at once, ever slower, and no pulse."""

from __future__ import annotations

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import Floats, quantile, runs_of
from exams.hemodynamics.return_of_flow.onset import READ_STEP_S, Rise

# Pulses have come where they stay so many times as strong as in the climb, for so many beats, if the climb is
# hardly livelier than the quietest tenth. The arterial rise may have begun so many beats before.
PULSES_GROW = 3.0
PULSES_LAST_BEATS = 4.0
NO_PULSES = 2.0
UNSEEN_BEATS = 4.0
# The first half of the climb brings at least so much more than the second: an artery brings ever more.
SLACKENING = 1.0
SLOWNESS_S = (4.0, 7.0, 12.0, 20.0, 35.0, 60.0)
FEWEST_TICKS = 15


def veins_of(rise: Rise, beat_s: float) -> Floats | None:
    """The level that veins alone would have brought, at every tick of the rise.

    None where the largest climb of the level has its pulses, where none ever come, or where it does not
    slacken: then it is no climb of veins, or one that cannot be told from the artery's.
    """
    beat = beat_s / READ_STEP_S
    none = quantile(rise.strength[: rise.used_until], 0.5)
    starts, ends = runs_of(rise.strength > PULSES_GROW * none)
    lasting = starts[ends - starts >= PULSES_LAST_BEATS * beat]
    comes = int(lasting[0]) if len(lasting) else 0
    known = comes - round(UNSEEN_BEATS * beat)
    if comes < rise.used_until or known < FEWEST_TICKS or none > NO_PULSES * quantile(rise.strength, 0.1):
        return None
    first, middle, last = rise.level[[rise.guess, (rise.guess + comes) // 2, comes]]
    if middle - first < SLACKENING * (last - middle):
        return None
    since = rise.time_s - rise.time_s[0]
    best, veins = np.inf, None
    for slowness_s in SLOWNESS_S:
        curve = np.stack((np.ones(len(since)), -np.exp(-since / slowness_s)), axis=1)
        (level, climb), off, *_ = np.linalg.lstsq(curve[:known], rise.level[:known], rcond=None)
        if climb > 0 and len(off) and off[0] < best:
            best, veins = float(off[0]), curve @ np.array((level, climb))
    return veins
