"""Ankle pressure and index after exercise, by both published criteria, and the time to recover."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import index_hundredths, round_half_up
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.further_tests.limits import (
    NO_NUMBER,
    further_finding,
    meets,
    mmhg_of,
    shown_mmhg,
)
from exams.hemodynamics.measured import Outcome, Side, Site, SiteReading
from exams.hemodynamics.words import duration_words, hundredths, listed

HEALTHY_TOO = "more than half of healthy young adults fall by over 20 % as well (KYTE23)"


class Protocol(StrEnum):
    TREADMILL = "treadmill"
    PLANTAR_FLEXION = "plantar_flexion"
    WALK = "walk"


@dataclass(frozen=True, slots=True)
class Exercise:
    """What the patient did; None is not recorded. ``symptom_at_s`` is the time of the first symptom."""

    protocol: Protocol
    duration_s: int | None = None
    speed_kmh: Decimal | None = None
    grade_percent: Decimal | None = None
    completed: bool | None = None
    symptom: str = ""
    symptom_at_s: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "protocol", Protocol(self.protocol))
        for name in ("duration_s", "speed_kmh", "grade_percent", "symptom_at_s"):
            value = getattr(self, name)
            if value is not None and value < 0:
                raise InputError("exercise.negative", name, value)
        began, lasted = self.symptom_at_s, self.duration_s
        if began is not None and lasted is not None and began > lasted:
            raise InputError("exercise.symptom_after_end", "symptom_at_s", began, lasted)


@dataclass(frozen=True, slots=True)
class Pressures:
    """An ankle artery and an arm at one moment; ``seconds`` since the exercise stopped, 0 for rest."""

    ankle: SiteReading
    arm: SiteReading
    artery: Site = Site.POSTERIOR_TIBIAL
    arm_side: Side = Side.RIGHT
    seconds: int = 0


@dataclass(frozen=True, slots=True)
class ExercisedLimb:
    """One limb at rest and after exercise, in the order measured.

    Raises
    ------
    InputError
        ``exercise.times_out_of_order`` or ``exercise.negative``, the field naming the reading: "after.2".
    """

    side: Side
    rest: Pressures
    after: tuple[Pressures, ...]
    stiff_ankle: bool = False

    def __post_init__(self) -> None:
        last = None
        for number, one in enumerate(self.after, start=1):
            if one.seconds < 0:
                raise InputError("exercise.negative", f"after.{number}", one.seconds)
            if last is not None and one.seconds <= last:
                raise InputError("exercise.times_out_of_order", f"after.{number}", one.seconds, last)
            last = one.seconds


def reasons_not_to_exercise(
    *, plantar_ulcer: bool = False, active_charcot: bool = False, rest_pain: bool = False
) -> tuple[str, ...]:
    """What on record speaks against the test. Source: clinical reference 5.1, from memory."""
    known = {
        "an ulcer under the foot": plantar_ulcer,
        "an active Charcot foot": active_charcot,
        "pain at rest": rest_pain,
    }
    return tuple(words for words, so in known.items() if so)


def exercise_findings(
    limb: ExercisedLimb, criteria: Criteria, *, note_below_090: bool = False
) -> tuple[Finding, ...]:
    """Index after exercise, its fall in %, the fall of the ankle in mmHg, the verdict and the recovery time.

    Parameters
    ----------
    note_below_090 : bool
        Whether the clinic wants an index below 0.90 after exercise noted; it never makes the test positive.

    Notes
    -----
    Source: AHA12 (more than 20 %, more than 30 mmHg) as quoted in KYTE23; ARMSTRONG17 (below 0.90);
    clinical reference 5.1. Exact ratios, each with its own arm, same artery and arm as at rest.
    """
    why = _void(limb)
    if why:
        return tuple(
            further_finding(criteria, name, limb.side, NotStated(why), unit, criteria.further[limit])
            for name, unit, limit in (
                ("post_exercise_index", "index", "exercise_index_hundredths"),
                ("exercise_drop", "%", "exercise_drop_percent"),
                ("exercise_ankle_fall", "mmHg", "exercise_ankle_fall_mmhg"),
                ("exercise_test", "", "exercise_drop_percent"),
                ("recovery_time", "s", "exercise_recovery_s"),
            )
        )
    rest, first = limb.rest, limb.after[0]
    index, drop, fall = _ratio(first), _drop(rest, first), _ankle(rest) - _ankle(first)
    by_drop = meets(criteria, "exercise_drop_percent", drop)
    by_fall = meets(criteria, "exercise_ankle_fall_mmhg", fall)
    reading = _hundredths(first)
    low = note_below_090 and meets(criteria, "exercise_index_hundredths", reading)
    late = ("LATE_FIRST_READING",) if meets(criteria, "exercise_first_reading_s", first.seconds) else ()
    shown_drop = round_half_up(Decimal(drop.numerator) / Decimal(drop.denominator), 1)
    met = [words for words, so in ((f"index down {shown_drop} %", by_drop),
                                   (f"ankle down {shown_mmhg(fall)} mmHg", by_fall)) if so]  # fmt: skip
    verdict = f"positive: {listed(met)}" if met else "negative by both criteria"
    doubt = f"; {HEALTHY_TOO}" if by_drop and not by_fall else ""
    side = limb.side
    return (
        further_finding(
            criteria, "post_exercise_index", side, hundredths(reading), "index",
            criteria.further["exercise_index_hundredths"],
            flags=(*(("POST_EXERCISE_BELOW_090",) if low else ()), *late),
            said=f"{side.word} index {hundredths(_hundredths(rest))} at rest, {hundredths(reading)} after "
            "exercise" + (", below 0.90" if low else ""),
        ),
        further_finding(
            criteria, "exercise_drop", side, shown_drop, "%", criteria.further["exercise_drop_percent"],
            band=_sign(by_drop), band_words=_sign(by_drop).lower(), shown=_risen(shown_drop, "%"),
        ),
        further_finding(
            criteria, "exercise_ankle_fall", side, shown_mmhg(fall), "mmHg",
            criteria.further["exercise_ankle_fall_mmhg"],
            band=_sign(by_fall), band_words=_sign(by_fall).lower(), shown=_risen(shown_mmhg(fall), "mmHg"),
        ),
        further_finding(
            criteria, "exercise_test", side, NO_NUMBER, "", criteria.further["exercise_drop_percent"],
            shown=verdict,
            band=_sign(bool(met)), band_words=_sign(bool(met)).lower(),
            rule=f"positive where the index falls by {criteria.further['exercise_drop_percent'].words} % or "
            f"the ankle by {criteria.further['exercise_ankle_fall_mmhg'].words} mmHg",
            said=f"{side.word} exercise test {verdict}{doubt}",
        ),
        _recovery(limb, criteria, index, bool(met)),
    )  # fmt: skip


def _recovery(limb: ExercisedLimb, criteria: Criteria, first: Fraction, fell: bool) -> Finding:
    """The first time at which the index is back at rest; it counts from the end of the exercise.

    Without a fall that counts by either criterion nothing has to recover: a hundredth that comes back late is
    no slow recovery (ours).
    """
    limit, at_rest = criteria.further["exercise_recovery_s"], _ratio(limb.rest)
    if not fell:
        why = NotStated("no fall that counts")
        return further_finding(criteria, "recovery_time", limb.side, why, "s", limit)
    back = next((one for one in limb.after if _has_numbers(one) and _ratio(one) >= at_rest), None)
    last = limb.after[-1].seconds
    if back is None:
        slow, lasted = meets(criteria, "exercise_recovery_s", last), duration_words(last)
        return further_finding(
            criteria, "recovery_time", limb.side, NotStated(f"not back at rest after {lasted}"), "s", limit,
            band="SLOW" if slow else "", band_words="slow" if slow else "",
            said=f"{limb.side.word} index not back at its resting value {lasted} after exercise",
        )  # fmt: skip
    slow = meets(criteria, "exercise_recovery_s", back.seconds)
    said = f"{limb.side.word} index back at its resting value after {duration_words(back.seconds)}"
    return further_finding(
        criteria, "recovery_time", limb.side, Decimal(back.seconds), "s", limit,
        band="SLOW" if slow else "PROMPT", band_words="slow" if slow else "prompt",
        shown=duration_words(back.seconds), said=said if first < at_rest else "",
    )  # fmt: skip


def _risen(fall: Decimal, unit: str) -> str:
    """Words for a fall that was a rise; "" for a fall, which shows itself."""
    return f"none: {abs(fall)} {unit} higher" if fall < 0 else ""


def _void(limb: ExercisedLimb) -> str:
    """Why there is no comparison with rest; "" if there is one."""
    if not limb.after:
        return "nothing was measured after exercise"
    rest, first = limb.rest, limb.after[0]
    if limb.stiff_ankle or Outcome.NOT_OCCLUDABLE in (rest.ankle.outcome, first.ankle.outcome):
        return "the ankle is too stiff to measure: the fall after exercise says nothing"
    if first.ankle.outcome is Outcome.NO_SIGNAL and mmhg_of(rest.ankle) is not None:
        return "no signal at the ankle after exercise: repeat, and tell the reporter"
    for name, one in (("at rest", rest), ("after exercise", first)):
        if not _has_numbers(one):
            return f"ankle or arm pressure missing {name}"
    if any((one.artery, one.arm_side) != (rest.artery, rest.arm_side) for one in limb.after):
        return "another artery or arm than at rest"
    return ""


def _has_numbers(one: Pressures) -> bool:
    arm = mmhg_of(one.arm)
    return mmhg_of(one.ankle) is not None and arm is not None and arm > 0


def _ankle(one: Pressures) -> Fraction:
    return mmhg_of(one.ankle) or Fraction(0)


def _ratio(one: Pressures) -> Fraction:
    return _ankle(one) / (mmhg_of(one.arm) or Fraction(1))


def _hundredths(one: Pressures) -> int:
    return index_hundredths(one.ankle.half_mmhg or 0, one.arm.half_mmhg or 0)


def _drop(rest: Pressures, after: Pressures) -> Fraction:
    return (_ratio(rest) - _ratio(after)) / _ratio(rest) * 100


def _sign(positive: bool) -> str:
    return "POSITIVE" if positive else "NEGATIVE"
