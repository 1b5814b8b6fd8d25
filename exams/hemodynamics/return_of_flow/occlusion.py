"""What the cuff did: when it rose, when it began to fall and how evenly, when it stopped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.return_of_flow.conditioning import Floats, Unreadable, quantile
from exams.hemodynamics.return_of_flow.reading import FlagCode

# Below this the cuff never occluded anything, whatever the signal did.
LOWEST_INFLATION_MMHG = 12.0
# A fall this quick is the air let out, not a deflation.
DUMP_MMHG_PER_S = 20.0
# A rise this large after the fall began is a second inflation.
SECOND_INFLATION_MMHG = 15.0


@dataclass(frozen=True, slots=True)
class Deflation:
    """The deflation that is read.

    Attributes
    ----------
    inflated_at, begins, ends : int
        Ticks: the rise of cuff pressure begins (0 if the recording begins inflated), the fall begins, the
        fall or the recording ends (exclusive).
    falling_mmhg : array, shape (ends - begins,)
        Cuff pressure made steadily falling, so that each pressure has one time.
    rate_mmhg_per_s : float
        Median over the deflation; positive.
    """

    inflated_at: int
    begins: int
    ends: int
    falling_mmhg: Floats
    rate_mmhg_per_s: float

    @property
    def start_mmhg(self) -> float:
        return float(self.falling_mmhg[0])

    @property
    def end_mmhg(self) -> float:
        return float(self.falling_mmhg[-1])

    def tick_at(self, pressure_mmhg: float) -> int:
        """The tick of the recording at which the falling cuff stood at a pressure."""
        place = int(np.searchsorted(-self.falling_mmhg, -pressure_mmhg))
        return self.begins + min(place, len(self.falling_mmhg) - 1)


def deflation_of(cuff_mmhg: Floats, step_s: float) -> Deflation | Unreadable:
    """Find the deflation in a smoothed cuff pressure on an even clock of ``step_s`` seconds."""
    highest = float(np.max(cuff_mmhg))
    if highest < LOWEST_INFLATION_MMHG:
        return Unreadable(
            f"The cuff pressure never went above {highest:.0f} mmHg; nothing was occluded. "
            "Check that the cuff was connected.",
            (FlagCode.STARTED_TOO_LOW,),
        )
    # The last moment near the top: a held cuff may leak a little before it is let down.
    near_top = cuff_mmhg >= highest - max(2.5, 0.02 * highest)
    top = int(np.flatnonzero(near_top)[-1])
    below = np.flatnonzero(cuff_mmhg[:top] < 0.15 * highest)
    inflated_at = int(below[-1]) if len(below) else 0
    ends = top + _length_of_fall(cuff_mmhg[top:], step_s)
    falling = np.minimum.accumulate(cuff_mmhg[top:ends])
    # Strictly falling by a hair, so that each pressure has one time.
    falling = falling - np.arange(len(falling)) * 1e-7
    fallen = float(falling[0] - falling[-1]) if len(falling) else 0.0
    if len(falling) * step_s < 2.0 or fallen < 5.0:
        return Unreadable(
            "The cuff was inflated but the recording holds no slow deflation: "
            "there is no pressure at which blood could be seen to return.",
            (FlagCode.STOPPED_TOO_EARLY,),
        )
    rates = local_rates(falling, step_s)
    moving = rates[rates > 0.1]
    return Deflation(
        inflated_at=inflated_at,
        begins=top,
        ends=ends,
        falling_mmhg=falling,
        rate_mmhg_per_s=quantile(moving, 0.5) if len(moving) else fallen / (len(falling) * step_s),
    )


def local_rates(falling_mmhg: Floats, step_s: float) -> Floats:
    """How fast the pressure falls, mmHg/s, over each second."""
    span = max(1, round(1.0 / step_s))
    if len(falling_mmhg) <= span:
        span = max(1, len(falling_mmhg) - 1)
    rates: Floats = (falling_mmhg[:-span] - falling_mmhg[span:]) / (span * step_s)
    return rates


def _length_of_fall(cuff: Floats, step_s: float) -> int:
    """How many ticks belong to the slow fall: up to a dump, a second inflation, an empty cuff or the end."""
    length = len(cuff)
    lowest = np.minimum.accumulate(cuff)
    again = np.flatnonzero(cuff > lowest + SECOND_INFLATION_MMHG)
    if len(again):
        length = int(np.argmin(cuff[: again[0] + 1])) + 1
    empty = np.flatnonzero(cuff[:length] <= 2.0)
    if len(empty):
        length = int(empty[0]) + 1
    half = max(1, round(0.25 / step_s))
    if length > 2 * half + 1:
        quick = (cuff[: length - 2 * half] - cuff[2 * half : length]) / (2 * half * step_s)
        dumped = np.flatnonzero(quick > DUMP_MMHG_PER_S)
        # Letting go at the very top can be quick for a moment; only a dump after some slow fall ends it.
        dumped = dumped[cuff[dumped] < cuff[0] - 10.0]
        if len(dumped):
            length = int(dumped[0]) + half
    return max(length, 1)
