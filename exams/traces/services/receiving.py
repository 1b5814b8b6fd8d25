"""Recordings that a person attaches to an exam: kept as they came, matched, withdrawn; never deleted."""

import unicodedata
from dataclasses import dataclass
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.traces.files import MOST_BYTES, Columns, TraceFileError
from exams.traces.models import Format, State, Trace, kind_of
from exams.traces.queries.exam import attempts_taken
from exams.traces.queries.original import stored_original
from exams.traces.samples import checksum
from exams.traces.services.growing import READING
from exams.visits.models import Exam, ExamState, Technique
from exams.visits.plan import ATTEMPTS, SIDES, TECHNIQUES, kind_of_site
from exams.visits.queries.chart import chart_of
from exams.visits.services.acts import WHAT_NEXT, held, need
from exams.visits.wording import SITE_NAMES, place_words
from jobs.services import start

# Who is on the couch must be known before a recording can be theirs.
_TOO_EARLY = (ExamState.BOOKED, ExamState.NOT_ATTENDED, ExamState.IN_ERROR)
_OPEN = (State.ARRIVED, State.FAILED)
# The header of the table this house writes and asks for: nothing about it needs a look into the file.
_STANDARD_HEADER = b"time_s,cuff_mmhg,ppg"
_STANDARD = Columns(time=0, cuff=1, signal=2)


def receive_file(*, exam: Exam, name: str, content: bytes, by: Person) -> Trace:
    """Keep one dropped file. Which site it belongs to is confirmed afterwards.

    Parameters
    ----------
    name : str
        The file's name on the sender's machine, kept without path and control characters.
    content : bytes
        The file, or the two of a WFDB recording as ``files.put_together`` joined them.

    Raises
    ------
    ValidationError
        In words for the person who dropped it; its code is ``already`` where this exam has the same file.
    """
    require(by, "receive traces", exam)
    shown = clean_name(name)
    try:
        kind, columns = looked_into(name, content)
    except TraceFileError as refused:
        raise ValidationError(refused.words, code=refused.code) from None
    mark = checksum(content)
    _not_here_already(exam, mark)
    # A name of its own that says nothing of anybody: file names from a recorder often name the patient.
    kept = default_storage.save(f"traces/{exam.clinic_id}/{uuid4().hex}", ContentFile(content))
    try:
        return _keep_file(exam, kept, mark, len(content), shown, kind, columns, by)
    except BaseException:
        default_storage.delete(kept)
        raise


@one_act()
def _keep_file(
    exam: Exam, kept: str, mark: str, size: int, shown: str, kind: str, columns: Columns | None, by: Person
) -> Trace:
    exam = _taking(exam)
    _not_here_already(exam, mark)
    trace = Trace(
        clinic=exam.clinic,
        exam=exam,
        original=kept,
        original_name=shown,
        original_sha256=mark,
        original_size=size,
        format=Format(kind),
        columns=columns.to_json() if columns else None,
        received_at=clock.now(),
        received_by=by.user,
    )
    trace.save()
    record(by, "trace received", trace, details={"format": kind, "bytes": size, "sha256": mark})
    return trace


@one_act()
def match_trace(
    *,
    trace: Trace,
    side: str,
    site: str,
    attempt: int,
    technique: str,
    cuff_width_mm: int | None = None,
    by: Person,
) -> Trace:
    """A person says where a recording was made, and how. With its columns known it is read next.

    Raises
    ------
    ValidationError
        At the field that does not fit; nothing was changed.
    """
    require(by, "receive traces", trace)
    exam, trace = _held(trace)
    place = _Place(side, site, attempt, technique)
    _check_place(exam, place, trace)
    if cuff_width_mm is not None and not 5 <= cuff_width_mm <= 250:
        raise ValidationError({"cuff_width_mm": "A cuff is 5 to 250 mm wide. Leave it empty if unsure."})
    _place_on(trace, place)
    trace.cuff_width_mm = cuff_width_mm
    trace.save()
    record(by, "trace matched", trace, details={"place": place.name, "technique": technique})
    if trace.columns is not None:
        _have_it_read(trace, by)
    return trace


@one_act()
def confirm_columns(*, trace: Trace, columns: Columns, by: Person) -> Trace:
    """A person says which column is which. With its site confirmed the recording is read next.

    Raises
    ------
    ValidationError
        If the recording has been read, or came without a file.
    """
    require(by, "receive traces", trace)
    _, trace = _held(trace)
    if not trace.original:
        raise ValidationError("A device sent this recording: it has no columns to choose.")
    trace.columns = columns.to_json()
    trace.save(update_fields=["columns"])
    record(by, "trace columns confirmed", trace, details=trace.columns)
    if trace.site:
        _have_it_read(trace, by)
    return trace


