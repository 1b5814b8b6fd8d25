"""From the flow to the answer: each urgency rule, the word of the outlook, the ischaemia grade, the stage.

Asked once for the foot as it is, and again for every "what if". Source: clinical reference 4.1 and 4.2 under
the criteria; a rule is unknown, not false, where its reading is missing or may not reassure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from exams.hemodynamics.ankle import MEASURED, MIXED, NO_FLOW, ONE_ABSENT, STIFF
from exams.hemodynamics.columns import NO_SIGNAL, NOT_OCCLUDABLE, PRESSURE
from exams.hemodynamics.criteria.model import Criteria, OutlookRules
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.healing.answered import OutlookWord
from exams.hemodynamics.healing.asked import OutlookQuestion
from exams.hemodynamics.healing.flow import Flow, Taken, waveform_counts
from exams.hemodynamics.measured import Answer, Context
from exams.hemodynamics.wounds.graded import AreaCourse, Grade, IschaemiaGrade, LimbStage, MethodGrade
from exams.hemodynamics.wounds.ischaemia import (
    METHOD_WORDS,
    UNRELIABLE_ABOVE_HUNDREDTHS,
    ankle_method,
    ischaemia_grade,
)
from exams.hemodynamics.wounds.possible import answer, any_of
from exams.hemodynamics.wounds.stage import stage_of

TOO_OLD = "too old to go by"


@dataclass(frozen=True, slots=True)
class Case:
    """What is the same for every "what if" about one limb.

    ``context`` holds also what the wounds show; ``wound`` and ``infection`` are the WIfI grades of the worst
    wound, ``infected`` whether any wound is, ``shrinking`` whether every wound has shrunk as it should.
    """

    question: OutlookQuestion
    criteria: Criteria
    rules: OutlookRules
    context: Context
    wound: Grade
    infection: Grade
    iwgdf: tuple[Grade, ...]
    courses: tuple[tuple[str, AreaCourse], ...]
    infected: Answer
    shrinking: Answer

    @property
    def at_stake(self) -> bool:
        """An open wound, gangrene, rest pain or infection: then an urgent pressure is of a limb in danger."""
        return bool(self.context.limb(self.question.side).words)

    @property
    def may_mislead(self) -> bool:
        """Diabetes or kidney disease is yes or not known: then the ankle alone does not reassure."""
        return self.context.diabetes != "no" or self.context.kidney_disease != "no"


@dataclass(frozen=True, slots=True)
class Judged:
    """The answer for one flow. ``holds``: each urgency rule by name, "yes", "no" or "unknown"."""

    flow: Flow
    holds: Mapping[str, Answer]
    word: OutlookWord
    stage: LimbStage

    @property
    def urgent(self) -> bool:
        return "yes" in self.holds.values()


def judge(flow: Flow, case: Case) -> Judged:
    """Everything that follows from a flow for one limb."""
    holds = _holds(flow, case)
    stage = stage_of(case.wound, ischaemia_of(flow, case), case.infection, case.question.stage_by_clinician)
    return Judged(flow, holds, _word(flow, holds, case), stage)


def ischaemia_of(flow: Flow, case: Case) -> IschaemiaGrade:
    """The WIfI ischaemia grade of a flow; readings too old to go by give none."""
    methods = [
        *([_toe_method(flow.toe)] if flow.toe else []),
        *([_oxygen_method(flow.oxygen)] if flow.oxygen else []),
        *([_pulse_method(flow.pulse_volume)] if flow.pulse_volume else []),
        *([_ankle_method(flow.ankle, case)] if flow.ankle else []),
    ]
    ankle = flow.ankle.row if flow.ankle else None
    return ischaemia_grade(
        methods,
        boundary=ankle is not None and "BOUNDARY" in ankle.flags,
        set_aside=ankle is not None and (ankle.index or 0) > UNRELIABLE_ABOVE_HUNDREDTHS,
        cold=flow.toe is not None and flow.toe.cold,
    )


def _holds(flow: Flow, case: Case) -> dict[str, Answer]:
    toe, ankle = flow.toe, flow.ankle
    holds: dict[str, Answer] = {"toe": _toe_rule(toe), "ankle": _ankle_rule(ankle, "ankle")}
    if "urgent_abi_hundredths" in case.criteria.thresholds:
        has_index = ankle is not None and ankle.row.index is not None
        holds["index"] = _ankle_rule(ankle, "index") if has_index else "unknown"
    limit = case.rules.limits.get("urgent_oxygen_mmhg")
    if limit is not None:
        oxygen = flow.oxygen_mmhg
        holds["oxygen"] = answer(None if oxygen is None else bool(limit.met_by(float(oxygen))))
    if case.rules.waveform.rule == "monophasic_or_absent":
        holds["waveform"] = _waveform_rule(flow.waveform)
    holds["no_signal"] = any_of(
        answer(ankle.row.urgent_by["no_ankle_signal"] if ankle else None),
        answer(toe.row.urgent_by["no_toe_signal"] if toe else None),
    )
    holds["acute"] = answer("POSSIBLE_ACUTE_ISCHAEMIA" in ankle.row.flags if ankle else None)
    return holds


def _toe_rule(toe: Taken | None) -> Answer:
    if toe is None:
        return "unknown"
    if toe.row.urgent_by["toe"]:
        return "yes"
    return "no" if toe.row.toe_state == PRESSURE else "unknown"


def _ankle_rule(ankle: Taken | None, name: str) -> Answer:
    """A low ankle counts whatever it is; one that is not low counts only where it may reassure."""
    if ankle is None:
        return "unknown"
    if ankle.row.urgent_by[name]:
        return "yes"
    plain = ankle.row.ankle_state == MEASURED and not ankle.row.index_stiff
    return "no" if plain else "unknown"


def _waveform_rule(waveform: Taken | None) -> Answer:
    """Yes where every pedal waveform described is monophasic or absent (ours); one multiphasic denies it."""
    if waveform is None:
        return "unknown"
    return answer(all(waveform_counts(finding) == "yes" for finding in waveform.findings))


def _word(flow: Flow, holds: Mapping[str, Answer], case: Case) -> OutlookWord:
    """The first row of the table that holds (clinical reference 4.2)."""
    if "yes" in holds.values():
        return OutlookWord.UNLIKELY
    limits = case.rules.limits
    toe = flow.toe if flow.toe and flow.toe.fresh and flow.toe.row.toe_state == PRESSURE else None
    oxygen = flow.oxygen_mmhg if flow.oxygen and flow.oxygen.fresh else None
    if toe is None and oxygen is None:
        return OutlookWord.CANNOT_SAY
    toe_likely = toe is None or bool(limits["likely_toe_mmhg"].met_by(toe.row.toe_lowered / 10_000))
    oxygen_likely = oxygen is None or bool(limits["likely_oxygen_mmhg"].met_by(float(oxygen)))
    slow_with_disease = toe is not None and toe.row.toe_index_abnormal is True and case.shrinking == "no"
    if toe_likely and oxygen_likely and not slow_with_disease:
        return OutlookWord.LIKELY
    return OutlookWord.UNCERTAIN


def _toe_method(toe: Taken) -> MethodGrade:
    if not toe.fresh:
        grade: int | NotStated = NotStated(TOO_OLD)
    elif toe.row.toe_state == NOT_OCCLUDABLE or toe.row.toe_grade is None:
        grade = NotStated("the toe could not be occluded")
    else:
        grade = toe.row.toe_grade
    below = " (below detection)" if toe.row.toe_state == NO_SIGNAL else ""
    return MethodGrade("toe", METHOD_WORDS["toe"], grade, f"{toe.row.toe_words}{below}")


def _oxygen_method(oxygen: Taken) -> MethodGrade:
    """By the worst place of the foot; each finding carries its own grade as a flag."""
    grades = [
        int(flag.removeprefix("WIFI_"))
        for finding in oxygen.findings
        for flag in finding.flags
        if flag.startswith("WIFI_")
    ]
    grade = max(grades) if oxygen.fresh else NotStated(TOO_OLD)
    shown = "; ".join(finding.shown for finding in oxygen.findings)
    return MethodGrade("oxygen", METHOD_WORDS["oxygen"], grade, shown)


def _pulse_method(pulse: Taken) -> MethodGrade:
    flat = any("FLAT_PULSE_VOLUME" in finding.flags for finding in pulse.findings)
    grade: int | NotStated = NotStated("not flat: it gives no grade")
    if not pulse.fresh:
        grade = NotStated(TOO_OLD)
    elif flat:
        grade = 3
    shown = "flat or barely pulsatile" if flat else "pulsatile"
    return MethodGrade("pulse_volume", METHOD_WORDS["pulse_volume"], grade, shown)


def _ankle_method(ankle: Taken, case: Case) -> MethodGrade:
    row = ankle.row
    if not ankle.fresh:
        return MethodGrade("ankle", METHOD_WORDS["ankle"], NotStated(TOO_OLD), row.ankle_words)
    if row.ankle_state == ONE_ABSENT:
        why = NotStated("no signal at one artery, and the other was not tried")
        return MethodGrade("ankle", METHOD_WORDS["ankle"], why, row.ankle_words)
    return ankle_method(
        row.ankle_grade,
        row.index if row.ankle_state in (MEASURED, MIXED) else None,
        row.ankle_words,
        stiff=row.ankle_state == STIFF or row.index_stiff,
        mixed=row.ankle_state == MIXED,
        may_mislead=case.may_mislead and row.ankle_state != NO_FLOW,
    )
