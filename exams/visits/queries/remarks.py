"""The soft remarks of an exam with their answers, as the sheet shows them."""

from functools import partial

from django.db.models import IntegerField

from access.prepared import Given, Prepared
from exams.visits.agreement.queries import own_noise_of
from exams.visits.models import Exam, RemarkAnswer
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.read import read
from exams.visits.remarks import remarks_on
from exams.visits.sheet import Remark

_answers = Prepared(
    lambda: RemarkAnswer.objects.filter(exam_id=Given("exam", IntegerField())), "remark", "answer"
)


def answers_of(exam: Exam) -> dict[str, str]:
    """What was answered, by the remark's code. One query."""
    return dict(_answers.rows(exam=exam.pk))


def remarks_of(exam: Exam) -> tuple[Remark, ...]:
    """Every remark of an exam as it is stored now, answered ones too."""
    of = read(exam)
    criteria, own = criteria_of(exam), own_noise_of(exam.clinic)
    return remarks_on(of.chart, of.found, of.earlier, criteria, partial(answers_of, exam), own)
