"""The soft remarks of an exam with their answers, as the sheet shows them."""

from exams.visits.agreement.queries import own_noise_of
from exams.visits.models import Exam, RemarkAnswer
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.last_time import with_earlier
from exams.visits.queries.results import stored_interpretation
from exams.visits.remarks import remarks_on
from exams.visits.sheet import Remark


def answers_of(exam: Exam) -> dict[str, str]:
    """What was answered, by the remark's code. One query."""
    return dict(RemarkAnswer.objects.filter(exam=exam).values_list("remark", "answer"))


def remarks_of(exam: Exam) -> tuple[Remark, ...]:
    """Every remark of an exam as it is stored now, answered ones too."""
    chart, earlier = with_earlier(exam)
    found, criteria, own = stored_interpretation(exam), criteria_of(exam), own_noise_of(exam.clinic)
    return remarks_on(chart, found, earlier, criteria, answers_of(exam), own)
