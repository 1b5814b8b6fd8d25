"""What a device that sends may find: the exam it sends to, and what it has sent itself."""

from datetime import datetime, timedelta

from access.people import Person
from access.permissions import NotHere, require
from exams.traces.models import Format, Trace, TracePiece
from exams.visits.models import Exam

# After this long without a piece a person may finish what the device left.
SILENT_AFTER = timedelta(minutes=10)


def exam_to_send_to(by: Person, exam_id: int) -> Exam:
    """The exam of that number in the device's clinic.

    Raises
    ------
    NotHere
        If there is none there.
    """
    require(by, "send traces")
    found = Exam.objects.select_related("clinic", "patient").filter(pk=exam_id, clinic=by.clinic).first()
    if found is None:
        raise NotHere("no such exam in this clinic")
    return found


def sent_in_pieces(by: Person, trace_id: int) -> Trace:
    """A recording that this device sends, or has sent, in pieces.

    Raises
    ------
    NotHere
        If the recording is another device's, or came otherwise.
    """
    require(by, "send traces")
    found = (
        Trace.objects.select_related("exam")
        .filter(pk=trace_id, clinic=by.clinic, received_by=by.user, format=Format.PIECES)
        .first()
    )
    if found is None:
        raise NotHere("no such recording of this device")
    return found


def pieces_there(trace: Trace) -> list[int]:
    """The numbers of the pieces that have arrived, in order."""
    numbers = TracePiece.objects.filter(trace=trace).order_by("number").values_list("number", flat=True)
    return list(numbers)


def pieces_missing(there: list[int], *, up_to: int | None = None) -> list[int]:
    """The numbers not there, up to the last that is (or ``up_to``)."""
    last = up_to if up_to is not None else max(there, default=0)
    return sorted(set(range(1, last + 1)) - set(there))


def last_heard(trace: Trace) -> datetime:
    """When the device last sent something of this recording."""
    newest = TracePiece.objects.filter(trace=trace).order_by("-received_at").first()
    return newest.received_at if newest else trace.received_at
