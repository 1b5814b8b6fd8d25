"""Layers (b) and (c) in numbers: the clinic's own outcomes with their interval, and odds updated openly."""

from __future__ import annotations

import math
from collections.abc import Collection
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.criteria.model import OutlookRules, Ratio
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.healing.answered import OutcomeShare, PostTest, RatioUsed
from exams.hemodynamics.healing.asked import OutcomeCounts
from exams.hemodynamics.words import hundredths

Z_95 = 1.959963984540054  # the 97.5 % point of the normal distribution
OWN = "This clinic's own episodes"


def wilson_interval(healed: int, of: int) -> tuple[float, float]:
    """95 % score interval of a share, as fractions of 1.

    Raises
    ------
    InputError
        ``outcomes.impossible_counts`` where ``of`` is 0 or fewer than ``healed``.

    Notes
    -----
    Wilson 1927, as in Newcombe RG. Stat Med 1998;17:857-872. Both ends are exactly 0 or 1 where they must be.

    Examples
    --------
    >>> low, high = wilson_interval(5, 10)
    >>> round(low, 6), round(high, 6)
    (0.236593, 0.763407)
    """
    if not 0 <= healed <= of or of == 0:
        raise InputError("outcomes.impossible_counts", "healed", healed, (0, of))
    share, square = healed / of, Z_95 * Z_95
    middle = (share + square / (2 * of)) / (1 + square / of)
    half = Z_95 / (1 + square / of) * math.sqrt(share * (1 - share) / of + square / (4 * of * of))
    return (0.0 if healed == 0 else middle - half), (1.0 if healed == of else middle + half)


def own_outcomes(counts: Collection[OutcomeCounts], rules: OutlookRules) -> tuple[OutcomeShare, ...]:
    """Each share with its interval in percent; hidden, counts and all, below the number of the criteria."""
    return tuple(_share(one, rules) for one in sorted(counts, key=lambda one: one.weeks))


def post_test(
    pre_test_percent: int | None, values: dict[str, Decimal | None], rules: OutlookRules
) -> PostTest | NotStated:
    """The chance of healing after the test, by the one likelihood ratio of the criteria that applies.

    Parameters
    ----------
    values : dict
        By the tests of a ratio ("toe_mmhg", "oxygen_mmhg", "ankle_mmhg", "abi_hundredths"), None for none.

    Notes
    -----
    Only the first ratio that holds is used: several tests of the same flow are not independent, and their
    ratios must not be multiplied (ours).
    """
    if not rules.ratios:
        return NotStated("the criteria supply no likelihood ratio: none is published that could be confirmed")
    if pre_test_percent is None:
        return NotStated("no chance before the test was chosen")
    used = next((ratio for ratio in rules.ratios if _holds(ratio, values.get(ratio.test))), None)
    if used is None:
        return NotStated("no likelihood ratio of the criteria applies to what was measured")
    before = Fraction(pre_test_percent, 100)
    odds = before / (1 - before) * Fraction(used.hundredths, 100)
    after = odds / (1 + odds) * 100
    percent = round_half_up(Decimal(after.numerator) / Decimal(after.denominator), 1)
    condition = f"{used.test.rpartition('_')[0]} {used.when.words}"
    ratio = hundredths(used.hundredths)
    return PostTest(
        Decimal(pre_test_percent),
        (RatioUsed(condition, ratio, used.when.source, used.when.status),),
        percent,
        f"{pre_test_percent} % before, odds times {ratio} ({condition}), {percent} % after",
    )


def _holds(ratio: Ratio, value: Decimal | None) -> bool:
    return value is not None and bool(ratio.when.met_by(float(value)))


def _share(counts: OutcomeCounts, rules: OutlookRules) -> OutcomeShare:
    fewest = rules.limits["outcomes_fewest"].limit
    if counts.of < fewest:
        why = NotStated(f"fewer than {fewest} episodes like this one: not shown")
        return OutcomeShare(counts.weeks, counts.alike, None, None, why, None, None, OWN)
    low, high = wilson_interval(counts.healed, counts.of)
    percent = round_half_up(Decimal(100 * counts.healed) / counts.of, 1)
    low_shown, high_shown = (round_half_up(Decimal(end * 100), 1) for end in (low, high))
    return OutcomeShare(
        counts.weeks, counts.alike, counts.healed, counts.of, percent, low_shown, high_shown, OWN
    )
