"""What the signs mean: which flags stand, whether the pressure may be reported, and how sure it is.

The limits here are ours, set on simulated recordings of two origins (docs/return-of-flow.md); none comes from
a guideline.
"""

from __future__ import annotations

import itertools

import numpy as np

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.return_of_flow.conditioning import moving_average
from exams.hemodynamics.return_of_flow.figures import ENOUGH_BEATS, ENOUGH_RISE, Signs, signs_of
from exams.hemodynamics.return_of_flow.phases import beats_seen, phases_of
from exams.hemodynamics.return_of_flow.reading import (
    READER_VERSION,
    Confidence,
    FlagCode,
    Mark,
    TraceFlag,
    TraceKind,
    TraceReading,
)
from exams.hemodynamics.return_of_flow.reasons import reasons_of
from exams.hemodynamics.return_of_flow.signs import Seen

# Blood came back where pulses grow (natural logarithm of the odds over none growing), where fainter ones are
# alike from beat to beat, or where the level climbs steadily by much of the whole range.
PULSE_ODDS = 9.0
FAINT_PULSE_ODDS = 4.0
LIKENESS = 0.4
# Pulses that grow are blood's if the level climbs a little too, or if they are plainly alike.
SOME_LEVEL_ODDS = 2.5
SOME_SHARE = 0.1
PLAIN_LIKENESS = 0.5
SURE_LIKENESS = 0.8
# A rhythm less clear than this, where nothing came back, may be no rhythm at all.
SURE_RHYTHM = 0.75
LEVEL_ODDS = 4.0
STEADY_SHARE = 0.5
PULSELESS_MMHG = 20.0
# Livelier than this around the start, over the later pulses, or falling by this share of the rise, is no
# blood.
DISTURBANCE = 1.8
DIP = 0.2
# Level and pulses that point so far apart are not lifted by the same blood, if one of them is so sure of its
# place (natural logarithm of the odds) or the later pulses are not alike.
APART_MMHG = 18.0
INSISTS = 4.0
# Pulses while occluded: as high as this share of those after the return, and as alike from beat to beat.
LEAK_SHARE = 0.07
LEAK_LIKENESS = 0.45
# Rising while occluded: as much as this share of the whole rise.
RISING_SHARE = 0.45
# How much of the belief may lie above where the cuff started, and how near the start the mark may stand.
ABOVE_START_SHARE = 0.10
# Beats after the mark, below which too little of the rise was recorded.
FEWEST_BEATS_AFTER = 3.0
# A cuff that stops above this may have stopped above systolic.
LOW_END_MMHG = 12.0
# A deflation is quick when one beat costs more than this, and uneven from such a scatter of its rate on.
QUICK_BEAT_MMHG = 6.0
QUICK_MMHG_PER_S = 6.0
UNEVEN = 0.35
MAINS_SHARE = 0.6
# Where nothing came back and no beats are alike, what pulsates at rest stands so far above what does
# afterwards, or is no pulse.
REST_SHARE = 1.6
IRREGULAR = 0.13
LOW_RISE = 8.0
# What no curve shows, mmHg: how many beats passed before the first that can be seen (a soft start is read too
# low, a hard one too high), systolic that differs from beat to beat, a manometer that lags.
UNSEEN_SD_MMHG = 1.8
# An irregular heart's systolic differs the more, per whole of the spread of its intervals.
IRREGULAR_SD_MMHG = 4.0
# The belief's own width says little about the error (docs/return-of-flow.md): so much of it counts.
INTERVAL_SCALE = 0.35
# Another place is named when so much of the belief gathers there, so far from the mark.
ALTERNATIVE_WEIGHT = 0.12
ALTERNATIVE_MMHG = 5.0


