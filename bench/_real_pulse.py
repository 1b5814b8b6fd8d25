"""A real heart under a simulated cuff: beats and wave of the open pulse recording, the rest simulated.

The recording is of a wrist, by photoplethysmography, and has no pressure in it. From it comes what is hard to
invent: when the beats fall, each beat's own wave, and how much one differs from the next. It is read where it
lies and copied nowhere.
"""

import os
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.signal import butter, find_peaks, sosfiltfilt

from exams.hemodynamics.return_of_flow.reading import TraceKind
from exams.hemodynamics.return_of_flow.simulate import recorded
from exams.hemodynamics.return_of_flow.simulated_apparatus import GRID_HZ, course
from exams.hemodynamics.return_of_flow.simulated_circulation import Beats
from exams.hemodynamics.return_of_flow.simulated_families import ordinary_apparatus, ordinary_person

NAME = "pulse/ppg_wrist_20hz_dc.csv"
# Where the wrist was held still.
STILL_S = ((130.0, 195.0), (203.0, 262.0), (300.0, 555.0), (575.0, 735.0))
HIGHER_AND_LOWER_MMHG = 2.5


def recording_path():
    """The open recording, or None where the data are not."""
    path = Path(os.environ.get("VASLAB_OPEN_DATA", "../shared/data")) / NAME
    return path if path.exists() else None


def real_pulse_trace(seed, systolic_mmhg):
    """A refill whose arterial pressure has the wave of the real recording.

    Each beat is scaled between diastolic and systolic; one that was higher than its neighbours has a higher
    systolic (standard deviation 2.5 mmHg).
    """
    draw = np.random.default_rng([1, seed])
    body, kit = ordinary_person(systolic_mmhg, draw), ordinary_apparatus(systolic_mmhg, 100.0, False, draw)
    plan = course(kit, systolic_mmhg - draw.uniform(45, 70), draw)
    feet, tops, heights, shape = _beats()
    room = [(start, end) for start, end in STILL_S if end - start > plan.time_s[-1] + 2]
    start, end = room[int(draw.integers(len(room)))]
    begin = draw.uniform(start, end - plan.time_s[-1] - 1)

    relative = np.clip((heights - np.median(heights)) / np.std(heights), -2, 2)
    systolic = systolic_mmhg + HIGHER_AND_LOWER_MMHG * (relative - relative.mean())
    grid = plan.time_s + begin
    beat = np.searchsorted(feet, grid, side="right") - 1
    arterial = systolic[beat] - body.pulse_mmhg * (1 - np.interp(grid, *shape))
    body.rate_per_min = 60 / float(np.median(np.diff(feet)))
    return recorded(
        family="clean",
        severity=0.0,
        kind=TraceKind.REFILL,
        body=body,
        kit=kit,
        plan=plan,
        beats=Beats(feet[:-1] - begin, np.diff(feet), tops - begin, systolic),
        arterial=arterial,
        draw=draw,
    )


@cache
def _beats():
    """Feet and tops (s), heights beside the neighbours', and the wave stretched to 0 to 1 (times, values)."""
    times, counts = np.loadtxt(recording_path(), delimiter=",", skiprows=1, unpack=True)
    grid = np.arange(times[0] / 1000, times[-1] / 1000, 1 / GRID_HZ)
    # More blood swallows more light: the counts fall with each beat.
    blood = -np.interp(grid, times / 1000, counts)
    wave = sosfiltfilt(butter(2, (0.5, 8), "bandpass", fs=GRID_HZ, output="sos"), blood)
    tops = find_peaks(wave, distance=int(0.45 * GRID_HZ), prominence=0.5 * np.std(wave[75000:125000]))[0]
    feet = np.array([a + int(np.argmin(wave[a:b])) for a, b in pairwise(tops)])
    tops = tops[1:-1]  # each between two feet
    low = np.interp(grid, grid[feet], wave[feet])
    heights = wave[tops] - low[tops]
    beat = np.clip(np.searchsorted(feet, np.arange(grid.size), side="right") - 1, 0, heights.size - 1)
    stretched = np.clip((wave - low) / np.maximum(heights[beat], 1), 0, 1)
    # How high a beat is beside its neighbours: the wrist's own tone changes the rest.
    beside = heights / np.convolve(np.pad(heights, 10, mode="edge"), np.full(21, 1 / 21), mode="valid")
    return grid[feet], grid[tops], np.clip(beside, 0.3, 2), (grid, stretched)
