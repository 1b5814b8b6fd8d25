"""The entered values of further tests, as they stand. Every function costs a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable

from access.people import Person
from access.permissions import NotHere
from exams.visits.further.models import FurtherEntry
from exams.visits.models import Exam
from exams.visits.queries.exams import exam_for

Rows = dict[str, dict[str, list[FurtherEntry]]]


def rows_of(exam: Exam) -> Rows:
    """Every row of the exam by test and field, the oldest first; one query."""
    rows: Rows = defaultdict(lambda: defaultdict(list))
    stored = FurtherEntry.objects.filter(exam=exam).select_related("entered_by")
    for row in stored.order_by("pk"):
        rows[row.test][row.field].append(row)
    return rows


def entered_of(exam: Exam) -> dict[str, dict[str, str]]:
    """What stands in the fields by test; tests without a value are not there. One query."""
    return standing(FurtherEntry.objects.filter(exam=exam).order_by("pk"))


def seen_of(exam: Exam, test: str) -> dict[str, int]:
    """The number of the row that stands in each field of a test. One query."""
    rows = FurtherEntry.objects.filter(exam=exam, test=test, replaced_by=None)
    return dict(rows.values_list("field", "pk"))


def standing(rows: Iterable[FurtherEntry]) -> dict[str, dict[str, str]]:
    """The newest of rows given the oldest first; emptied fields are left out."""
    entered: dict[str, dict[str, str]] = {}
    for row in rows:
        entered.setdefault(row.test, {})[row.field] = row.value
    kept = {
        test: {name: value for name, value in values.items() if value} for test, values in entered.items()
    }
    return {test: values for test, values in kept.items() if values}


def entry_for(person: Person, exam_id: int, test: str, field: str) -> FurtherEntry:
    """The row that stands in a field; NotHere where nothing does, or the exam is another clinic's."""
    exam = exam_for(person, exam_id)
    row = (
        FurtherEntry.objects.filter(exam=exam, test=test, field=field, replaced_by=None)
        .select_related("entered_by")
        .first()
    )
    if row is None:
        raise NotHere("nothing stands in this field")
    row.exam = exam
    return row
