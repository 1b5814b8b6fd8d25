"""What is known of the blood flow to one limb: the newest answer of each kind that may count, with its day.

Everything is read from ``evaluate``, the one implementation of indices, bands and urgency.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from exams.hemodynamics.ankle import MEASURED, MIXED, NO_FLOW, ONE_ABSENT, STIFF
from exams.hemodynamics.bands import BANDS
from exams.hemodynamics.columns import NO_SIGNAL, NOT_OCCLUDABLE, PRESSURE, ExamColumns
from exams.hemodynamics.criteria.model import NOT_ASSESSED, Criteria, OutlookRules
from exams.hemodynamics.evaluation import evaluate
from exams.hemodynamics.exact import TEN_THOUSANDTHS_IN_AN_EIGHTH, mmhg
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.healing.answered import ReadingUsed
from exams.hemodynamics.healing.asked import OutlookQuestion, PressureExam
from exams.hemodynamics.measured import TOE_SITES, Context, Side, Site
from exams.hemodynamics.one_exam import exam_columns
from exams.hemodynamics.words import hundredths, mmhg_words

# Where a probe lies that tells of the foot; places above it do not.
FOOT_OXYGEN = ("back_of_foot_oxygen_pressure", "forefoot_oxygen_pressure", "oxygen_pressure")
FOREFOOT_PULSE_VOLUME = ("forefoot_pulse_volume",)
PEDAL_WAVEFORMS = ("dorsalis_pedis_waveform", "posterior_tibial_waveform")
FURTHER_MEASURES = (*FOOT_OXYGEN, *FOREFOOT_PULSE_VOLUME, *PEDAL_WAVEFORMS)
KINDS = ("toe", "ankle", "oxygen", "pulse_volume", "waveform")
KIND_WORDS = {
    "toe": "toe pressure",
    "ankle": "ankle pressure",
    "oxygen": "transcutaneous oxygen",
    "pulse_volume": "forefoot pulse volume",
    "waveform": "pedal waveform",
}
ANKLE_ANSWERS = (MEASURED, MIXED, STIFF, NO_FLOW, ONE_ABSENT)
TOE_ANSWERS = (PRESSURE, NO_SIGNAL, NOT_OCCLUDABLE)


@dataclass(frozen=True, slots=True)
class LimbFlow:
    """One limb in one exam: a row of what ``evaluate`` gives. Pressures in eighths of a mmHg, 0 for none.

    ``toe_lowered`` is the lower of measured and height-corrected toe pressure, in ten-thousandths of a mmHg.
    ``index`` and ``toe_index`` in hundredths, None where there is none; ``urgent_by`` by the names of the
    rules; ``flags`` those of ``FLAGS`` that are raised.
    """

    toe_state: int
    toe_site: Site | None
    toe: int
    toe_lowered: int
    toe_grade: int | None
    toe_index: int | None
    toe_index_abnormal: bool | None
    ankle_state: int
    ankle: int
    ankle_grade: int | None
    index: int | None
    index_stiff: bool
    urgent_by: Mapping[str, bool]
    flags: frozenset[str]

    @property
    def toe_words(self) -> str:
        """ "34 mmHg", "no signal", "cannot be occluded"."""
        if self.toe_state == PRESSURE:
            return mmhg_words(mmhg(self.toe))
        return {NO_SIGNAL: "no signal", NOT_OCCLUDABLE: "cannot be occluded"}.get(
            self.toe_state, "not measured"
        )

    @property
    def ankle_words(self) -> str:
        """ "70 mmHg, index 0.47"."""
        if self.ankle_state in (MEASURED, MIXED):
            index = "" if self.index is None else f", index {hundredths(self.index)}"
            mixed = ", one artery cannot be occluded" if self.ankle_state == MIXED else ""
            return f"{mmhg_words(mmhg(self.ankle))}{index}{mixed}"
        return {
            STIFF: "cannot be occluded",
            NO_FLOW: "no signal at either artery",
            ONE_ABSENT: "no signal at the only artery tried",
        }.get(self.ankle_state, "not measured")


@dataclass(frozen=True, slots=True)
class Taken:
    """The newest answer of one kind: its exam, its row, and its findings where it is a further test.

    ``fresh``: not older than the criteria allow. ``cold``: the toe was cold.
    """

    exam: PressureExam
    row: LimbFlow
    findings: tuple[Finding, ...]
    fresh: bool
    cold: bool

    @property
    def on(self) -> date:
        return self.exam.on


@dataclass(frozen=True, slots=True)
class Flow:
    """The newest answer of each kind that is from after the last procedure; None where there is none."""

    toe: Taken | None
    ankle: Taken | None
    oxygen: Taken | None
    pulse_volume: Taken | None
    waveform: Taken | None

    def of(self, kind: str) -> Taken | None:
        found: Taken | None = getattr(self, kind)
        return found

    @property
    def oxygen_mmhg(self) -> Decimal | None:
        """The lowest oxygen pressure at the foot."""
        if self.oxygen is None:
            return None
        return min(f.value for f in self.oxygen.findings if not isinstance(f.value, NotStated))


def flow_of(
    question: OutlookQuestion, criteria: Criteria, rules: OutlookRules, context: Context
) -> tuple[Flow, tuple[ReadingUsed, ...]]:
    """The readings that count, and the account of every kind: used, or left out and why."""
    newest_first = sorted(
        (exam for exam in question.exams if exam.on <= question.today), key=lambda e: e.on, reverse=True
    )
    chosen: dict[str, Taken] = {}
    left_out: dict[str, ReadingUsed] = {}
    for exam in newest_first:
        if not _could_add(exam, question.side, chosen):
            continue
        row = limb_flow(exam, criteria, context, question.side)
        age = (question.today - exam.on).days
        fresh = bool(rules.limits["reading_age_days"].met_by(age))
        cold = is_cold(exam, question.side, criteria)
        why_not = "" if after_procedure(question, exam.on) else _before(question)
        for kind, findings in answers_of(row, exam, question.side).items():
            taken = Taken(exam, row, findings, fresh, cold and kind == "toe")
            if kind in chosen:
                continue
            if not why_not:
                chosen[kind] = taken
            elif kind not in left_out:
                left_out[kind] = _used(kind, taken, age, why_not)
    flow = Flow(*(chosen.get(kind) for kind in KINDS))
    limit = rules.limits["reading_age_days"].limit
    used = [
        _used(kind, one, (question.today - one.on).days, "" if one.fresh else f"older than {limit} days")
        for kind, one in chosen.items()
    ]
    return flow, (*used, *(one for kind, one in left_out.items() if kind not in chosen))


def _could_add(exam: PressureExam, side: Side, chosen: Mapping[str, Taken]) -> bool:
    """Whether an exam may answer a kind that no newer one has answered; most old ones need not be read."""
    limb = exam.measured.limb(side)
    return bool(
        ("toe" not in chosen and limb.toes)
        or ("ankle" not in chosen and limb.ankle)
        or any(f.limb is side and f.measure in FURTHER_MEASURES for f in exam.further)
    )


def limb_flow(exam: PressureExam, criteria: Criteria, context: Context, side: Side) -> LimbFlow:
    """One limb of one exam, read by the criteria."""
    return rows_of(exam_columns(exam.measured, criteria, context), criteria, side)[0]


def rows_of(exams: ExamColumns, criteria: Criteria, side: Side) -> tuple[LimbFlow, ...]:
    """Each of n exams as one limb, read by the criteria."""
    result, lowering = evaluate(exams, criteria), exams.limb(side).lowering
    limb = result.limb(side)
    ankle_index, toe_index = limb.indices["ankle_brachial_index"], limb.indices["toe_brachial_index"]
    names = [name for name, holds in limb.flags.items() if holds.any()]
    return tuple(
        LimbFlow(
            toe_state=int(limb.toe.site.code[row]),
            toe_site=None if limb.toe.which[row] < 0 else TOE_SITES[int(limb.toe.which[row])],
            toe=int(limb.toe.site.eighths[row]),
            toe_lowered=max(
                int(limb.toe.site.eighths[row]) * TEN_THOUSANDTHS_IN_AN_EIGHTH - int(lowering[row]), 1
            ),
            toe_grade=_grade(int(limb.toe_band[row])),
            toe_index=_index(int(toe_index.hundredths[row])),
            toe_index_abnormal=_abnormal(BANDS[int(toe_index.band[row])]),
            ankle_state=int(limb.ankle.state[row]),
            ankle=int(limb.ankle.highest[row]),
            ankle_grade=_grade(int(limb.ankle_band[row])),
            index=_index(int(ankle_index.hundredths[row])),
            index_stiff=BANDS[int(ankle_index.band[row])] == "NON_COMPRESSIBLE",
            urgent_by={name: bool(holds[row]) for name, holds in limb.urgent_by.items()},
            flags=frozenset(name for name in names if limb.flags[name][row]),
        )
        for row in range(len(limb.toe_band))
    )


def answers_of(row: LimbFlow, exam: PressureExam, side: Side) -> dict[str, tuple[Finding, ...]]:
    """The kinds that an exam answers for a limb, each with the further findings it rests on."""
    further = [finding for finding in exam.further if finding.limb is side]
    oxygen = tuple(f for f in further if f.measure in FOOT_OXYGEN and not isinstance(f.value, NotStated))
    pulses = tuple(f for f in further if f.measure in FOREFOOT_PULSE_VOLUME)
    waves = tuple(f for f in further if f.measure in PEDAL_WAVEFORMS and waveform_counts(f) != "unknown")
    found: dict[str, tuple[Finding, ...]] = {}
    if row.toe_state in TOE_ANSWERS:
        found["toe"] = ()
    if row.ankle_state in ANKLE_ANSWERS:
        found["ankle"] = ()
    return found | {
        kind: findings
        for kind, findings in (("oxygen", oxygen), ("pulse_volume", pulses), ("waveform", waves))
        if findings
    }


def waveform_counts(finding: Finding) -> str:
    """Whether a pedal waveform is monophasic or absent; "unknown" where it was not described.

    Read from how the finding is shown, which lists the terms of the consensus.
    """
    terms = finding.shown.split(", ")
    if finding.band == "ABSENT" or "monophasic" in terms:
        return "yes"
    return "no" if "multiphasic" in terms else "unknown"


def after_procedure(question: OutlookQuestion, day: date) -> bool:
    """Whether a day is surely after the last procedure; on the same day or in doubt it is not."""
    return question.last_procedure is None or day > question.last_procedure.on.latest


def is_cold(exam: PressureExam, side: Side, criteria: Criteria) -> bool:
    celsius = exam.measured.limb(side).toe_skin_celsius
    return celsius is not None and bool(criteria.thresholds["toe_cold_celsius"].met_by(float(celsius)))


def _before(question: OutlookQuestion) -> str:
    words = question.last_procedure.words_dated if question.last_procedure else ""
    return f"not known to be from after the last procedure ({words})"


def _used(kind: str, taken: Taken, age: int, why_not: str) -> ReadingUsed:
    if kind in ("toe", "ankle"):
        shown = taken.row.toe_words if kind == "toe" else taken.row.ankle_words
    else:
        shown = "; ".join(finding.shown for finding in taken.findings)
    return ReadingUsed(KIND_WORDS[kind], shown, taken.on, age, taken.cold, why_not)


def _grade(band: int) -> int | None:
    code = BANDS[band]
    return None if code == NOT_ASSESSED else int(code.removeprefix("WIFI_"))


def _index(value: int) -> int | None:
    return None if value < 0 else value


def _abnormal(code: str) -> bool | None:
    return None if code == NOT_ASSESSED else code.startswith("ABNORMAL")
