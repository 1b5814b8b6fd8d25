"""The families of simulated recordings: an ordinary person and apparatus, and what is difficult in each
family."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.return_of_flow.reading import FlagCode
from exams.hemodynamics.return_of_flow.simulated_apparatus import Apparatus, movement, spike, step
from exams.hemodynamics.return_of_flow.simulated_circulation import Body, Floats


@dataclass(slots=True)
class Recording:
    """On its way to a file: the signal in parts of the rise, and where things are."""

    time_s: Floats
    cuff_mmhg: Floats
    signal: Floats
    start_s: float  # of the rise; the middle of the deflation where there is none
    released_s: float
    well_filled_s: float  # a third of the pulp is full
    beat_s: float

    def keep(self, kept: npt.NDArray[np.bool_]) -> None:
        self.time_s, self.cuff_mmhg, self.signal = self.time_s[kept], self.cuff_mmhg[kept], self.signal[kept]


_Draw: TypeAlias = np.random.Generator
_Alter: TypeAlias = Callable[[Body, Apparatus, float, _Draw], None]
_Spoil: TypeAlias = Callable[[Recording, float, _Draw], None]


@dataclass(frozen=True, slots=True)
class Family:
    alter: _Alter | None = None
    spoil: _Spoil | None = None
    usable: bool = True
    flags: tuple[FlagCode, ...] = ()


def ordinary_person(systolic_mmhg: float, draw: _Draw) -> Body:
    return Body(
        systolic_mmhg=systolic_mmhg,
        pulse_mmhg=max(systolic_mmhg * draw.uniform(0.25, 0.5), 5.0),
        rate_per_min=draw.uniform(45, 110),
        upstroke_s=draw.uniform(0.11, 0.22),
        runoff_s=draw.uniform(0.35, 0.9),
        respiration_mmhg=draw.uniform(0.5, 2.0),
        respiration_hz=draw.uniform(0.18, 0.33),
        slow_wave_mmhg=draw.uniform(0.2, 1.2),
        beat_scatter_mmhg=draw.uniform(0.3, 1.0),
        irregular=0.0,
        extra_beat_share=0.0,
        filling_s=_between(2.5, 9, draw),
        softness=draw.uniform(1.0, 2.2),
        pulse_share=_between(0.04, 0.3, draw),
        stiffening_mmhg=draw.uniform(25, 70),
        leak=0.0,
        venous_volume=draw.uniform(0.0, 0.05),
        venous_s=draw.uniform(10, 30),
        venous_delay_s=0.0,
        left_after_emptying=draw.uniform(0.02, 0.12),
        flows=True,
    )


def ordinary_apparatus(systolic_mmhg: float, sampling_hz: float, by_hand: bool, draw: _Draw) -> Apparatus:
    """The cuff goes at least 20 mmHg above; in a low pressure usually far above, as nobody knows it
    beforehand."""
    return Apparatus(
        rest_s=draw.uniform(4, 10),
        emptying_s=draw.uniform(2.5, 5),
        inflation_s=draw.uniform(1.2, 3),
        hold_s=draw.uniform(2, 5),
        start_mmhg=max(systolic_mmhg + draw.uniform(20, 50), draw.uniform(50, 100)),
        floor_mmhg=draw.uniform(1, 5),
        deflation_mmhg_per_s=draw.uniform(1.5, 4),
        bend=draw.uniform(-0.1, 0.3),
        unevenness=0.0,
        by_hand=by_hand,
        sampling_hz=sampling_hz,
        clock_scatter=0.0,
        lost_share=0.0,
        manometer_noise_mmhg=draw.uniform(0.05, 0.3),
        manometer_step_mmhg=0.0,
        cuff_pulse_mmhg=draw.uniform(0.0, 0.4),
        gain=_between(1e-3, 1e4, draw),
        offset=draw.uniform(2, 60),
        signal_step=_between(1e-4, 2e-3, draw),
        polarity=1,
        absorption=draw.uniform(0.05, 0.5),
        coupling_s=0.0,
        white_noise=draw.uniform(0.001, 0.006),
        pink_noise=draw.uniform(0.001, 0.005),
        drift=draw.uniform(0.003, 0.015),
        tremor=0.0,
        mains=0.0,
        mains_hz=float(draw.choice([50.0, 60.0])) + draw.normal(0, 0.02),
        stop_volume=draw.uniform(0.6, 0.95),
        stop_later_s=draw.uniform(0.5, 4),
        dump=bool(draw.random() < 0.4),
    )


def _between(low: float, high: float, draw: _Draw) -> float:
    """Drawn evenly on the scale of ratios."""
    return float(np.exp(draw.uniform(np.log(low), np.log(high))))


# What is difficult, on the body or the apparatus. ``s`` is the severity.


def _drifting(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.drift = draw.uniform(0.6, 1.2) * (0.03 + 0.12 * s)


def _noisy(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.white_noise = draw.uniform(0.6, 1.2) * (0.01 + 0.04 * s)
    kit.pink_noise = draw.uniform(0.6, 1.2) * (0.005 + 0.02 * s)


def _tremor(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.tremor = draw.uniform(0.6, 1.2) * (0.02 + 0.1 * s)


def _mains(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.mains = draw.uniform(0.6, 1.2) * (0.02 + 0.15 * s)


def _irregular(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    body.irregular = draw.uniform(0.1, 0.15) + 0.12 * s
    body.rate_per_min = draw.uniform(60, 110)


def _extra_beats(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    body.extra_beat_share = 0.05 + 0.2 * s


def _cold(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    """Tight vessels: little blood, slow to come, hardly a pulse; beside it the sensor's noise is large."""
    body.filling_s *= 1.5 + 1.5 * s
    body.pulse_share *= 0.4 - 0.3 * s
    weaker = 2 + 4 * s
    kit.white_noise *= weaker
    kit.pink_noise *= weaker
    kit.drift *= weaker / 2


