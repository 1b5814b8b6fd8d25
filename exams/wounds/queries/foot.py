"""What the outlook of one foot says, made from the record or as it was kept (``keeping``)."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from exams.hemodynamics import Criteria, Grade, Outlook, foot_risk, outlook, wound_grade
from exams.hemodynamics import Side as CoreSide
from exams.patients.events import FactKind
from exams.patients.models import LimbFact
from exams.wounds.codes import WOUND_NOTES, Depth, Gangrene
from exams.wounds.models import Assessment, WoundEntry
from exams.wounds.queries.outlook import ReadFoot, question_at


@dataclass(frozen=True)
class WoundSeen:
    """One open wound of the foot with what was last found; without an assessment ``assessed_on`` is None."""

    wound_id: int
    number: int
    words: str
    assessed_on: date | None
    area_mm2: int | None
    depth_words: str


@dataclass(frozen=True)
class LooseFact:
    """An open wound or gangrene on record of the limb that no wound note describes."""

    fact_id: int
    words: str
    when: str
    source: str
    is_wound: bool


@dataclass(frozen=True)
class Judgement:
    """The last word of a clinician on whether this foot can be saved."""

    holds: bool
    by: str
    at: datetime
    because: str


@dataclass(frozen=True)
class FootOutlook:
    """Everything the page of one foot says beside the clinic's own outcomes.

    ``exams`` maps the day of an exam to its number, so that a number on the page leads to its sheet;
    ``toe_band`` and ``wound_grade`` are what its outcomes are compared by; ``risk`` is the IWGDF category.
    """

    answer: Outlook
    exams: tuple[tuple[date, int], ...]
    wounds: tuple[WoundSeen, ...]
    loose: tuple[LooseFact, ...]
    judgement: Judgement | None
    toe_band: str
    wound_grade: int | None
    risk: Grade

    def exam_on(self, day: date | None) -> int | None:
        return dict(self.exams).get(day) if day else None


def foot_now(
    read: ReadFoot, side: str, criteria: Criteria, pre_test_percent: int | None = None
) -> FootOutlook:
    """The outlook of one foot on the day ``read`` is of, from the rows of the record; no query."""
    question = question_at(read, side, pre_test_percent=pre_test_percent)
    grades = [n for one in question.wounds if (n := wound_grade(one.wound).number) is not None]
    entries = read.open_on(side)
    newest = [found[-1] for one in entries if (found := read.assessments.get(one.wound_id))]
    judged = read.judgement(side)
    return FootOutlook(
        answer=outlook(question, criteria),
        # The newest exam of a day last, so that it stands.
        exams=tuple((chart.on, chart.exam.pk) for chart in reversed(read.charts)),
        wounds=tuple(_seen(read, one) for one in entries),
        loose=loose_facts(read.facts, side, read.on, not_described(entries, newest)),
        judgement=Judgement(judged.holds, judged.said_by.full_name, judged.said_at, judged.because)
        if judged
        else None,
        toe_band=_toe_band(read, side),
        wound_grade=max(grades, default=None),
        risk=foot_risk(read.foot(side), open_ulcer=bool(entries)),
    )


def _seen(read: ReadFoot, entry: WoundEntry) -> WoundSeen:
    found = (read.assessments.get(entry.wound_id) or (None,))[-1]
    return WoundSeen(
        wound_id=entry.wound_id,
        number=entry.wound.number,
        words=entry.words,
        assessed_on=found.assessed_on if found else None,
        area_mm2=found.area_mm2 if found else None,
        depth_words=str(Depth(found.depth).label) if found else "",
    )


def loose_facts(
    facts: Iterable[LimbFact], side: str, on: date, kinds: Collection[str]
) -> tuple[LooseFact, ...]:
    """Facts of a limb of these kinds that hold on a day and that no wound note wrote."""
    return tuple(
        LooseFact(one.pk, one.words, one.when, one.source, one.kind == FactKind.OPEN_WOUND)
        for one in facts
        if one.side == side and one.kind in kinds and one.holds_on(on) and one.source != WOUND_NOTES
    )


def not_described(open_ones: Sequence[WoundEntry], newest: Iterable[Assessment]) -> tuple[str, ...]:
    """Which of these kinds of fact no open wound of a foot speaks of, by their newest assessments."""
    dead = any(one.gangrene not in (Gangrene.NONE, Gangrene.NOT_SEEN) for one in newest)
    return (*([] if open_ones else [FactKind.OPEN_WOUND]), *([] if dead else [FactKind.GANGRENE]))


def _toe_band(read: ReadFoot, side: str) -> str:
    """The band of the newest toe pressure of a foot; "" where there is none."""
    for chart in read.charts:
        toe = read.found[chart.exam.pk].of("toe_pressure", CoreSide(side))
        if toe is not None and toe.band:
            return toe.band
    return ""
