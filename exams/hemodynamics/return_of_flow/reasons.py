"""What speaks for and against the suggested mark, by the trade's questions, in words."""

from __future__ import annotations

from collections.abc import Collection

from exams.hemodynamics.return_of_flow.figures import ENOUGH_BEATS, ENOUGH_RISE, Signs
from exams.hemodynamics.return_of_flow.reading import QUESTION_OF_FLAG, FlagCode, Reason, TraceKind
from exams.hemodynamics.return_of_flow.signs import Seen

# Less than what raises a flag, and yet worth a word (ours).
_FAINT_PULSES = 0.05
_FAINT_LIKENESS = 0.35
_SLOW_RISE = 0.25
_MARGIN_MMHG = 20.0


def reasons_of(seen: Seen, s: Signs, kind: TraceKind, flags: Collection[FlagCode]) -> tuple[Reason, ...]:
    """For each of the questions 1 to 6 of a trace review what was seen (common practice, no source).

    A question that a flag has answered is left to it: nothing here may contradict a flag or say it twice.
    """
    answered = {QUESTION_OF_FLAG[flag] for flag in flags}
    answers = [_pulse_before(seen), _occlusion(s), _start(seen, s), _deflation(s)]
    if s.found:
        answers += [_mark(s, kind), _after(s)]
    answers.append(_artefact(seen))
    return tuple(answer for answer in answers if answer.question not in answered)


def _pulse_before(seen: Seen) -> Reason:
    if not seen.rhythm.seen:
        return Reason("no_rhythm", False, 1, "No clear rhythm is seen anywhere in the recording.")
    return Reason("regular_rhythm", True, 1, f"A regular rhythm of {60 / seen.rhythm.beat_s:.0f} a minute.")


def _occlusion(s: Signs) -> Reason:
    if s.occluded_share > _FAINT_PULSES and s.occluded_likeness > _FAINT_LIKENESS:
        words = f"Pulses of {s.occluded_share:.0%} of the later ones while occluded."
        return Reason("pulses_while_occluded", False, 2, words)
    if s.drift_share > _SLOW_RISE:
        words = f"The signal rises while occluded, {s.drift_share:.0%} of the whole rise."
        return Reason("rising_while_occluded", False, 2, words)
    return Reason("quiet_while_occluded", True, 2, "No pulses and no rise while occluded.")


def _start(seen: Seen, s: Signs) -> Reason:
    begins = seen.deflation.start_mmhg
    if not s.found:
        return Reason("started_at", True, 3, f"The deflation began at {begins:.0f} mmHg.")
    above = begins - s.pressure
    if above < _MARGIN_MMHG:
        words = f"The deflation began only {max(above, 0):.0f} mmHg above the mark."
        return Reason("little_margin", False, 3, words)
    return Reason("margin", True, 3, f"The deflation began {above:.0f} mmHg above the mark.")


def _deflation(s: Signs) -> Reason:
    words = f"Even: {s.rate:.1f} mmHg a second near the mark; one beat = {s.beat_mmhg:.1f} mmHg."
    return Reason("even", True, 4, words)


def _mark(s: Signs, kind: TraceKind) -> Reason:
    if s.rise_over_noise < ENOUGH_RISE:
        words = f"A weak rise: {s.rise_over_noise:.0f} times the noise. Look where it begins."
        return Reason("weak_rise", False, 5, words)
    what = "the blood that collects" if kind is TraceKind.REFILL else "the pulses that come back"
    words = f"A clear, lasting rise, {s.rise_over_noise:.0f} times the noise; {what} fits a soft start here."
    return Reason("clear_rise", True, 5, words)


def _after(s: Signs) -> Reason:
    beats = f"{max(s.beats_after, 0):.0f} beats are recorded after the mark."
    if s.beats_after < ENOUGH_BEATS:
        return Reason("short_after", False, 5, f"Only {beats}")
    return Reason("long_after", True, 5, beats)


def _artefact(seen: Seen) -> Reason:
    if seen.conditioned.missing.any():
        return Reason("gap_elsewhere", True, 6, "A stretch is missing, away from the mark.")
    return Reason("no_artefact", True, 6, "No jump, gap or cut-off stretch at the mark.")
