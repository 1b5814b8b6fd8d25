"""Many exams with all their findings: read side by side once, then told one by one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

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
from exams.hemodynamics.findings import Interpretation
from exams.hemodynamics.flags import FLAG_MEASURES
from exams.hemodynamics.interpretation import interpretation_from
from exams.hemodynamics.measured import ANKLE_SITES, TOE_SITES, Context, MeasuredExam, Side, SiteReading
from exams.hemodynamics.one_exam import first_arm_code, height_lowering, in_order

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
    results = evaluate(_columns(exams, criteria, contexts), criteria)
    for row, (exam, context) in enumerate(zip(exams, contexts, strict=True)):
        yield interpretation_from(exam, criteria, context, _row(results, row))


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


def _row(part: Any, row: int) -> Any:
    """One row of a result, as if that exam had been read alone."""
    if isinstance(part, np.ndarray):
        return part[row : row + 1]
    if isinstance(part, Mapping):
        return {name: _row(one, row) for name, one in part.items()}
    if is_dataclass(part) and not isinstance(part, type):
        return type(part)(**{field.name: _row(getattr(part, field.name), row) for field in fields(part)})
    return part
