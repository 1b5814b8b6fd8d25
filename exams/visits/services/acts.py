"""What the services of this room share: the exam held for writing, and a step checked against its state."""

from django.core.exceptions import ValidationError
from django.db.models import Model

from exams.visits.models import Exam, ExamState
from exams.visits.plan import TRANSITIONS

WHAT_NEXT = {
    ExamState.BOOKED: "Confirm the person's identity first.",
    ExamState.IDENTIFIED: "Answer the cautions and start the rest clock, then measure.",
    ExamState.RESTING: "The person is resting: measure when the ten minutes are over.",
    ExamState.MEASURING: "Finish measuring first.",
    ExamState.MEASURED: "To change a value now, correct it with a reason; to add one, open the exam again.",
    ExamState.REPORTED: "To change a value now, correct it with a reason.",
    ExamState.NOT_ATTENDED: "Open it again if the person came after all.",
    ExamState.STOPPED: "Open it again if measuring goes on.",
    ExamState.IN_ERROR: "It was entered again under the right person: work on that exam.",
}


def held(exam: Exam) -> Exam:
    """The exam as it stands now, held until the act is over: acts on one exam follow one another."""
    return Exam.objects.select_for_update(of=("self",)).select_related("clinic", "patient").get(pk=exam.pk)


def state_after(exam: Exam, step: str) -> str:
    """The state a step leads to; ValidationError at the step with what to do where it may not be taken."""
    after = TRANSITIONS[step].get(exam.state)
    if after is None:
        state = ExamState(exam.state)
        raise ValidationError(
            {step: f"This exam is {state.label}. {WHAT_NEXT[state]} Nothing was changed."}, code="state"
        )
    return after


def ready_to_measure(exam: Exam) -> None:
    """Identity is in the state; the indication and the cautions must be answered before the first cuff."""
    if not exam.indication:
        raise ValidationError(
            "Before the first reading, say why the test is done (indication). What you typed is kept here.",
            code="not ready",
        )
    if exam.cautions_confirmed_at is None:
        raise ValidationError(
            "Before the first cuff, check both arms and legs for reasons not to inflate one (cautions). "
            "What you typed is kept here.",
            code="not ready",
        )


def check(row: Model, *, empty: tuple[str, ...] = ()) -> None:
    """All checks of the row itself. Rows it points to were just fetched, so they are not fetched again.

    `empty` names fields that may be empty here although a form would not leave them so.
    """
    pointing = [field.name for field in row._meta.concrete_fields if field.is_relation]
    row.full_clean(exclude=[*pointing, *empty], validate_unique=False)


def need(words: str, field: str, because: str) -> str:
    """The words without spaces around them; ValidationError at the field where there are none."""
    if not words.strip():
        raise ValidationError({field: because}, code="required")
    return words.strip()
