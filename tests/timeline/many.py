"""Many exams of one patient at once: copies of one made through the services, earlier and earlier."""

from datetime import timedelta
from uuid import uuid4

from exams.visits.models import Exam, Preparation, Reading, Result
from reports.timeline.keeping import mark_changed

TIMES = (
    "booked_for",
    "identity_confirmed_at",
    "cautions_confirmed_at",
    "lying_flat_at",
    "first_inflation_at",
    "measured_at",
    "created_at",
)


def copies_of(exam: Exam, number: int) -> None:
    """`number` more exams with the same readings and findings, each a fortnight before the next."""
    exams = Exam.objects.bulk_create(_earlier(exam, step) for step in range(1, number + 1))
    for model in (Reading, Preparation, Result):
        rows = list(model.objects.filter(exam=exam).order_by("pk"))
        model.objects.bulk_create(_of(copy, row) for copy in exams for row in rows)
    mark_changed([exam.patient_id])


def _earlier(exam: Exam, step: int) -> Exam:
    copy = Exam.objects.get(pk=exam.pk)
    copy.pk = None
    for name in TIMES:
        moment = getattr(copy, name)
        if moment:
            setattr(copy, name, moment - step * timedelta(days=14))
    return copy


def _of(exam: Exam, row):
    values = {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields}
    values.pop("id")
    if "client_id" in values:
        values["client_id"] = uuid4()
    return type(row)(**{**values, "exam_id": exam.pk})