def judged(seen: Seen, kind: TraceKind) -> TraceReading:
    """The reading of one recording, with every flag, reason and figure."""
    found = _is_found(seen, kind)
    beats = beats_seen(seen, found)
    signs = signs_of(seen, beats, found)
    flags = flags_of(seen, signs)
    refused = any(flag.refuses for flag in flags)
    mark: Mark | NotStated = _mark(seen, signs) if signs.found else NotStated("No return of flow is seen.")
    no_rhythm = NotStated("No clear rhythm is seen.")
    seen_beat = seen.rhythm.seen
    enough, enough_words = _enough(seen, signs)
    return TraceReading(
        version=READER_VERSION,
        kind=kind,
        mark=mark,
        alternatives=_alternatives(seen, mark) if isinstance(mark, Mark) else (),
        usable=signs.found and not refused,
        confidence=_confidence(mark, flags, refused),
        flags=flags,
        reasons=reasons_of(seen, signs, kind, {flag.code for flag in flags}),
        phases=phases_of(seen, signs.found),
        beats=beats,
        beat_interval_s=seen.rhythm.beat_s if seen_beat else no_rhythm,
        beat_mmhg=signs.beat_mmhg if seen_beat else no_rhythm,
        deflation_mmhg_per_s=signs.rate,
        deflation_unevenness=signs.uneven,
        start_mmhg=seen.deflation.start_mmhg,
        end_mmhg=seen.deflation.end_mmhg,
        polarity=seen.polarity,
        sampling_hz=seen.conditioned.sampling_hz,
        enough=enough,
        enough_words=enough_words,
    )


def _is_found(seen: Seen, kind: TraceKind) -> bool:
    """Whether blood came back: by strong pulses, by alike ones, or by a large steady rise without them."""
    belief, rise = seen.belief, seen.rise
    if seen.came_off and seen.return_likeness < PLAIN_LIKENESS:
        return False
    whole = float(np.ptp(seen.level[: seen.deflation.ends]))
    climbs = belief.level_odds > SOME_LEVEL_ODDS and rise.height > SOME_SHARE * whole
    if belief.pulse_odds > PULSE_ODDS and (
        kind is TraceKind.PULSATION or climbs or seen.return_likeness > PLAIN_LIKENESS
    ):
        return True
    steady = rise.height > STEADY_SHARE * whole and seen.dip < DIP and not seen.came_off
    if belief.pulse_odds > FAINT_PULSE_ODDS:
        alike = seen.return_likeness > LIKENESS
        return seen.return_likeness > SURE_LIKENESS or (steady and (alike or belief.level_odds > LEVEL_ODDS))
    # Without any pulse a rise near the end of the deflation may be blood flowing back from the veins.
    high_enough = belief.middle_mmhg > PULSELESS_MMHG
    return steady and belief.level_odds > LEVEL_ODDS and not seen.stirs and high_enough


