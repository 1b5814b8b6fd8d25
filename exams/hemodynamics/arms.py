"""The arms: effective pressure of each, the one pressure both legs are divided by, and their difference."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.columns import (
    FIRST_LEFT,
    FIRST_RIGHT,
    FIRST_UNKNOWN,
    PRESSURE,
    VOID,
    Attempts,
    Codes,
    ExamColumns,
    SiteColumn,
    site_column,
)
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.exact import EIGHTHS, EIGHTHS_IN_A_HALF, Booleans, Integers
from exams.hemodynamics.measured import Side


@dataclass(frozen=True, slots=True)
class ArmColumns:
    """The arms of n exams; every array has shape (n,), pressures in eighths of a mmHg.

    ``denominator``: 0 where there is none. ``difference``: -1 where it was not assessed. ``dropped_right``
    and ``dropped_left``: the first reading of that arm does not count. ``averaged``: the denominator is a
    mean of both arms. ``void``: an arm cell could not be read, so nothing is said of the arms.
    """

    right: SiteColumn
    left: SiteColumn
    dropped_right: Booleans
    dropped_left: Booleans
    denominator: Integers
    averaged: Booleans
    single: Booleans
    none: Booleans
    void: Booleans
    difference: Integers
    difference_level: Codes

    def arm(self, side: Side) -> SiteColumn:
        return self.right if side is Side.RIGHT else self.left


def arm_columns(exams: ExamColumns, criteria: Criteria) -> ArmColumns:
    """Effective arm pressures and the denominator, by the rules of the criteria.

    Source: clinical reference 1.1a, 1.1f, 1.2, 1.3 (ACC16, AHA12, getABI); the limits are the criteria's.
    """
    apart = criteria.thresholds["repeats_apart_mmhg"].limit * EIGHTHS
    dropped_right, dropped_left = _dropped(exams, criteria, apart)
    right = _without_first(exams.right.arm, dropped_right, apart)
    left = _without_first(exams.left.arm, dropped_left, apart)
    has_right, has_left = right.code == PRESSURE, left.code == PRESSURE
    both = has_right & has_left
    void = (right.code == VOID) | (left.code == VOID)
    higher = np.maximum(np.where(has_right, right.eighths, 0), np.where(has_left, left.eighths, 0))
    gap = np.abs(right.eighths - left.eighths)
    if criteria.arm.rule == "mean":
        averaged = both
    elif criteria.arm.rule == "mean_if_close_else_higher":
        averaged = both & criteria.thresholds["arm_close_mmhg"].met_by_eighths(gap)
    else:
        averaged = np.zeros(exams.rows, bool)
    # Exact: an effective pressure is a whole number of quarters, so half the sum is whole eighths.
    denominator = np.where(averaged, (right.eighths + left.eighths) // 2, higher)
    if criteria.arm.rule == "one_arm":
        denominator = np.where(has_right, right.eighths, higher)
    difference = np.where(both & ~void, gap, -1)
    level = np.zeros(exams.rows, np.int8)
    for number, name in enumerate(("10", "15", "20"), start=1):
        met = criteria.thresholds[f"arm_difference_{name}_mmhg"].met_by_eighths(difference)
        level = np.where(met, number, level).astype(np.int8)
    return ArmColumns(
        right=right,
        left=left,
        dropped_right=dropped_right,
        dropped_left=dropped_left,
        denominator=np.where(void, 0, denominator),
        averaged=averaged & ~void,
        # A survey that measures one arm by design has not lost the other.
        single=(has_right ^ has_left) & ~void & (criteria.arm.rule != "one_arm"),
        none=~has_right & ~has_left & ~void,
        void=void,
        difference=difference,
        difference_level=level,
    )


def _dropped(exams: ExamColumns, criteria: Criteria, apart: int) -> tuple[Booleans, Booleans]:
    """Whether the first reading of the RIGHT and of the LEFT arm is dropped."""
    right, left = exams.right.arm, exams.left.arm
    first_right, first_left = first_measured(exams.first_arm, right, left)
    rule = criteria.arm_repeat.rule
    if rule == "mean":
        nothing = np.zeros(exams.rows, bool)
        return nothing, nothing
    if rule == "mean_unless_over_10":
        limit = criteria.thresholds["arm_repeat_apart_mmhg"]
        return tuple(  # type: ignore[return-value]
            first & repeated & limit.met_by_eighths(np.abs(one - two) * EIGHTHS_IN_A_HALF)
            for first, (repeated, one, two) in ((first_right, _pair(right)), (first_left, _pair(left)))
        )
    limit = criteria.thresholds["arm_repeat_apart_mmhg"]
    plain_right, plain_left = site_column(right, apart), site_column(left, apart)
    answers = []
    for first, attempts, other in ((first_right, right, plain_left), (first_left, left, plain_right)):
        repeated, one, _ = _pair(attempts)
        over = limit.met_by_eighths(one * EIGHTHS_IN_A_HALF - other.eighths) & (other.code == PRESSURE)
        answers.append(first & repeated & over)
    return answers[0], answers[1]


def first_measured(first_arm: Codes, right: Attempts, left: Attempts) -> tuple[Booleans, Booleans]:
    """Which arm the rule for the first-measured arm holds for.

    Where nobody said which came first, an arm that was repeated is taken as the first: the sequence repeats
    only the first arm (clinical reference 1.1f, 1.1g; reading of it, ours).
    """
    unknown = first_arm == FIRST_UNKNOWN
    return (first_arm == FIRST_RIGHT) | unknown, (first_arm == FIRST_LEFT) | unknown


def _pair(attempts: Attempts) -> tuple[Booleans, Integers, Integers]:
    """Whether an arm has two pressures, and the first two of them in half mmHg."""
    seen = np.zeros(attempts.rows, np.int64)
    one = np.zeros(attempts.rows, np.int64)
    two = np.zeros(attempts.rows, np.int64)
    for column in range(attempts.code.shape[1]):
        here = attempts.code[:, column] == PRESSURE
        one = np.where(here & (seen == 0), attempts.half_mmhg[:, column], one)
        two = np.where(here & (seen == 1), attempts.half_mmhg[:, column], two)
        seen = seen + here
    return seen >= 2, one, two


def _without_first(attempts: Attempts, dropped: Booleans, apart: int) -> SiteColumn:
    """The middle of an arm's readings, leaving out its first pressure where that is dropped."""
    if attempts.code.shape[1] == 1:
        return site_column(attempts, apart)
    pressures = attempts.code == PRESSURE
    first = pressures & (np.cumsum(pressures, axis=1) == 1)
    return site_column(attempts, apart, kept=~(first & dropped[:, None]))
