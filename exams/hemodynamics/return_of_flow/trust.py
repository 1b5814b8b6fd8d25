"""What the signs mean: which flags stand, whether the pressure may be reported, and how sure it is."""

from __future__ import annotations

import numpy as np

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.return_of_flow.occlusion import local_rates
from exams.hemodynamics.return_of_flow.onset import READ_STEP_S
from exams.hemodynamics.return_of_flow.phases import beats_seen, phases_of
from exams.hemodynamics.return_of_flow.reading import (
    READER_VERSION,
    Confidence,
    FlagCode,
    Mark,
    Reason,
    TraceFlag,
    TraceKind,
    TraceReading,
)
from exams.hemodynamics.return_of_flow.signs import Seen

# A quick deflation: one beat costs more than this (ours: half the interval that quality asks for).
QUICK_BEAT_MMHG = 6.0
# Scatter of the local rate over its mean, from which a deflation is called uneven.
UNEVEN = 0.35
# A pressure below this cannot be missed by stopping above it.
LOW_END_MMHG = 30.0
# Rest of the uncertainty that no curve shows, mmHg: systolic differs from beat to beat, the manometer lags.
UNSEEN_SD_MMHG = 1.0
MAINS_SHARE = 0.6
IRREGULAR = 0.16


def judged(seen: Seen, kind: TraceKind) -> TraceReading:
    """The reading of one recording, with every flag, reason and figure."""
    m = signs(seen)
    found = m["found"] > 0
    flags = _flags(seen, m, kind)
    refused = any(flag.refuses for flag in flags)
    mark: Mark | NotStated = _mark(seen, m) if found else NotStated("No return of flow is seen.")
    rate = m["rate"]
    confidence = _confidence(mark, flags, refused)
    beat = seen.rhythm
    return TraceReading(
        version=READER_VERSION,
        kind=kind,
        mark=mark,
        alternatives=(),
        usable=found and not refused,
        confidence=confidence,
        flags=flags,
        reasons=_reasons(seen, m, kind),
        phases=phases_of(seen, found),
        beats=beats_seen(seen),
        beat_interval_s=beat.beat_s if beat.seen else NotStated("No clear rhythm is seen."),
        beat_mmhg=rate * beat.beat_s if beat.seen else NotStated("No clear rhythm is seen."),
        deflation_mmhg_per_s=rate,
        deflation_unevenness=m["uneven"],
        start_mmhg=seen.deflation.start_mmhg,
        end_mmhg=seen.deflation.end_mmhg,
        polarity=seen.polarity,
        sampling_hz=seen.conditioned.sampling_hz,
        enough=found and m["beats_after"] >= 6 and m["rise_over_noise"] > 12,
        enough_words="",
    )


def signs(seen: Seen) -> dict[str, float]:
    """The numbers that the flags are decided by; heights as shares of the whole rise."""
    rise, d, step = seen.rise, seen.deflation, seen.conditioned.step_s
    beat_s = seen.rhythm.beat_s
    pressure = seen.belief.middle_mmhg
    near = np.abs(d.falling_mmhg - pressure) <= 10.0
    rates = local_rates(d.falling_mmhg[near] if near.sum() > 2 / step else d.falling_mmhg, step)
    rate = float(np.mean(rates))
    height = max(rise.height, 1e-12)
    tick = int(np.clip((seen.start - d.begins) * step / READ_STEP_S, 0, len(rise.level) - 1))
    early = seen.strength[d.begins : d.begins + max(4, round(2.5 * beat_s / step))]
    return {
        "pressure": pressure,
        "rate": rate,
        "uneven": float(np.std(rates) / rate) if rate > 0 else 0.0,
        "rise_over_noise": rise.height / rise.noise,
        "level_odds": seen.belief.level_odds,
        "pulse_odds": seen.belief.pulse_odds,
        "drift_share": rise.slope_per_s * (rise.time_s[tick] - rise.time_s[0]) / height,
        "occluded_over_return": seen.occluded_strength / max(seen.return_strength, 1e-12),
        "occluded_over_rest": seen.occluded_strength / max(seen.rest_strength, 1e-12),
        "occluded_likeness": seen.occluded_likeness,
        "early_over_return": float(np.median(early)) / max(seen.return_strength, 1e-12),
        "beats_after": (d.ends - seen.start) * step / beat_s,
        "beats_before": (seen.start - d.begins) * step / beat_s,
        "below_start": d.start_mmhg - pressure,
        "rise_over_rest": rise.height / max(seen.rest_strength, 1e-12),
        "rise_over_strength": rise.height / max(seen.return_strength, 1e-12),
        "return_over_rest": seen.return_strength / max(seen.rest_strength, 1e-12),
        "end": d.end_mmhg,
        "clearness": seen.rhythm.clearness,
        "found": float(max(seen.belief.level_odds, seen.belief.pulse_odds) > 6.0),
    }


def _mark(seen: Seen, m: dict[str, float]) -> Mark:
    belief = seen.belief
    pressure = belief.middle_mmhg
    rest = np.hypot(UNSEEN_SD_MMHG, 0.3 * m["rate"] * seen.rhythm.beat_s)
    low, high = belief.quantile(0.025), belief.quantile(0.975)
    low = pressure - float(np.hypot(pressure - low, 1.96 * rest))
    high = pressure + float(np.hypot(high - pressure, 1.96 * rest))
    return Mark(
        time_s=seen.conditioned.start_s + seen.start * seen.conditioned.step_s,
        pressure_mmhg=pressure,
        low_mmhg=max(low, 0.0),
        high_mmhg=high,
        weight=1.0,
    )


def _flags(seen: Seen, m: dict[str, float], kind: TraceKind) -> tuple[TraceFlag, ...]:
    flags: list[TraceFlag] = []
    if not m["found"]:
        flags.append(TraceFlag(FlagCode.NO_RETURN, True, "No lasting rise and no pulses come back.", {}))
    return tuple(flags)


def _reasons(seen: Seen, m: dict[str, float], kind: TraceKind) -> tuple[Reason, ...]:
    return ()


def _confidence(mark: Mark | NotStated, flags: tuple[TraceFlag, ...], refused: bool) -> Confidence:
    if isinstance(mark, NotStated) or refused:
        return Confidence.LOW
    width = mark.high_mmhg - mark.low_mmhg
    return Confidence.HIGH if width <= 10 else Confidence.MEDIUM if width <= 18 else Confidence.LOW
