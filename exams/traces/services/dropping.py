"""Several files dropped at once: each good one is kept, each other one gets its words."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from access.people import Person
from exams.traces.models import Trace
from exams.traces.services.receiving import clean_name, receive_file
from exams.visits.models import Exam


@dataclass(frozen=True)
class Refused:
    """A file that was not kept, and why."""

    name: str
    words: str


@dataclass(frozen=True)
class Dropped:
    kept: tuple[Trace, ...]
    refused: tuple[Refused, ...]


def receive_dropped(
    *, exam: Exam, files: Sequence[tuple[str, bytes]], too_large: Sequence[tuple[str, str]], by: Person
) -> Dropped:
    """Keep what can be kept of (name, bytes); each recording is an act of its own."""
    kept: list[Trace] = []
    refused = [Refused(clean_name(name), words) for name, words in too_large]
    for name, content in _whole(files):
        try:
            kept.append(receive_file(exam=exam, name=name, content=content, by=by))
        except ValidationError as why:
            refused.append(Refused(clean_name(name), " ".join(why.messages)))
    return Dropped(tuple(kept), tuple(refused))


def _whole(files: Sequence[tuple[str, bytes]]) -> Sequence[tuple[str, bytes]]:
    """The same with both files of each WFDB recording joined; a half of one stays, and is refused as one."""
    if not any(name.lower().endswith(".hea") for name, _ in files):
        return files
    from exams.traces.files import put_together  # as in receiving.py

    return put_together(files)