def _uneven(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.unevenness = 0.3 + 0.7 * s


def _quick(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.deflation_mmhg_per_s = draw.uniform(5, 6) + 3 * s


def _venous(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    body.venous_volume = draw.uniform(0.8, 1.2) * (0.08 + 0.27 * s)
    body.venous_s = draw.uniform(5, 25)
    body.venous_delay_s = float(draw.choice([0.0, draw.uniform(2, 8)]))


def _by_hand(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    """A hand empties less well, and what it pressed aside comes back sooner."""
    body.left_after_emptying = draw.uniform(0.08, 0.15) + 0.15 * s
    body.venous_volume = body.left_after_emptying + draw.uniform(0.0, 0.06)
    body.venous_s = draw.uniform(4, 15)
    kit.hold_s = draw.uniform(1, 4)


def _low_rate(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.sampling_hz = 20.0
    kit.clock_scatter = 0.3 + 0.5 * s
    kit.lost_share = 0.01 + 0.03 * s


def _high_rate(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.sampling_hz = 1000.0


def _coarse(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.manometer_step_mmhg = float(draw.choice([1.0, 2.0]))
    kit.manometer_noise_mmhg = 0.3 + 0.9 * s


def _inverted(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.polarity = -1


def _ac_coupled(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.coupling_s = draw.uniform(0.8, 1.2) * (6 - 4.5 * s)
    kit.offset = draw.uniform(-1, 1)


def _leaking(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    """So that a good part of the pulp fills while the cuff is up; less than that can still be read."""
    body.leak = draw.uniform(0.8, 1.2) * (0.05 + 0.2 * s)


def _started_too_low(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    kit.start_mmhg = max(body.systolic_mmhg - draw.uniform(3, 8) - 22 * s, body.systolic_mmhg * 0.5)
    kit.floor_mmhg = min(kit.floor_mmhg, kit.start_mmhg / 2)


def _no_flow(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    body.flows = False
    kit.start_mmhg = draw.uniform(60, 150)
    kit.floor_mmhg = draw.uniform(4, 15)


def _noisy_pulsation(body: Body, kit: Apparatus, s: float, draw: _Draw) -> None:
    _noisy(body, kit, 0.5 + s, draw)
    kit.drift = 0.02 + 0.1 * s


# What is difficult, on the recording.


def _before_start(record: Recording, nearest_s: float, draw: _Draw) -> float:
    """A time on the occluded stretch, from ``nearest_s`` to 8 s before the rise."""
    return max(
        record.start_s - draw.uniform(nearest_s, 8), min(record.released_s + 0.5, record.start_s - nearest_s)
    )


def _either(draw: _Draw) -> float:
    return float(draw.choice([-1.0, 1.0]))


def _step_before(record: Recording, s: float, draw: _Draw) -> None:
    size = _either(draw) * draw.uniform(0.7, 1.3) * (0.1 + 0.5 * s)
    record.signal += step(record.time_s, _before_start(record, 1.5, draw), size)


def _spike_before(record: Recording, s: float, draw: _Draw) -> None:
    for _ in range(int(draw.integers(1, 4))):
        size = _either(draw) * draw.uniform(0.7, 1.3) * (0.2 + 1.5 * s)
        record.signal += spike(record.time_s, _before_start(record, 1.2, draw), draw.uniform(0.05, 0.4), size)


def _movement_before(record: Recording, s: float, draw: _Draw) -> None:
    lasts = draw.uniform(0.8, 3)
    at = _before_start(record, 1.0 + lasts, draw)
    record.signal += movement(record.time_s, at, lasts, 0.1 + 0.4 * s, draw)
    record.signal += step(record.time_s, at + lasts / 2, draw.normal(0, 0.05 + 0.1 * s))


def _lose(record: Recording, start_s: float, end_s: float, draw: _Draw) -> None:
    """Samples not there, or there without a value."""
    inside = (record.time_s >= start_s) & (record.time_s <= end_s)
    if draw.random() < 0.5:
        record.signal[inside] = np.nan
    else:
        record.keep(~inside)


def _gap_elsewhere(record: Recording, s: float, draw: _Draw) -> None:
    lasts = 0.5 + draw.uniform(1, 3) * s
    late = record.well_filled_s + 2
    if draw.random() < 0.4 and late + lasts < record.time_s[-1]:
        _lose(record, late, late + lasts, draw)
    elif draw.random() < 0.5:
        _lose(record, 1.0, 1.0 + lasts, draw)
    else:
        end = max(record.start_s - draw.uniform(3, 6), record.released_s + 0.5)
        _lose(record, end - lasts, end, draw)


def _clipping_elsewhere(record: Recording, s: float, draw: _Draw) -> None:
    """The upper rail hides rest and the end of the rise."""
    base = _level_before(record)
    filled = float(np.max(record.signal[record.time_s > record.start_s], initial=base + 0.1))
    record.signal = np.minimum(record.signal, base + (filled - base) * (0.85 - 0.4 * s))


def _level_before(record: Recording) -> float:
    before = (record.time_s > record.start_s - 3) & (record.time_s < record.start_s)
    return float(np.median(record.signal[before])) if before.any() else float(np.median(record.signal))


def _gap_at_start(record: Recording, s: float, draw: _Draw) -> None:
    """From before the start of the rise until it is well under way."""
    end = max(record.start_s + 2, record.well_filled_s) + 2 * s
    _lose(record, record.start_s - draw.uniform(0.5, 1.5) - 2 * s, min(end, record.time_s[-1] - 1), draw)


def _clipping_at_start(record: Recording, s: float, draw: _Draw) -> None:
    """The lower rail hides the occluded stretch and the first part of the rise."""
    record.signal = np.maximum(record.signal, _level_before(record) + 0.12 + 0.25 * s)


def _artefact_at_start(record: Recording, s: float, draw: _Draw) -> None:
    at = record.start_s - draw.uniform(0.5, 2)
    lasts = draw.uniform(3.5, 5) + 2 * s
    record.signal += movement(record.time_s, at, lasts, 0.3 + 0.6 * s, draw)
    record.signal += step(record.time_s, at + lasts / 2, _either(draw) * (0.15 + 0.4 * s))


def _stopped_too_early(record: Recording, s: float, draw: _Draw) -> None:
    """Up to six beats before the first that passes, or one after it."""
    end = record.start_s + record.beat_s * (0.9 - draw.uniform(0, 7) * max(s, 0.1))
    record.keep(record.time_s <= max(end, record.released_s + 2))


def _sensor_off(record: Recording, s: float, draw: _Draw) -> None:
    """Unplugged (one value), lying beside the toe (room light and mains), or fallen off while emptying."""
    how = int(draw.integers(0, 3))
    number = record.time_s.size
    if how == 0:
        record.signal = np.full(number, float(np.round(draw.uniform(-1, 1), 3)))
        return
    noise = 0.003 + 0.02 * s
    room = noise * (
        draw.standard_normal(number)
        + np.cumsum(draw.standard_normal(number)) * 0.02
        + np.sin(2 * np.pi * 50.01 * record.time_s)
    )
    away = record.time_s > (record.released_s - draw.uniform(0.5, 3) if how == 2 else -1)
    record.signal = np.where(away, room + draw.uniform(-3, 3), record.signal)


def _moving(record: Recording, s: float, draw: _Draw) -> None:
    for _ in range(int(draw.integers(1, 4))):
        at, lasts = draw.uniform(record.released_s, record.time_s[-1] - 2), draw.uniform(0.6, 4)
        record.signal += movement(record.time_s, at, lasts, 0.05 + 0.3 * s, draw)
        record.signal += step(record.time_s, at, draw.normal(0, 0.05 + 0.2 * s))


FAMILIES: dict[str, Family] = {
    "clean": Family(),
    "drifting": Family(_drifting),
    "noisy": Family(_noisy),
    "tremor": Family(_tremor),
    "mains": Family(_mains, flags=(FlagCode.MAINS_PICKUP,)),
    "irregular_rhythm": Family(_irregular, flags=(FlagCode.IRREGULAR_RHYTHM,)),
    "extra_beats": Family(_extra_beats, flags=(FlagCode.IRREGULAR_RHYTHM,)),
    "cold": Family(_cold, flags=(FlagCode.LOW_AMPLITUDE,)),
    "low_pressure": Family(),
    "uneven_deflation": Family(_uneven, flags=(FlagCode.DEFLATION_UNEVEN,)),
    "quick_deflation": Family(_quick, flags=(FlagCode.DEFLATION_TOO_QUICK,)),
    "step_before_start": Family(spoil=_step_before),
    "spike_before_start": Family(spoil=_spike_before),
    "movement_before_start": Family(spoil=_movement_before),
    "slow_venous_refill": Family(_venous),
    "gap_elsewhere": Family(spoil=_gap_elsewhere),
    "clipping_elsewhere": Family(spoil=_clipping_elsewhere, flags=(FlagCode.CLIPPED,)),
    "one_cuff": Family(_by_hand),
    "low_rate": Family(_low_rate),
    "high_rate": Family(_high_rate),
    "coarse_manometer": Family(_coarse),
    "inverted": Family(_inverted),
    "ac_coupled": Family(_ac_coupled),
    "leaking_occlusion": Family(_leaking, usable=False, flags=(FlagCode.OCCLUSION_DOUBTFUL,)),
    # From the first moment on it looks like a leak: both say that the start was not seen.
    "started_too_low": Family(
        _started_too_low, usable=False, flags=(FlagCode.STARTED_TOO_LOW, FlagCode.OCCLUSION_DOUBTFUL)
    ),
    "stopped_too_early": Family(spoil=_stopped_too_early, usable=False, flags=(FlagCode.STOPPED_TOO_EARLY,)),
    "gap_at_start": Family(spoil=_gap_at_start, usable=False, flags=(FlagCode.GAP_AT_MARK,)),
    "clipping_at_start": Family(spoil=_clipping_at_start, usable=False, flags=(FlagCode.CLIPPED,)),
    "artefact_at_start": Family(spoil=_artefact_at_start, usable=False, flags=(FlagCode.ARTEFACT_AT_MARK,)),
    "sensor_off": Family(spoil=_sensor_off, usable=False, flags=(FlagCode.LOW_AMPLITUDE,)),
    "no_return": Family(_no_flow, usable=False, flags=(FlagCode.NO_RETURN,)),
    "no_return_with_movement": Family(_no_flow, _moving, usable=False, flags=(FlagCode.NO_RETURN,)),
    "pulsation_clean": Family(),
    "pulsation_noisy": Family(_noisy_pulsation),
}
