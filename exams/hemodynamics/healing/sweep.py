"""A limb with every whole pressure of a range in the place of one reading, judged by the core.

All of them go through ``evaluate`` at once; runs of pressures that it cannot tell apart are judged once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

import numpy as np

from exams.hemodynamics.columns import PRESSURE, Attempts, ExamColumns, LimbColumns
from exams.hemodynamics.further_tests.oxygen import Oxygen, oxygen_findings
from exams.hemodynamics.healing.asked import PressureExam
from exams.hemodynamics.healing.flow import Flow, LimbFlow, Taken, limb_flow, rows_of
from exams.hemodynamics.healing.judge import Case, Judged, judge
from exams.hemodynamics.measured import MeasuredExam, Site, pressure
from exams.hemodynamics.one_exam import exam_columns
from exams.hemodynamics.wounds.ischaemia import UNRELIABLE_ABOVE_HUNDREDTHS, index_grade

# Whole mmHg asked for: far beyond any limit of the criteria.
HIGHEST = {"toe": 150, "ankle": 200, "oxygen": 100}


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring pressures, both ends included, with one answer."""

    low: int
    high: int
    judged: Judged


def runs_of_toe(flow: Flow, case: Case) -> list[Run]:
    exam, site = _exam_to_vary(flow.toe, flow, case), Site.TOE_1
    if flow.toe is not None and flow.toe.row.toe_site is not None:
        site = flow.toe.row.toe_site
    toes = {**exam.measured.limb(case.question.side).toes, site: (pressure(1),)}
    rows = _swept(exam, case, {"toes": toes}, (site,), HIGHEST["toe"])
    likely = case.rules.limits["likely_toe_mmhg"]

    def key(row: LimbFlow) -> object:
        met = bool(likely.met_by(row.toe_lowered / 10_000))
        return met, row.toe_grade, row.toe_index_abnormal, tuple(row.urgent_by.values()), row.flags

    return _runs(rows, key, lambda row: replace(flow, toe=_taken(exam, row)), case)


def runs_of_ankle(flow: Flow, case: Case) -> list[Run]:
    exam = _exam_to_vary(flow.ankle, flow, case)
    sites = (Site.DORSALIS_PEDIS, Site.POSTERIOR_TIBIAL)
    ankle = dict.fromkeys(sites, (pressure(1),))
    rows = _swept(exam, case, {"ankle": ankle}, sites, HIGHEST["ankle"])

    def key(row: LimbFlow) -> object:
        index = row.index
        graded = None if index is None else (index_grade(index), index > UNRELIABLE_ABOVE_HUNDREDTHS)
        return row.ankle_grade, graded, row.index_stiff, tuple(row.urgent_by.values()), row.flags

    return _runs(rows, key, lambda row: replace(flow, ankle=_taken(exam, row)), case)


def runs_of_oxygen(flow: Flow, case: Case) -> list[Run]:
    exam = _exam_to_vary(flow.oxygen, flow, case)
    row = limb_flow(exam, case.criteria, case.context, case.question.side)
    found = []
    for value in range(1, HIGHEST["oxygen"] + 1):
        pressure_finding, _ = oxygen_findings(Oxygen(case.question.side, "foot", 2 * value), case.criteria)
        found.append((value, Taken(exam, row, (pressure_finding,), fresh=True, cold=False)))
    limits = [case.rules.limits[name] for name in ("urgent_oxygen_mmhg", "likely_oxygen_mmhg")
              if name in case.rules.limits]  # fmt: skip

    def key(one: tuple[int, Taken]) -> object:
        value, taken = one
        return tuple(bool(limit.met_by(value)) for limit in limits), taken.findings[0].flags

    runs = []
    for _, group in groupby(found, key=key):
        members = list(group)
        judged = judge(replace(flow, oxygen=members[0][1]), case)
        runs.append(Run(members[0][0], members[-1][0], judged))
    return runs


def _runs(
    rows: tuple[LimbFlow, ...],
    key: Callable[[LimbFlow], object],
    flow_with: Callable[[LimbFlow], Flow],
    case: Case,
) -> list[Run]:
    found, start = [], 1
    for _, group in groupby(rows, key=key):
        members = list(group)
        found.append(Run(start, start + len(members) - 1, judge(flow_with(members[0]), case)))
        start += len(members)
    return found


def _taken(exam: PressureExam, row: LimbFlow) -> Taken:
    return Taken(exam, row, (), fresh=True, cold=False)


def _exam_to_vary(taken: Taken | None, flow: Flow, case: Case) -> PressureExam:
    """The exam whose reading is varied; where there is none, an empty one of today."""
    if taken is not None and taken.fresh:
        return taken.exam
    arms = next((one for one in (flow.ankle, flow.toe) if one is not None and one.fresh), None)
    if arms is not None:
        return arms.exam
    return PressureExam(case.question.today, MeasuredExam())


def _swept(
    exam: PressureExam, case: Case, sites: dict[str, Any], varied: tuple[Site, ...], highest: int
) -> tuple[LimbFlow, ...]:
    """The limb with 1, 2 … ``highest`` mmHg at the varied sites, everything else as it was."""
    side = case.question.side
    limb = replace(exam.measured.limb(side), **sites)
    varied_limb: dict[str, Any] = {side.value: limb}
    measured = replace(exam.measured, **varied_limb)
    columns = _repeated(exam_columns(measured, case.criteria, case.context), highest)
    swept = Attempts(
        np.full((highest, 1), PRESSURE, np.int8), 2 * np.arange(1, highest + 1, dtype=np.int64)[:, None]
    )
    one = columns.limb(side)
    changed = replace(
        one,
        ankle={site: swept if site in varied else had for site, had in one.ankle.items()},
        toes={site: swept if site in varied else had for site, had in one.toes.items()},
    )
    varied_columns: dict[str, Any] = {side.value: changed}
    return rows_of(replace(columns, **varied_columns), case.criteria, side)


def _repeated(columns: ExamColumns, rows: int) -> ExamColumns:
    return ExamColumns(
        right=_repeated_limb(columns.right, rows),
        left=_repeated_limb(columns.left, rows),
        first_arm=np.repeat(columns.first_arm, rows),
        diabetes=np.repeat(columns.diabetes, rows),
        kidney_disease=np.repeat(columns.kidney_disease, rows),
    )


def _repeated_limb(limb: LimbColumns, rows: int) -> LimbColumns:
    return LimbColumns(
        arm=_repeated_attempts(limb.arm, rows),
        ankle={site: _repeated_attempts(one, rows) for site, one in limb.ankle.items()},
        toes={site: _repeated_attempts(one, rows) for site, one in limb.toes.items()},
        open_wound=np.repeat(limb.open_wound, rows),
        rest_pain=np.repeat(limb.rest_pain, rows),
        foot_infection=np.repeat(limb.foot_infection, rows),
        had_signal_before=np.repeat(limb.had_signal_before, rows),
        lowering=np.repeat(limb.lowering, rows),
    )


def _repeated_attempts(attempts: Attempts, rows: int) -> Attempts:
    return Attempts(np.repeat(attempts.code, rows, axis=0), np.repeat(attempts.half_mmhg, rows, axis=0))
