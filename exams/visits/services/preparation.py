"""Conditions of the exam: each typed value a row; retyping adds one, and what stood before stays readable."""

from datetime import datetime
from uuid import UUID

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.visits.errors import StaleValue
from exams.visits.models import Exam, ExamState, Preparation
from exams.visits.plan import DONE_STATES
from exams.visits.services.acts import check, held
from exams.visits.services.results import refresh_results

CLOSED = (ExamState.NOT_ATTENDED, ExamState.STOPPED, ExamState.IN_ERROR)


@one_act()
def record_preparation(
    *,
    exam: Exam,
    item: str,
    value: str,
    by: Person,
    client_id: UUID,
    seen_revision: int,
    typed_at: datetime | None = None,
    reason: str = "",
) -> Preparation | None:
    """Store one condition as `read_preparation` gave it ("" empties it), and read the exam again.

    Idempotent by `client_id`; another row than `seen_revision` there now raises StaleValue. Once the exam is
    measured or reported a `reason` is needed.
    """
    require(by, "measure", exam)
    exam = held(exam)
    already = Preparation.objects.filter(client_id=client_id).first()
    if already is not None:
        if (already.exam_id, already.item) != (exam.pk, item):
            raise ValidationError("This entry was already used for another field. Load the page again.")
        return already
    if exam.state in CLOSED:
        raise ValidationError(f"This exam is {exam.get_state_display()}. Nothing was changed.", code="state")
    before = (
        Preparation.objects.filter(exam=exam, item=item).select_related("entered_by").order_by("-pk").first()
    )
    if (before.value if before else "") == value:
        return before
    if (before.pk if before else 0) != seen_revision:
        raise _stale(item, before)
    if exam.state in DONE_STATES and not reason.strip():
        raise ValidationError(
            "The exam is measured: say why this is changed. What you typed is kept here.", code="reason"
        )
    row = Preparation(
        exam=exam,
        item=item,
        value=value,
        client_id=client_id,
        typed_at=min(typed_at, clock.now()) if typed_at else clock.now(),
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=before,
        replaced_because=reason.strip(),
    )
    check(row, empty=() if value else ("value",))
    row.save()
    record(
        by,
        "condition recorded",
        row,
        details={"item": item, "old": before.value if before else "", "new": value, "reason": reason.strip()},
    )
    refresh_results(exam=exam, by=by)
    return row


def _stale(item: str, row: Preparation | None) -> Exception:
    if row is None:
        return ValidationError(
            "This value is not there any more. Load the page again; what you typed is kept."
        )
    return StaleValue(
        field=item,
        revision=row.pk,
        theirs=row.value,
        shown=row.value or "empty",
        by=row.entered_by.full_name,
        at=row.typed_at,
    )
