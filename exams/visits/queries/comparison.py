"""The same exam read by two sets of diagnostic criteria."""

from dataclasses import dataclass

from access.people import Person
from exams.hemodynamics import Criteria, Finding, Side, compare_criteria, load_criteria
from exams.visits.queries.chart import chart_of, context_of, measured_exam
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.exams import exam_for
from exams.visits.wording import SIDE_WORDS


@dataclass(frozen=True)
class ComparedLine:
    """One measure of one limb under both; a finding is None where the criteria do not make it."""

    side: str
    here: Finding | None
    there: Finding | None

    @property
    def differs(self) -> bool:
        """Whether a reader would be told something else."""
        return _told(self.here) != _told(self.there)


@dataclass(frozen=True)
class Comparison:
    """An exam under its own criteria (`here`) and under others (`there`)."""

    here: Criteria
    there: Criteria
    lines: tuple[ComparedLine, ...]

    @property
    def differing(self) -> tuple[ComparedLine, ...]:
        return tuple(line for line in self.lines if line.differs)


def comparison_of(person: Person, exam_id: int, name: str) -> Comparison:
    """The exam under its own criteria and under those called `name`.

    Raises
    ------
    InputError
        ``criteria.unknown`` if there are none of that name.
    """
    exam = exam_for(person, exam_id)
    here, there = criteria_of(exam), load_criteria(name)
    chart = chart_of(exam)
    ours, theirs = compare_criteria(measured_exam(chart), (here, there), context_of(chart))
    keys = dict.fromkeys((one.limb, one.measure) for one in (*ours.findings, *theirs.findings))
    return Comparison(
        here=here,
        there=there,
        lines=tuple(
            ComparedLine(_side_words(limb), ours.of(measure, limb), theirs.of(measure, limb))
            for limb, measure in keys
        ),
    )


def _side_words(limb: Side | None) -> str:
    return SIDE_WORDS[limb.value] if limb else "both sides"


def _told(finding: Finding | None) -> tuple[str, ...]:
    return (finding.shown, finding.band, finding.sentence) if finding else ()