def flags_of(seen: Seen, s: Signs) -> tuple[TraceFlag, ...]:
    """Every flag that stands: those that refuse the pressure first, and what explains the others before."""
    flags: list[TraceFlag] = []
    c, d = seen.conditioned, seen.deflation
    at_mark_s = c.start_s + seen.start * c.step_s

    def add(code: FlagCode, refuses: bool, words: str, at_s: float | None = None, **evidence: float) -> None:
        flags.append(TraceFlag(code, refuses, words, {k: round(v, 4) for k, v in evidence.items()}, at_s))

    persist = s.occluded_share > LEAK_SHARE
    flows_early = persist and s.early_share > 0.5 and s.early_likeness > LEAK_LIKENESS
    if flows_early or (persist and s.occluded_likeness > LEAK_LIKENESS):
        add(
            FlagCode.OCCLUSION_DOUBTFUL,
            True,
            f"Pulses persist while the cuff should hold the blood back, {s.occluded_share:.0%} of "
            "their later height: it leaks, or was not inflated high enough.",
            share=s.occluded_share,
            likeness=s.occluded_likeness,
        )
    elif s.found and s.drift_share > RISING_SHARE:
        add(
            FlagCode.OCCLUSION_DOUBTFUL,
            False,
            f"The signal rises from the start of the deflation: {s.drift_share:.0%} of the whole rise "
            "comes before the mark.",
            share=s.drift_share,
        )
    elif not s.found and s.early_climb > RISING_SHARE:
        add(
            FlagCode.OCCLUSION_DOUBTFUL,
            True,
            "The signal rises as soon as the cuff is up: the cuff does not hold the blood back.",
            share=s.early_climb,
        )
    # Where nothing came back, belief gathers anywhere: only pulses then say that blood flows.
    flowing = s.found or flags or seen.return_likeness > PLAIN_LIKENESS
    if flows_early or (flowing and s.above_start > ABOVE_START_SHARE):
        add(
            FlagCode.STARTED_TOO_LOW,
            True,
            f"Blood seems to flow already at the start of the deflation, {d.start_mmhg:.0f} mmHg: "
            "the cuff was not inflated high enough.",
            start_mmhg=d.start_mmhg,
            belief=s.above_start,
        )
    if not s.found:
        if (
            seen.came_off
            or seen.rhythm.clearness < SURE_RHYTHM
            or c.mains_share > MAINS_SHARE
            or (s.rest_share < REST_SHARE and seen.return_likeness < PLAIN_LIKENESS)
        ):
            add(
                FlagCode.LOW_AMPLITUDE,
                True,
                "Once the cuff is up the signal leaves its range or stands still: the sensor came off."
                if seen.came_off
                else "No pulse is seen anywhere in the recording: was the sensor on, is the foot warm?",
            )
        add(
            FlagCode.NO_RETURN,
            True,
            f"No lasting rise and no returning pulses are seen down to {d.end_mmhg:.0f} mmHg.",
            end_mmhg=d.end_mmhg,
        )
        if d.end_mmhg > LOW_END_MMHG:
            add(
                FlagCode.STOPPED_TOO_EARLY,
                True,
                f"The recording stops at {d.end_mmhg:.0f} mmHg; blood may have returned below that.",
                end_mmhg=d.end_mmhg,
            )
    if s.found and s.beats_after < FEWEST_BEATS_AFTER:
        add(
            FlagCode.STOPPED_TOO_EARLY,
            True,
            f"The recording stops {max(s.beats_after, 0):.0f} beats after the rise begins: "
            "too little of it to be sure.",
            beats=s.beats_after,
        )
    if s.found and s.hidden_by_gap:
        add(FlagCode.GAP_AT_MARK, True, "The signal is missing where the rise begins.", at_mark_s)
    if s.found and s.hidden_by_rail:
        add(
            FlagCode.CLIPPED,
            True,
            "The signal stands at the end of its range where the rise begins.",
            at_mark_s,
        )
    elif c.clipped.any():
        first = c.start_s + float(np.flatnonzero(c.clipped)[0]) * c.step_s
        add(
            FlagCode.CLIPPED,
            False,
            "The signal is cut off at the end of its range, away from the mark.",
            first,
        )
    if s.disturbance > DISTURBANCE or s.dip > DIP:
        add(
            FlagCode.ARTEFACT_AT_MARK,
            True,
            "The sensor moved just where the rise begins; what is blood and what is movement cannot be told.",
            at_mark_s,
            liveliness=s.disturbance,
            dip=s.dip,
        )
    elif s.found and _at_odds(seen):
        add(
            FlagCode.ARTEFACT_AT_MARK,
            True,
            f"The level and the pulses point to places {abs(seen.belief.apart_mmhg):.0f} mmHg apart: "
            "one of them is not moved by returning blood.",
            at_mark_s,
            apart_mmhg=seen.belief.apart_mmhg,
        )
    elif s.found and s.stir_at_mark_s is not None:
        add(
            FlagCode.ARTEFACT_AT_MARK,
            False,
            "The sensor moved shortly before the mark; that spell is left out of the reading.",
            c.start_s + s.stir_at_mark_s,
        )
    if s.beat_mmhg > QUICK_BEAT_MMHG or s.rate > QUICK_MMHG_PER_S:
        add(
            FlagCode.DEFLATION_TOO_QUICK,
            False,
            f"The cuff falls {s.rate:.1f} mmHg a second near the mark: one beat = {s.beat_mmhg:.1f} mmHg.",
            at_mark_s,
            mmhg_per_s=s.rate,
        )
    if s.uneven > UNEVEN:
        add(
            FlagCode.DEFLATION_UNEVEN,
            False,
            f"The cuff falls unevenly near the mark: its rate varies by {s.uneven:.0%}.",
            at_mark_s,
            unevenness=s.uneven,
        )
    if s.found and s.rise_over_noise < LOW_RISE:
        add(FlagCode.LOW_AMPLITUDE, False, "The signal is weak against its noise.", ratio=s.rise_over_noise)
    if s.irregular > IRREGULAR:
        add(
            FlagCode.IRREGULAR_RHYTHM,
            False,
            f"The rhythm is irregular: the time between beats varies by {s.irregular:.0%}. "
            "The first beat that passes may be a weak one.",
            variation=s.irregular,
        )
    if c.mains_share > MAINS_SHARE:
        add(
            FlagCode.MAINS_PICKUP,
            False,
            "A steady hum of the mains lies over the signal.",
            share=c.mains_share,
        )
    return tuple(sorted(flags, key=lambda flag: not flag.refuses))


