"""Rows that only follow from a record: marked by the act that changes it, made when somebody looks.

A model of such rows has the patient's number as its key and a ``mark``
(docs/decisions/612-what-is-kept-of-a-record.md). What is made counts while the mark it was made at stands.
"""

from collections.abc import Collection, Iterable
from hashlib import sha256
from typing import Any
from uuid import uuid4

from django.conf import settings


def put_marks(kept: Any, patients: Collection[int]) -> None:
    """Let what was kept of these records count no more. Part of the act that changed them; one query."""
    # Each once, as the database demands, and in one order, so that two acts do not wait for each other.
    kept.objects.bulk_create(
        [kept(patient_number=number, mark=uuid4().hex) for number in sorted(set(patients))],
        update_conflicts=True,
        unique_fields=["patient_number"],
        update_fields=["mark"],
    )


def mark_of(kept: Any, patient: int) -> str:
    """The mark of a record, to be read before the record is; put where there was none."""
    kept.objects.bulk_create([kept(patient_number=patient, mark=uuid4().hex)], ignore_conflicts=True)
    mark: str = kept.objects.values_list("mark", flat=True).get(pk=patient)
    return mark


def code_of(patterns: Iterable[str]) -> str:
    """A digest of the files of this house that make what is kept; to be asked once a process."""
    read = sha256()
    for file in sorted({file for pattern in patterns for file in settings.HOUSE.glob(pattern)}):
        read.update(f"{file.relative_to(settings.HOUSE)} {file.stat().st_size}\n".encode())
        read.update(file.read_bytes())
    return read.hexdigest()[:16]
