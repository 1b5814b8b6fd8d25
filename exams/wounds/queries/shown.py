"""The outlook of one foot as its page shows it."""

from dataclasses import dataclass

from exams.hemodynamics import (
    WOUND_SOURCES,
    AreaCourse,
    Criteria,
    Evidence,
    Outlook,
    ReadingUsed,
    UrgencyRule,
)
from exams.wounds.queries.foot import FootOutlook, Judgement, LooseFact, WoundSeen


@dataclass(frozen=True)
class OutlookAsked:
    """The answer for one foot, what it was made from, and the criteria in force."""

    foot: FootOutlook
    criteria: Criteria

    @property
    def answer(self) -> Outlook:
        return self.foot.answer

    @property
    def wounds(self) -> tuple[WoundSeen, ...]:
        return self.foot.wounds

    @property
    def loose(self) -> tuple[LooseFact, ...]:
        return self.foot.loose

    @property
    def judgement(self) -> Judgement | None:
        return self.foot.judgement

    @property
    def readings(self) -> list[tuple[ReadingUsed, int | None]]:
        """Each reading with the number of its exam."""
        return [(one, self.foot.exam_on(one.on)) for one in self.answer.readings]

    @property
    def rules(self) -> list[tuple[UrgencyRule, int | None]]:
        """Each rule of urgency with the number of the exam it was held against."""
        return [(one, self.foot.exam_on(one.on)) for one in self.answer.rules]

    @property
    def evidence(self) -> list[tuple[Evidence, int | None]]:
        """Each published statement with the number of the exam whose reading it was held against."""
        used = [(one.measure, self.foot.exam_on(one.on)) for one in self.answer.readings if not one.why_not]
        return [
            (one, next((exam for measure, exam in used if one.test.startswith(measure)), None))
            for one in self.answer.evidence
        ]

    @property
    def courses(self) -> list[tuple[WoundSeen, AreaCourse]]:
        by_key = {str(one.wound_id): one for one in self.wounds}
        return [(by_key[key], course) for key, course in self.answer.courses]

    @property
    def has_ratios(self) -> bool:
        return bool(self.criteria.outlook and self.criteria.outlook.ratios)

    @property
    def sources(self) -> list[tuple[str, str]]:
        """Every source named on the page, with its title, in the order of their keys."""
        answer = self.answer
        stage = answer.stage
        keys = {answer.source, answer.referral.source, answer.compression.source, stage.source}
        keys |= {grade.source for grade in (stage.wound, stage.ischaemia.grade, stage.infection)}
        keys |= {rule.source for rule in answer.rules}
        keys |= {course.source for _, course in answer.courses}
        titled = {key: source.title for key, source in self.criteria.sources.items()} | dict(WOUND_SOURCES)
        return [(key, titled.get(key, key)) for key in sorted(keys)]