@one_act()
def withdraw_trace(*, trace: Trace, because: str, by: Person) -> Trace:
    """Take back a recording attached in error. It stays, with its marks; a reading it gave is not touched.

    Raises
    ------
    ValidationError
        Without a reason, or if it is withdrawn already.
    """
    require(by, "receive traces", trace)
    because = need(because, "because", "Say why it is withdrawn.")
    trace = Trace.objects.select_for_update(of=("self",)).select_related("exam").get(pk=trace.pk)
    if trace.withdrawn_at is not None:
        raise ValidationError("This recording is withdrawn already.")
    trace.withdrawn_at = clock.now()
    trace.withdrawn_by = by.user
    trace.withdrawn_because = because[:200]
    trace.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_because"])
    record(by, "trace withdrawn", trace, details={"because": trace.withdrawn_because})
    return trace


@one_act()
def open_original(*, trace: Trace, by: Person) -> bytes:
    """The file as it came, for a download.

    Raises
    ------
    ValidationError
        If there is none, or the stored one is not the one that came.
    """
    require(by, "see traces", trace)
    content = stored_original(trace)
    record(by, "trace file downloaded", trace)
    return content


def clean_name(name: str) -> str:
    """A file's name for showing: no path, nothing invisible, at most 120 letters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    seen = "".join(one for one in last if unicodedata.category(one)[0] != "C")
    return " ".join(seen.split())[:120] or "file without a name"


@dataclass(frozen=True)
class _Place:
    side: str
    site: str
    attempt: int
    technique: str

    @property
    def name(self) -> str:
        return f"{self.side}.{self.site}.{self.attempt}"


def looked_into(name: str, content: bytes) -> tuple[str, Columns | None]:
    """What kind of file it is, and its columns where nothing about them needs asking.

    Raises
    ------
    TraceFileError
        If it cannot be taken.
    """
    if len(content) > MOST_BYTES:
        raise TraceFileError("too_big", "A file may have 32 MB. Export the toe alone and drop that file.")
    if content.split(b"\n", 1)[0].strip() == _STANDARD_HEADER:
        return Format.CSV, _STANDARD
    # Not at the top: the readers bring libraries that a web process needs only here.
    from exams.traces.files import preview_safely, sniff

    kind = sniff(name, content)
    preview = preview_safely(kind, content)
    return kind, preview.suggested if preview.exact else None


def _not_here_already(exam: Exam, mark: str) -> None:
    same = Trace.objects.filter(exam=exam, original_sha256=mark, withdrawn_at=None).first()
    if same is not None:
        at = f" at {place_words(same.side, same.site, same.attempt)}" if same.site else ""
        raise ValidationError(
            f"This exam has the same recording already{at}. It was not added twice.", code="already"
        )


def _taking(exam: Exam) -> Exam:
    """The exam, held, if recordings can be attached to it now."""
    exam = held(exam)
    if exam.state in _TOO_EARLY:
        state = ExamState(exam.state)
        raise ValidationError(f"This exam is {state.label}. {WHAT_NEXT[state]} The file was not kept.")
    return exam


def _held(trace: Trace) -> tuple[Exam, Trace]:
    """A trace that still needs its site or its columns, with its exam, both held until the act is over."""
    exam = held(trace.exam)
    trace = Trace.objects.select_for_update(of=("self",)).get(pk=trace.pk)
    trace.exam = exam
    if trace.withdrawn_at is not None:
        raise ValidationError("This recording was withdrawn meanwhile. Nothing was changed.")
    if trace.state not in _OPEN:
        raise ValidationError(
            "This recording is matched already. If that was wrong, withdraw it with a reason and attach it "
            "again."
        )
    return exam, trace


def _check_place(exam: Exam, place: _Place, trace: Trace) -> None:
    if place.side not in SIDES:
        raise ValidationError({"side": "Choose RIGHT or LEFT."})
    if place.site not in SITE_NAMES:
        raise ValidationError({"site": "Choose the site from the list."})
    if place.attempt not in ATTEMPTS:
        raise ValidationError({"attempt": "Choose attempt 1, 2 or 3."})
    fitting = TECHNIQUES[kind_of_site(place.site)]
    if place.technique not in fitting:
        offered = ", ".join(str(Technique(one).label) for one in fitting)
        raise ValidationError({"technique": f"At this site choose one of: {offered}."})
    if place.site in chart_of(exam).lost(place.side):
        raise ValidationError(
            {"site": f"{place_words(place.side, place.site)} is on record as amputated or absent."}
        )
    if place.attempt in attempts_taken(exam, but=trace).get((place.side, place.site), set()):
        words = place_words(place.side, place.site, place.attempt)
        raise ValidationError(
            {
                "attempt": f"A recording of {words} is here already. Choose the next attempt, or withdraw "
                "that one."
            }
        )


def _place_on(trace: Trace, place: _Place) -> None:
    trace.side, trace.site, trace.attempt = place.side, place.site, place.attempt
    trace.technique = place.technique
    trace.kind = kind_of(place.site, place.technique)


def _have_it_read(trace: Trace, by: Person) -> None:
    trace.state = State.WAITING
    trace.problem = ""
    trace.job = start(READING, by, {"trace": trace.pk})
    trace.save(update_fields=["state", "problem", "job"])