def _at_odds(seen: Seen) -> bool:
    """Whether level and pulses contradict each other: a level that rises vaguely contradicts nothing."""
    sure = seen.belief.at_odds > INSISTS or seen.return_likeness < PLAIN_LIKENESS
    return sure and abs(seen.belief.apart_mmhg) > APART_MMHG


def _mark(seen: Seen, s: Signs) -> Mark:
    belief = seen.belief
    pressure = belief.middle_mmhg
    rest = 1.96 * float(np.hypot(UNSEEN_SD_MMHG + IRREGULAR_SD_MMHG * s.irregular, 0.29 * s.beat_mmhg))
    low = INTERVAL_SCALE * (pressure - belief.quantile(0.025))
    high = INTERVAL_SCALE * (belief.quantile(0.975) - pressure)
    return Mark(
        time_s=seen.conditioned.start_s + seen.start * seen.conditioned.step_s,
        pressure_mmhg=max(pressure, 0.0),
        low_mmhg=max(pressure - float(np.hypot(low, rest)), 0.0),
        high_mmhg=max(pressure + float(np.hypot(high, rest)), 0.0),
        weight=_weight_near(seen, pressure),
    )


def _weight_near(seen: Seen, pressure: float) -> float:
    near = np.abs(seen.belief.pressure_mmhg - pressure) <= ALTERNATIVE_MMHG
    return float(seen.belief.share[near].sum())


def _alternatives(seen: Seen, mark: Mark) -> tuple[Mark, ...]:
    """Other places where much of the belief gathers, well away from the mark: the start is ambiguous."""
    belief = seen.belief
    smooth = moving_average(belief.share, 5)
    valleys = 1 + np.flatnonzero((smooth[1:-1] < smooth[:-2]) & (smooth[1:-1] <= smooth[2:]))
    edges = np.concatenate(([0], valleys, [len(smooth)]))
    found: list[Mark] = []
    for first, last in itertools.pairwise(edges):
        share, pressures = belief.share[first:last], belief.pressure_mmhg[first:last]
        weight = float(share.sum())
        if weight < ALTERNATIVE_WEIGHT:
            continue
        pressure = float(pressures @ share) / weight
        if abs(pressure - mark.pressure_mmhg) < ALTERNATIVE_MMHG:
            continue
        low, high = np.interp([0.025, 0.975], np.cumsum(share) / weight, pressures)
        tick = seen.deflation.tick_at(pressure)
        found.append(
            Mark(
                time_s=seen.conditioned.start_s + tick * seen.conditioned.step_s,
                pressure_mmhg=pressure,
                low_mmhg=max(float(low), 0.0),
                high_mmhg=max(float(high), 0.0),
                weight=weight,
            )
        )
    return tuple(sorted(found, key=lambda other: -other.weight))


def _enough(seen: Seen, s: Signs) -> tuple[bool, str]:
    if not s.found:
        return False, "Go on: no return of flow is seen yet."
    if s.beats_after < ENOUGH_BEATS:
        return (
            False,
            f"Go on: {s.beats_after:.0f} of {ENOUGH_BEATS:.0f} beats of the rise are recorded.",
        )
    if s.rise_over_noise < ENOUGH_RISE:
        return False, "Go on: the rise is not yet clear of the noise."
    return True, (
        f"Enough: {s.beats_after:.0f} beats of a rise {s.rise_over_noise:.0f} times the noise are recorded. "
        "More would not change the answer."
    )


def _confidence(mark: Mark | NotStated, flags: tuple[TraceFlag, ...], refused: bool) -> Confidence:
    if isinstance(mark, NotStated) or refused:
        return Confidence.LOW
    width = mark.high_mmhg - mark.low_mmhg
    codes = {flag.code for flag in flags}
    if width > 20 or FlagCode.OCCLUSION_DOUBTFUL in codes:
        return Confidence.LOW
    if width > 12 or codes & {FlagCode.ARTEFACT_AT_MARK, FlagCode.LOW_AMPLITUDE, FlagCode.DEFLATION_UNEVEN}:
        return Confidence.MEDIUM
    return Confidence.HIGH
