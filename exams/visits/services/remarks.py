"""Answering a soft remark, so that it is not asked again."""

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.visits.models import Exam, RemarkAnswer
from exams.visits.services.acts import need
from exams.visits.sheet import Remark


@one_act()
def answer_remark(*, exam: Exam, remark: Remark, answer: str, by: Person) -> RemarkAnswer:
    """Keep what was answered. A remark that has an answer keeps its first one."""
    require(by, "measure", exam)
    answer = need(answer, "answer", "Say what was done about it, or why it stands.")
    kept, new = RemarkAnswer.objects.get_or_create(
        exam=exam,
        remark=remark.code,
        defaults={
            "words": remark.words[:300],
            "answer": answer[:200],
            "answered_at": clock.now(),
            "answered_by": by.user,
        },
    )
    if new:
        record(by, "remark answered", kept, details={"remark": remark.code, "answer": kept.answer})
    return kept
