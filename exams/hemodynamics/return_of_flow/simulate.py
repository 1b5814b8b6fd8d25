"""Recordings with a known answer: a simulated person, a simulated apparatus, and one thing that is difficult.

The body's laws stand in ``simulated_circulation``, cuff, sensor and disturbances in ``simulated_apparatus``,
and what is difficult in each family in ``simulated_families``; everything else about person and apparatus is
drawn anew from the seed. Nothing here knows how a reader works.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from typing import Literal

import numpy as np

from exams.hemodynamics.return_of_flow.reading import FlagCode, TraceKind
from exams.hemodynamics.return_of_flow.simulated_apparatus import (
    GRID_HZ,
    Apparatus,
    Course,
    course,
    disturbances,
    manometer,
    sampled_times,
    sensed,
)
from exams.hemodynamics.return_of_flow.simulated_circulation import (
    Beats,
    Body,
    Floats,
    arterial_pressure,
    blood_in_pulp,
    heart_beats,
)
from exams.hemodynamics.return_of_flow.simulated_families import (
    FAMILIES,
    Recording,
    ordinary_apparatus,
    ordinary_person,
)

TRACE_FAMILIES: tuple[str, ...] = tuple(FAMILIES)

# The beats that are averaged lie so near the crossing: one breath on either side.
AROUND_CROSSING_S = 5.0


@dataclass(frozen=True, slots=True)
class SimulatedTrace:
    """A recording and its answer.

    Attributes
    ----------
    time_s, cuff_mmhg, signal : float array, same length
        As a file would hold them; missing samples are NaN in ``signal`` or absent.
    systolic_mmhg : float or None
        Mean arterial systolic of the beats within 5 s of where the cuff falls below it; None without return.
    ideal_mmhg, ideal_time_s : float or None
        Cuff pressure and time at the top of the first beat that stands above the cuff: the ideal reader's
        answer. None where the recording does not hold it: no return, stopped before, or the cuff never stood
        above.
    should_be_usable : bool
    expected_flags : frozenset of FlagCode
        Any one of them says what is wrong. In a usable recording they may be missing where it is only
        slightly so.
    """

    time_s: Floats
    cuff_mmhg: Floats
    signal: Floats
    systolic_mmhg: float | None
    ideal_mmhg: float | None
    ideal_time_s: float | None
    should_be_usable: bool
    expected_flags: frozenset[FlagCode]
    family: str
    kind: TraceKind


def simulate_trace(
    *,
    family: str = "clean",
    seed: int = 0,
    systolic_mmhg: float = 90.0,
    severity: float = 0.5,
    sampling_hz: float = 100.0,
    technique: Literal["two_cuffs", "one_cuff_hand"] = "two_cuffs",
    kind: TraceKind = TraceKind.REFILL,
    rate_per_min: float | None = None,
    deflation_mmhg_per_s: float | None = None,
    variability: float = 1.0,
) -> SimulatedTrace:
    """One recording of ``family``; the same arguments give the same recording.

    Parameters
    ----------
    family : str
        One of ``TRACE_FAMILIES``. Some decide a parameter themselves: ``low_pressure`` the pressure (15 to
        40), ``low_rate`` (20) and ``high_rate`` (1000) the sampling, ``one_cuff`` the technique,
        ``pulsation_…`` the kind.
    seed : int
        Another seed is another person, apparatus and course.
    systolic_mmhg : float
        15 to 200: the person's level, about which the beats vary.
    severity : float
        0 to 1: of what the family is named for. 0 is the mildest that still deserves the name.
    rate_per_min, deflation_mmhg_per_s : float, optional
        Drawn (45 to 110, 1.5 to 4) where not given.
    variability : float
        Of the systolic and the interval from beat to beat; 0 makes all beats alike.

    Raises
    ------
    KeyError
        No such family.
    """
    what = FAMILIES[family]
    draw = np.random.default_rng([zlib.crc32(family.encode()), seed])
    if family.startswith("pulsation"):
        kind = TraceKind.PULSATION
    if family == "low_pressure":
        systolic_mmhg = draw.uniform(15, 40)
    by_hand = technique == "one_cuff_hand" or family == "one_cuff"

    body = ordinary_person(systolic_mmhg, draw)
    kit = ordinary_apparatus(systolic_mmhg, sampling_hz, by_hand, draw)
    if kind is TraceKind.PULSATION:
        kit.emptying_s = 0.0
    if what.alter:
        what.alter(body, kit, severity, draw)
    body.rate_per_min = rate_per_min or body.rate_per_min
    kit.deflation_mmhg_per_s = deflation_mmhg_per_s or kit.deflation_mmhg_per_s

    lowest = body.systolic_mmhg - draw.uniform(45, 70) if body.flows else 0.0
    plan = course(kit, lowest, draw)
    beats = heart_beats(body, float(plan.time_s[-1]), variability, draw)
    arterial = arterial_pressure(body, beats, plan.time_s)
    return recorded(
        family=family,
        severity=severity,
        kind=kind,
        body=body,
        kit=kit,
        plan=plan,
        beats=beats,
        arterial=arterial,
        draw=draw,
    )


def recorded(
    *,
    family: str,
    severity: float,
    kind: TraceKind,
    body: Body,
    kit: Apparatus,
    plan: Course,
    beats: Beats,
    arterial: Floats,
    draw: np.random.Generator,
) -> SimulatedTrace:
    """What the apparatus records of ``arterial`` (mmHg, on the course's grid), whose beats are known."""
    what = FAMILIES[family]
    first, crossing_s = _first_to_pass(body, beats, plan)
    plan, arterial, stop_s, well_filled_s = _stopped(body, kit, plan, arterial, crossing_s, kind, draw)
    blood, pulse = blood_in_pulp(body, plan.time_s, arterial, plan.cuff_mmhg, plan.pressing, plan.released_s)
    if kind is TraceKind.REFILL:
        blood = blood + body.pulse_share * pulse - 0.15 * draw.uniform(-1, 1) * plan.pressing
    else:
        blood = pulse
    seen = sensed(kit, blood, plan.time_s)

    time_s = sampled_times(kit, stop_s, draw)
    cuff = plan.cuff_mmhg + kit.cuff_pulse_mmhg * (arterial - body.systolic_mmhg) / body.pulse_mmhg * (
        plan.cuff_mmhg > 5
    )
    record = Recording(
        time_s,
        manometer(kit, time_s, np.interp(time_s, plan.time_s, cuff), draw),
        np.interp(time_s, plan.time_s, seen) + disturbances(kit, time_s, draw),
        beats.top_s[first] if first is not None else (plan.deflation_s + stop_s) / 2,
        plan.released_s,
        well_filled_s,
        60 / body.rate_per_min,
    )
    if what.spoil:
        what.spoil(record, severity, draw)
    if kit.signal_step:
        record.signal = np.round(record.signal / kit.signal_step) * kit.signal_step

    near = np.abs(beats.top_s - crossing_s) <= AROUND_CROSSING_S
    seen_first = first is not None and bool(record.time_s.size) and beats.top_s[first] <= record.time_s[-1]
    return SimulatedTrace(
        time_s=record.time_s,
        cuff_mmhg=record.cuff_mmhg,
        signal=kit.gain * kit.polarity * (record.signal + kit.offset),
        systolic_mmhg=float(np.mean(beats.systolic_mmhg[near])) if body.flows else None,
        ideal_mmhg=_at(plan, beats.top_s[first]) if first is not None and seen_first else None,
        ideal_time_s=float(beats.top_s[first]) if first is not None and seen_first else None,
        should_be_usable=what.usable,
        expected_flags=frozenset(what.flags),
        family=family,
        kind=kind,
    )


def _at(plan: Course, time_s: float) -> float:
    return float(np.interp(time_s, plan.time_s, plan.cuff_mmhg))


def _first_to_pass(body: Body, beats: Beats, plan: Course) -> tuple[int | None, float]:
    """The first beat above the falling cuff, and when the cuff falls below the person's systolic level.

    None for the beat where none passes, or where the cuff never stood above.
    """
    under = np.flatnonzero((plan.time_s >= plan.deflation_s) & (plan.cuff_mmhg <= body.systolic_mmhg))
    crossing_s = float(plan.time_s[under[0]]) if under.size else float(plan.time_s[-1])
    cuff = np.interp(beats.top_s, plan.time_s, plan.cuff_mmhg)
    within = (beats.top_s >= plan.released_s) & (beats.top_s <= plan.time_s[-1])
    passing = np.flatnonzero(within & (beats.systolic_mmhg > cuff))
    if not body.flows or not passing.size or beats.top_s[passing[0]] < plan.deflation_s:
        return None, crossing_s
    return int(passing[0]), crossing_s


def _stopped(
    body: Body,
    kit: Apparatus,
    plan: Course,
    arterial: Floats,
    crossing_s: float,
    kind: TraceKind,
    draw: np.random.Generator,
) -> tuple[Course, Floats, float, float]:
    """The course with its end: some time after the rise is large, the cuff let go before it or not."""
    time_s = plan.time_s
    volume, _ = blood_in_pulp(body, time_s, arterial, plan.cuff_mmhg, plan.pressing, plan.released_s)
    if kind is TraceKind.PULSATION:
        large = time_s > crossing_s + draw.uniform(12, 30) / kit.deflation_mmhg_per_s
    else:
        # Nobody stops at once, not even where the pulp was full before the cuff began to fall.
        late = time_s > max(crossing_s, plan.deflation_s + 5)
        large = late & (volume >= kit.stop_volume) & body.flows
    stops = np.flatnonzero(large)
    stop = (
        min(int(stops[0]) + int(kit.stop_later_s * GRID_HZ), time_s.size - 1)
        if stops.size
        else time_s.size - 1
    )
    thirds = np.flatnonzero((time_s > crossing_s) & (volume >= 0.35))
    well_filled_s = float(time_s[thirds[0]]) if thirds.size else float(time_s[-1])
    end = stop
    cuff = plan.cuff_mmhg.copy()
    if kit.dump:
        end = min(stop + int(draw.uniform(1, 3) * GRID_HZ), time_s.size - 1)
        cuff[stop:] = cuff[stop] * np.exp(-(time_s[stop:] - time_s[stop]) / 0.25)
    ended = Course(time_s[:end], cuff[:end], plan.pressing[:end], plan.released_s, plan.deflation_s)
    return ended, arterial[:end], float(time_s[end - 1]), well_filled_s
