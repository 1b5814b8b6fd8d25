"""One exam as columns of length 1, so that it is read by the same functions as a whole table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal

import numpy as np

from exams.hemodynamics.columns import (
    ANSWER_CODES,
    CODE_OF,
    FIRST_LEFT,
    FIRST_RIGHT,
    FIRST_UNKNOWN,
    NOT_TRIED,
    Attempts,
    ExamColumns,
    LimbColumns,
)
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.measured import (
    Conditions,
    Context,
    MeasuredExam,
    MeasuredLimb,
    Position,
    Side,
    Site,
    SiteReading,
)


def exam_columns(exam: MeasuredExam, criteria: Criteria, context: Context) -> ExamColumns:
    """An exam as columns of length 1."""
    lowering = height_lowering(exam.conditions, criteria)
    return ExamColumns(
        right=_limb(exam.right, context, lowering),
        left=_limb(exam.left, context, lowering),
        first_arm=np.array([first_arm_code(exam)], np.int8),
        diabetes=np.array([ANSWER_CODES[context.diabetes]], np.int8),
        kidney_disease=np.array([ANSWER_CODES[context.kidney_disease]], np.int8),
    )


def height_mmhg(conditions: Conditions, criteria: Criteria) -> Decimal | None:
    """What to add to a foot pressure for the height of the foot, in mmHg, negative below the heart.

    None where nothing is corrected: an ordinary supine reading never is, and without a height nothing can be.
    Source: clinical reference 6 (0.776 mmHg a cm, RAAMAT09).
    """
    height = conditions.heart_to_site_cm
    if conditions.position in (None, Position.SUPINE) or height is None or height == 0:
        return None
    return Decimal(height) * criteria.thresholds["height_thousandths_mmhg_per_cm"].limit / 1000


def height_lowering(conditions: Conditions, criteria: Criteria) -> int:
    """By how much the height lowers a foot pressure, in ten-thousandths of a mmHg; 0 if it raises it."""
    added = height_mmhg(conditions, criteria)
    return 0 if added is None or added > 0 else math.ceil(-added * 10_000)


def in_order(arm: tuple[SiteReading, ...]) -> tuple[SiteReading, ...]:
    """The repeat of the first arm comes after the readings it repeats, whatever order they were given in."""
    return tuple(sorted(arm, key=lambda reading: reading.repeat_of_first_arm))


def first_arm_code(exam: MeasuredExam) -> int:
    """The arm measured first: as recorded, else the one whose repeat is marked as such."""
    if exam.first_arm is not None:
        return FIRST_RIGHT if exam.first_arm is Side.RIGHT else FIRST_LEFT
    marked = [
        any(reading.repeat_of_first_arm for reading in exam.limb(side).arm)
        for side in (Side.RIGHT, Side.LEFT)
    ]
    if marked == [True, False]:
        return FIRST_RIGHT
    return FIRST_LEFT if marked == [False, True] else FIRST_UNKNOWN


def _limb(limb: MeasuredLimb, context: Context, lowering: int) -> LimbColumns:
    facts = context.limb(limb.side)
    return LimbColumns(
        arm=_attempts(in_order(limb.arm)),
        ankle=_sites(limb.ankle),
        toes=_sites(limb.toes),
        open_wound=np.array([facts.tissue_lost]),
        rest_pain=np.array([facts.rest_pain]),
        foot_infection=np.array([facts.foot_infection]),
        had_signal_before=np.array([facts.had_signal_before]),
        lowering=np.array([lowering], np.int64),
    )


def _sites(readings: Mapping[Site, tuple[SiteReading, ...]]) -> dict[Site, Attempts]:
    return {site: _attempts(attempts) for site, attempts in readings.items()}


def _attempts(readings: tuple[SiteReading, ...]) -> Attempts:
    codes = [CODE_OF[reading.outcome] for reading in readings] or [NOT_TRIED]
    halves = [reading.half_mmhg or 0 for reading in readings] or [0]
    return Attempts(np.array([codes], np.int8), np.array([halves], np.int64))
