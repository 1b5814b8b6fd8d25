"""What speaks for and against the suggested mark, by the trade's questions, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exams.hemodynamics.return_of_flow.reading import Reason, TraceKind
from exams.hemodynamics.return_of_flow.signs import Seen

if TYPE_CHECKING:
    from exams.hemodynamics.return_of_flow.trust import Signs

# Below this share of the later pulses nothing pulsates while occluded.
_QUIET_SHARE = 0.05
_MARGIN_MMHG = 20.0


def reasons_of(seen: Seen, s: Signs, kind: TraceKind) -> tuple[Reason, ...]:
    """For each of the questions 1 to 6 of a trace review what was seen (common practice, no source)."""
    answers = [_pulse_before(seen, s), _occlusion(s), _start(seen, s), _deflation(s)]
    if s.found:
        answers += [_mark(seen, s, kind), _after(s)]
    answers.append(_artefact(seen, s))
    return tuple(answers)


def _pulse_before(seen: Seen, s: Signs) -> Reason:
    if not seen.rhythm.seen:
        return Reason("no_rhythm", False, 1, "No clear rhythm is seen anywhere in the recording.")
    rate = f"{60 / seen.rhythm.beat_s:.0f} beats a minute"
    if s.irregular > 0.13:
        return Reason("irregular_rhythm", False, 1, f"An irregular rhythm of about {rate}.")
    return Reason("regular_rhythm", True, 1, f"A regular rhythm of {rate}.")


def _occlusion(s: Signs) -> Reason:
    if s.occluded_share > _QUIET_SHARE and s.occluded_likeness > 0.35:
        return Reason(
            "pulses_while_occluded",
            False,
            2,
            f"Pulses of {s.occluded_share:.0%} of the later ones while occluded.",
        )
    if s.drift_share > 0.25:
        return Reason(
            "rising_while_occluded",
            False,
            2,
            f"The signal rises while occluded, {s.drift_share:.0%} of the whole rise.",
        )
    return Reason("quiet_while_occluded", True, 2, "No pulses and no rise while occluded.")


def _start(seen: Seen, s: Signs) -> Reason:
    above = seen.deflation.start_mmhg - s.pressure
    if not s.found:
        return Reason("started_at", True, 3, f"The deflation began at {seen.deflation.start_mmhg:.0f} mmHg.")
    if above < _MARGIN_MMHG:
        return Reason(
            "little_margin", False, 3, f"The deflation began only {max(above, 0):.0f} mmHg above the mark."
        )
    return Reason("margin", True, 3, f"The deflation began {above:.0f} mmHg above the mark.")


def _deflation(s: Signs) -> Reason:
    words = f"{s.rate:.1f} mmHg a second near the mark; one beat = {s.beat_mmhg:.1f} mmHg."
    if s.uneven > 0.35:
        return Reason("uneven", False, 4, f"Uneven: {words}")
    if s.beat_mmhg > 6:
        return Reason("quick", False, 4, f"Quick: {words}")
    return Reason("even", True, 4, f"Even: {words}")


def _mark(seen: Seen, s: Signs, kind: TraceKind) -> Reason:
    what = "the blood that collects" if kind is TraceKind.REFILL else "the pulses that come back"
    if s.rise_over_noise < 12:
        return Reason(
            "weak_rise",
            False,
            5,
            f"A weak rise: {s.rise_over_noise:.0f} times the noise. Look where it begins.",
        )
    return Reason(
        "clear_rise",
        True,
        5,
        f"A clear, lasting rise, {s.rise_over_noise:.0f} times the noise; {what} fits a soft start here.",
    )


def _after(s: Signs) -> Reason:
    if s.beats_after < 6:
        return Reason(
            "short_after", False, 5, f"Only {max(s.beats_after, 0):.0f} beats are recorded after the mark."
        )
    return Reason("long_after", True, 5, f"{s.beats_after:.0f} beats are recorded after the mark.")


def _artefact(seen: Seen, s: Signs) -> Reason:
    if s.hidden_by_gap:
        return Reason("gap_at_mark", False, 6, "The signal is missing at the mark.")
    if s.hidden_by_rail:
        return Reason("clipped_at_mark", False, 6, "The signal is cut off at the mark.")
    if s.stir_at_mark_s is not None:
        return Reason("stir_at_mark", False, 6, "The sensor moved shortly before the mark.")
    if seen.conditioned.missing.any() or seen.conditioned.clipped.any():
        return Reason("artefact_elsewhere", True, 6, "A gap or a cut-off stretch, away from the mark.")
    return Reason("no_artefact", True, 6, "No jump, gap or cut-off stretch at the mark.")
