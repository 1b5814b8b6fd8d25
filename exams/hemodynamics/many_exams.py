"""Many exams with all their findings: evaluated side by side, intervals and all, then told one by one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.columns import (
    ANSWER_CODES,
    CODE_OF,
    NOT_TRIED,
    Attempts,
    ExamColumns,
    LimbColumns,
)
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.evaluation import evaluate
from exams.hemodynamics.exact import Booleans, Integers
from exams.hemodynamics.findings import Interpretation, Interval
from exams.hemodynamics.flags import FLAG_MEASURES
from exams.hemodynamics.indices import ALL_INDICES, ANKLE_BRACHIAL
from exams.hemodynamics.interpretation import interpretation_of
from exams.hemodynamics.limb import Limb, Pressure, Ratio, ReadExam, both_limbs
from exams.hemodynamics.many_intervals import pressure_intervals, ratio_intervals
from exams.hemodynamics.measured import ANKLE_SITES, TOE_SITES, Context, MeasuredExam, Side, SiteReading
from exams.hemodynamics.noise import Combined
from exams.hemodynamics.one_exam import first_arm_code, height_lowering, in_order
from exams.hemodynamics.rows import rows_of

_URGENT = tuple(flag for flag, measure in FLAG_MEASURES.items() if measure == "urgency")


@dataclass(frozen=True, slots=True)
class ManyIndices:
    """What the pressures of n exams give, each array of shape (n,).

    ``hundredths`` by measure and side, -1 where there is no index; ``urgent``: somebody must be told.
    """

    hundredths: Mapping[tuple[str, Side], Integers]
    urgent: Booleans


def interpret_many(
    exams: Sequence[MeasuredExam], criteria: Criteria, contexts: Sequence[Context]
) -> Iterator[Interpretation]:
    """The interpretation of each exam, equal to what ``interpret`` gives for it alone.

    Parameters
    ----------
    exams, contexts : sequences of one length
        A few hundred at a time: their arrays are held together.

    Raises
    ------
    ValueError
        If the two differ in length.
    """
    if not exams:
        return
    ratios: dict[Ratio, Interval] = {}
    pressures: dict[Pressure, Interval] = {}
    results = rows_of(evaluate(_columns(exams, criteria, contexts), criteria))
    limbs = [
        both_limbs(ReadExam(exam, criteria, context, row, ratios, pressures))
        for exam, context, row in zip(exams, contexts, results, strict=True)
    ]
    ratios.update(_ratios_of(limbs, criteria))
    pressures.update(_pressures_of(limbs, criteria))
    for right, left in limbs:
        yield interpretation_of(right, left)


def _ratios_of(limbs: Sequence[tuple[Limb, Limb]], criteria: Criteria) -> dict[Ratio, Interval]:
    """The intervals of every index of these limbs."""
    found: dict[Ratio, Interval] = {}
    for index in ALL_INDICES:
        bands = criteria.index_bands[index.measure]
        pairs = [
            (site, arm)
            for both in limbs
            for limb in both
            if (site := limb.numerator(index)) is not None and (arm := limb.read.arm_combined) is not None
        ]
        found.update(((*pair, bands), told) for pair, told in ratio_intervals(pairs, bands).items())
    return found


def _pressures_of(limbs: Sequence[tuple[Limb, Limb]], criteria: Criteria) -> dict[Pressure, Interval]:
    """The intervals of those pressures that are the higher of several: of every ankle, and of the arms."""
    ankles = [
        Combined("higher", site.readings)
        for both in limbs
        for limb in both
        if (site := limb.numerator(ANKLE_BRACHIAL)) is not None
    ]
    arms = [arm for right, _ in limbs if (arm := right.read.arm_combined) is not None]
    found: dict[Pressure, Interval] = {}
    for combined, bands in ((ankles, criteria.pressure_bands["ankle_pressure"]), (arms, ())):
        found.update(((one, bands), told) for one, told in pressure_intervals(combined, bands).items())
    return found


def indices_of_many(
    exams: Sequence[MeasuredExam], criteria: Criteria, contexts: Sequence[Context]
) -> ManyIndices:
    """The indices of n exams without their findings: for checks of a whole table."""
    results = evaluate(_columns(exams, criteria, contexts), criteria)
    urgent = np.zeros(len(exams), bool)
    hundredths = {}
    for side in Side:
        limb = results.limb(side)
        for flag in _URGENT:
            urgent |= limb.flags[flag]
        for measure, column in limb.indices.items():
            hundredths[measure, side] = column.hundredths
    return ManyIndices(hundredths, urgent)


def _columns(exams: Sequence[MeasuredExam], criteria: Criteria, contexts: Sequence[Context]) -> ExamColumns:
    lowering = np.array([height_lowering(exam.conditions, criteria) for exam in exams], np.int64)
    if len(exams) != len(contexts):
        raise ValueError(f"{len(exams)} exams and {len(contexts)} contexts: give one for each.")
    return ExamColumns(
        right=_limbs(exams, contexts, Side.RIGHT, lowering),
        left=_limbs(exams, contexts, Side.LEFT, lowering),
        first_arm=np.array([first_arm_code(exam) for exam in exams], np.int8),
        diabetes=np.array([ANSWER_CODES[context.diabetes] for context in contexts], np.int8),
        kidney_disease=np.array([ANSWER_CODES[context.kidney_disease] for context in contexts], np.int8),
    )


def _limbs(
    exams: Sequence[MeasuredExam], contexts: Sequence[Context], side: Side, lowering: Integers
) -> LimbColumns:
    limbs = [exam.limb(side) for exam in exams]
    facts = [context.limb(side) for context in contexts]
    return LimbColumns(
        arm=_attempts([in_order(limb.arm) for limb in limbs]),
        ankle={
            site: _attempts([limb.ankle.get(site, ()) for limb in limbs])
            for site in ANKLE_SITES
            if any(site in limb.ankle for limb in limbs)
        },
        toes={
            site: _attempts([limb.toes.get(site, ()) for limb in limbs])
            for site in TOE_SITES
            if any(site in limb.toes for limb in limbs)
        },
        open_wound=np.array([fact.tissue_lost for fact in facts], bool),
        rest_pain=np.array([fact.rest_pain for fact in facts], bool),
        foot_infection=np.array([fact.foot_infection for fact in facts], bool),
        had_signal_before=np.array([fact.had_signal_before for fact in facts], bool),
        lowering=lowering,
    )


def _attempts(of_exams: Sequence[Sequence[SiteReading]]) -> Attempts:
    """Exams with fewer attempts than others are filled up with sites not tried, which change nothing."""
    most = max(1, *map(len, of_exams))
    code = np.full((len(of_exams), most), NOT_TRIED, np.int8)
    half = np.zeros((len(of_exams), most), np.int64)
    for row, readings in enumerate(of_exams):
        for place, reading in enumerate(readings):
            code[row, place] = CODE_OF[reading.outcome]
            half[row, place] = reading.half_mmhg or 0
    return Attempts(code, half)
