"""The soft remarks of an exam with their answers, as the sheet shows them."""

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
    return remarks_on(chart, stored_interpretation(exam), earlier, criteria_of(exam), answers_of(exam))
