"""The people of a table that was taken in, one at a time."""

import heapq
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from exams.visits.models import Exam
from reports.exchange.models import Batch, ImportedPatient

READ_AT_ONCE = 2_000


def people_of(batch: Batch) -> Iterator[tuple[int, dict[str, Any]]]:
    """Number of each patient in order, with the exams that came and whether the table registered them.

    Two queries, read as they are asked for.
    """
    exams = Exam.objects.filter(came_with__batch=batch).order_by("patient_id", "pk")
    registered = ImportedPatient.objects.filter(batch=batch).order_by("patient_number")
    rows = heapq.merge(
        (
            (number, 0)
            for number in registered.values_list("patient_number", flat=True).iterator(READ_AT_ONCE)
        ),
        exams.values_list("patient_id", "pk").iterator(READ_AT_ONCE),
    )
    for patient, found in groupby(rows, key=lambda row: row[0]):
        numbers = [exam for _, exam in found]
        # No exam has the number 0: it says that the person came with the table.
        yield patient, {"exams": [one for one in numbers if one], "registered": 0 in numbers}
