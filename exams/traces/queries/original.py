"""The file of a recording as it came, and what it seems to hold."""

from django.core.exceptions import ValidationError

from exams.traces.files import FileKind, Preview
from exams.traces.models import Trace
from exams.traces.samples import checksum


def stored_original(trace: Trace) -> bytes:
    """The bytes that were received.

    Raises
    ------
    ValidationError
        If there are none, or they are not those that came.
    """
    if not trace.original:
        raise ValidationError("A device sent this recording; there is no file of it.")
    try:
        with trace.original.open("rb") as file:
            content: bytes = file.read()
    except FileNotFoundError:
        content = b""
    if checksum(content) != trace.original_sha256:
        raise ValidationError(
            "The stored file is not the one that was received, so it is not used. "
            "Tell your system administrator."
        )
    return content


def preview_of(trace: Trace) -> Preview:
    """What the file's columns seem to be; looked into in a process apart.

    Raises
    ------
    TraceFileError, ValidationError
        If the file cannot be looked into.
    """
    from exams.traces.files import preview_safely  # as in services/receiving.py

    return preview_safely(FileKind(trace.format), stored_original(trace))
