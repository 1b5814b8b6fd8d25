"""A recording that a device sends as a file: kept as it came, at the place the device names."""

from dataclasses import asdict
from typing import Any
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from access.people import Person
from access.permissions import require
from access.refusals import Unfit
from access.trail import one_act, record
from exams.traces.files import TraceFileError
from exams.traces.models import State, Trace
from exams.traces.samples import checksum
from exams.traces.services.growing import READING
from exams.traces.services.receiving import clean_name, looked_into
from exams.traces.services.sending import Said, new_trace, sent_once
from exams.visits.models import Exam
from jobs.services import start

_WHAT_TO_SEND = "Send a table with the header time_s,cuff_mmhg,ppg, or a recording in EDF."


def receive_sent_file(
    *, exam: Exam, said: Said, name: str, content: bytes, key: str, by: Person
) -> tuple[Trace, bool]:
    """Keep a file and have it read; the trace, and whether it is new.

    Where its columns cannot be told for certain it waits for a person to say which is which.

    Raises
    ------
    Conflict
        If the exam is not being measured, or ``key`` came with something else before.
    Unfit
        If the file is none that is read here, or what is said of it cannot be.
    """
    require(by, "send traces", exam)
    try:
        kind, columns = looked_into(name, content)
    except TraceFileError as refused:
        raise Unfit(refused.code, refused.words, _WHAT_TO_SEND, field="file") from None
    # A name of its own that says nothing of anybody: file names from a recorder often name the patient.
    kept = default_storage.save(f"traces/{exam.clinic_id}/{uuid4().hex}", ContentFile(content))
    file = {
        "state": State.WAITING if columns else State.ARRIVED,
        "format": kind,
        "columns": columns.to_json() if columns else None,
        "original": kept,
        "original_name": clean_name(name),
        "original_sha256": checksum(content),
        "original_size": len(content),
    }
    try:
        trace, new = _sent_once(exam, said, file, key, by)
    except BaseException:
        default_storage.delete(kept)
        raise
    if not new:
        default_storage.delete(kept)
    return trace, new


@one_act()
def _sent_once(exam: Exam, said: Said, file: dict[str, Any], key: str, by: Person) -> tuple[Trace, bool]:
    content = {"file": exam.pk, **asdict(said), "sum": file["original_sha256"]}
    return sent_once(key, content, by, lambda: _kept(new_trace(exam, said, key, by, **file), by))


def _kept(trace: Trace, by: Person) -> Trace:
    details = {"format": trace.format, "bytes": trace.original_size, "sha256": trace.original_sha256}
    record(by, "trace received", trace, details=details)
    if trace.state == State.WAITING:
        trace.job = start(READING, by, {"trace": trace.pk})
        trace.save(update_fields=["job"])
    return trace
