"""The recordings of an exam, and one of them, for a person of its clinic. A fixed number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from django.db.models import Count, Exists, IntegerField, OuterRef, Q, QuerySet

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, allowed, require
from access.prepared import Given, Prepared
from exams.traces.models import Analysis, Format, ReaderMark, State, Trace, TraceSeen, Verdict
from exams.traces.queries.by_hand import by_hand_words, read_first, words_of
from exams.visits.models import Exam, ExamState, Reading, Site
from exams.visits.plan import kind_of_site
from exams.visits.queries.exams import exam_for
from exams.visits.wording import place_words, plain, technique_words, whole_mmhg

_SIZEABLE = ("samples",)
# What a line says of a recording, a suggestion, a mark and a reading: building a query costs by the column.
_OF_A_LINE = (
    "side",
    "site",
    "attempt",
    "technique",
    "state",
    "problem",
    "original",
    "original_name",
    "format",
    "recorded_at",
    "received_at",
    "received_by__full_name",
    "withdrawn_at",
    "withdrawn_because",
)
_OF_A_SUGGESTION = ("trace_id", "pressure_mmhg", "low_mmhg", "high_mmhg", "usable", "computed_at")
_OF_A_VERDICT = ("trace_id", "verdict", "pressure_mmhg", "blind", "marked_by_id", "marked_at", "reading_id")
_OF_A_READING = (
    "side",
    "site",
    "attempt",
    "technique",
    "outcome",
    "pressure_mmhg",
    "reason",
    "reason_text",
    "withdrawn",
    "replaces_id",
)
_SHOWN = Exam.objects.select_related("patient").only(
    "clinic_id",
    "booked_for",
    "patient__clinic_id",
    "patient__family_name",
    "patient__given_name",
    "patient__birth_date",
    "patient__sex",
    "patient__diabetes",
    "patient__kidney_disease",
)
_SITES: list[str] = list(Site.values)  # in the order of the sheet


@dataclass(frozen=True)
class TraceLine:
    """One recording in a list.

    ``state`` is that of the trace, or "withdrawn". ``words`` says how it stands; ``suggested`` and
    ``verdict`` are empty where nothing was suggested or nobody has given one. ``needs`` is what a person
    must confirm: "site", "columns" or nothing. ``untold``: this person could still read it without knowing
    what others make of it, so ``suggested`` and ``verdict`` name no pressure. ``blind``: others have read it,
    so that would be worth something. ``in_sheet``: it gave the exam sheet a value;
    ``by_hand`` says what stands there instead where that was corrected. ``which`` tells recordings of one
    place and attempt apart: "first recording 14:02", "repeat 14:09"; empty where there is one.
    """

    trace_id: int
    place: str
    which: str
    side: str
    technique: str
    name: str
    has_file: bool
    state: str
    words: str
    needs: str
    suggested: str
    verdict: str
    received_at: datetime
    received_by: str
    withdrawn_because: str
    untold: bool
    blind: bool
    in_sheet: bool
    by_hand: str

    @property
    def title(self) -> str:
        return ", ".join(filter(None, (self.place or self.name, self.which)))

    @property
    def is_read(self) -> bool:
        return self.state == State.READ

    @property
    def to_review(self) -> bool:
        return self.is_read and not self.verdict


@dataclass(frozen=True)
class Recordings:
    """The recordings of an exam, and the technique by which its toes were last recorded or measured."""

    lines: list[TraceLine]
    technique: str


def exam_listed(person: Person, exam_id: int) -> Exam:
    """The exam of that number, with no more of it and its patient than the list of its recordings names.

    Raises
    ------
    NotHere
        For a number of another clinic or of nobody.
    """
    require(person, "see traces")
    require(person, "see exam")
    exam = next(iter(_SHOWN.filter(clinic=person.clinic, pk=exam_id)), None)
    if exam is None or person.clinic is None:
        raise NotHere("no such exam in this clinic")
    exam.clinic = person.clinic  # at hand, and need not be read again
    return exam


def exam_shown(person: Person, exam_id: int) -> Exam:
    """The exam of that number, with its patient, for whoever may see recordings.

    Raises
    ------
    NotHere
        For a number of another clinic or of nobody.
    """
    require(person, "see traces")
    return exam_for(person, exam_id)


def trace_for(person: Person, trace_id: int) -> Trace:
    """The recording of that number, with its exam, patient and clinic.

    Raises
    ------
    NotHere
        For a number of another clinic or of nobody.
    """
    require(person, "see traces")
    return _found(person, trace_id)


def trace_sent_by(person: Person, trace_id: int) -> Trace:
    """The same for whoever sends recordings, a device too: its worker reads what it sent.

    Raises
    ------
    NotHere
        For a number of another clinic or of nobody.
    """
    require(person, "send traces")
    return _found(person, trace_id)


def to_be_reviewed(person: Person) -> QuerySet[Trace]:
    """Recordings of the clinic that were read and have no reader's verdict, the oldest first."""
    require(person, "see traces")
    return _without_verdict(person.clinic).defer(*_SIZEABLE).order_by("received_at", "pk")


def _without_verdict(clinic: Clinic | Given | None) -> QuerySet[Trace]:
    verdicts = ReaderMark.objects.filter(trace=OuterRef("pk"), blind=False)
    read = Trace.objects.filter(clinic=clinic, state=State.READ, withdrawn_at=None)
    # Those of an exam of the wrong person are read where the exam was entered again.
    return read.exclude(exam__state=ExamState.IN_ERROR).exclude(Exists(verdicts))


_waiting = Prepared(
    lambda: (
        _without_verdict(Given("clinic", IntegerField()))
        .order_by()
        .values("clinic")
        .annotate(number=Count("pk"))
    ),
    "number",
)


def waiting_for_review(person: Person) -> int:
    """How many there are; one query, none for whoever may not mark them."""
    if person.clinic is None or not allowed(person, "mark traces"):
        return 0
    return sum(number for (number,) in _waiting.rows(clinic=person.clinic.pk))


def traces_of(person: Person, exam: Exam) -> list[TraceLine]:
    """Every recording of an exam the caller was given, in the order of the sheet; four queries.

    Those still to be matched come first, withdrawn ones last. No pressure is told to whoever might still
    read a recording blind.
    """
    return recordings_of(person, exam).lines


def recordings_of(person: Person, exam: Exam) -> Recordings:
    """The same with how the toes were last recorded or measured; five queries."""
    found = Trace.objects.filter(exam=exam).select_related("received_by").only(*_OF_A_LINE)
    traces = sorted(found, key=lambda one: one.pk)
    numbers = [one.pk for one in traces]
    suggested = Analysis.objects.filter(trace__in=numbers).only(*_OF_A_SUGGESTION)
    analyses = {one.trace_id: one for one in sorted(suggested, key=lambda one: (one.computed_at, one.pk))}
    marks = sorted(
        ReaderMark.objects.filter(trace__in=numbers).only(*_OF_A_VERDICT),
        key=lambda one: (one.marked_at, one.pk),
    )
    given = {one.trace_id: one for one in marks if not one.blind}
    wrote = {one.reading_id: one.trace_id for one in marks if one.reading_id is not None and not one.blind}
    readings = sorted(Reading.objects.filter(exam=exam).only(*_OF_A_READING), key=lambda row: row.pk)
    corrected = _corrected(readings, wrote)
    untold = _untold(person, numbers, marks)
    which = _which(traces, exam.clinic.zone)
    lines = [
        _line(
            one,
            analyses.get(one.pk),
            given.get(one.pk),
            which=which.get(one.pk, ""),
            untold=one.pk in untold,
            in_sheet=one.pk in wrote.values(),
            by_hand=corrected.get(one.pk, ""),
        )
        for one in sorted(traces, key=_in_order)
    ]
    placed = [one for one in traces if one.site and one.withdrawn_at is None]
    said = [(row.site, row.technique) for row in readings]
    used = _used(said + [(one.site, one.technique) for one in placed])
    return Recordings(lines, used["toes"])


def _untold(person: Person, traces: Sequence[int], marks: Iterable[ReaderMark]) -> set[int]:
    """Which of these recordings this person could still read blind; `told_to` says it within a query."""
    if not allowed(person, "mark traces"):
        return set()
    seen = TraceSeen.objects.filter(trace__in=traces, person=person.user).values_list("trace", flat=True)
    return set(traces) - set(seen) - {one.trace_id for one in marks if one.marked_by_id == person.user.pk}


def told_to(person: Person, trace: str = "pk") -> Q:
    """Whether this person can give no blind reading of a recording any more, as a part of a query.

    They have had its figures on their screen, or have marked it themselves. ``trace`` names its number.
    """
    seen = TraceSeen.objects.filter(trace=OuterRef(trace), person=person.user)
    marked = ReaderMark.objects.filter(trace=OuterRef(trace), marked_by=person.user)
    return Exists(seen) | Exists(marked)


def to_match(exam: Exam) -> list[Trace]:
    """Files of an exam whose site nobody has confirmed yet, in the order they came."""
    waiting = Trace.objects.filter(exam=exam, site="", withdrawn_at=None)
    return list(waiting.defer(*_SIZEABLE).order_by("pk"))


def attempts_taken(exam: Exam, but: Trace | None = None) -> dict[tuple[str, str], set[int]]:
    """Attempts that have a recording standing, by side and site, not counting ``but``.

    One that could not be read, that its reader refused, or asked to be repeated, gives its place away.
    """
    taken: dict[tuple[str, str], set[int]] = {}
    refused = ReaderMark.objects.filter(
        trace=OuterRef("pk"), blind=False, replaced_by=None, verdict__in=[Verdict.UNREADABLE, Verdict.REPEAT]
    )
    placed = Trace.objects.filter(exam=exam, withdrawn_at=None).exclude(site="").exclude(state=State.FAILED)
    standing = placed.exclude(Exists(refused))
    if but is not None:
        standing = standing.exclude(pk=but.pk)
    for side, site, attempt in standing.values_list("side", "site", "attempt"):
        taken.setdefault((side, site), set()).add(attempt)
    return taken


def techniques_used(exam: Exam) -> dict[str, str]:
    """How this exam's toes, and its other sites, were last recorded or measured; "" where nothing was yet."""
    placed = Trace.objects.filter(exam=exam, withdrawn_at=None).exclude(site="").order_by("pk")
    said = [
        *exam.readings.order_by("pk").values_list("site", "technique"),
        *placed.values_list("site", "technique"),
    ]
    return _used(said)


def _used(said: Iterable[tuple[str, str]]) -> dict[str, str]:
    used = {"toes": "", "others": ""}
    for site, technique in said:
        used["toes" if kind_of_site(site) == "toe" else "others"] = technique
    return used


def _found(person: Person, trace_id: int) -> Trace:
    found = (
        Trace.objects.filter(pk=trace_id, clinic=person.clinic)
        .select_related("exam__clinic", "exam__patient", "clinic")
        .defer(*_SIZEABLE)
        .first()
    )
    if found is None:
        raise NotHere("no such recording in this clinic")
    return found


def _in_order(trace: Trace) -> tuple[bool, int, bool, int, int]:
    site = _SITES.index(trace.site) if trace.site else -1
    return trace.withdrawn_at is not None, site, trace.side == "left", trace.attempt, trace.pk


def _which(traces: Sequence[Trace], zone: tzinfo) -> dict[int, str]:
    """What tells recordings of one place and attempt apart, such as a refused one and its repeat.

    One that was withdrawn is told apart by that.
    """
    places: dict[tuple[str, str, int], list[Trace]] = {}
    for one in traces:
        if one.site and one.withdrawn_at is None:
            places.setdefault((one.side, one.site, one.attempt), []).append(one)
    said = {}
    for at_the_place in places.values():
        for number, one in enumerate(at_the_place if len(at_the_place) > 1 else ()):
            name = {0: "first recording", 1: "repeat"}.get(number, f"repeat {number}")
            said[one.pk] = f"{name} {(one.recorded_at or one.received_at).astimezone(zone):%H:%M}"
    return said


def _line(
    trace: Trace,
    analysis: Analysis | None,
    mark: ReaderMark | None,
    *,
    which: str,
    untold: bool,
    in_sheet: bool,
    by_hand: str,
) -> TraceLine:
    state = "withdrawn" if trace.withdrawn_at else trace.state
    suggested, verdict = _suggested(analysis, untold), _verdict(mark, untold)
    return TraceLine(
        trace_id=trace.pk,
        place=place_words(trace.side, trace.site, trace.attempt) if trace.site else "",
        which=which,
        side=trace.side,
        technique=technique_words(trace.technique),
        name=trace.original_name,
        has_file=bool(trace.original),
        state=state,
        words=_words(trace, state, verdict),
        needs=_needs(trace, state),
        suggested=suggested,
        verdict=verdict,
        received_at=trace.received_at,
        received_by=trace.received_by.full_name,
        withdrawn_because=trace.withdrawn_because,
        untold=untold,
        blind=untold and mark is not None and state == State.READ,
        in_sheet=in_sheet,
        by_hand="" if untold else by_hand,
    )


def _corrected(readings: Sequence[Reading], wrote: dict[int, int]) -> dict[int, str]:
    """By recording: what stands in the sheet where the value it gave was corrected by hand."""
    newest = {(row.side, row.site, row.attempt): row for row in readings}
    said = {}
    for row in newest.values():
        first = read_first(row, readings, wrote)
        if first is not None and first != row:
            stands = "nothing any more" if row.withdrawn else words_of(row)
            said[wrote[first.pk]] = f"{stands}, {by_hand_words(first)}"
    return said


def _needs(trace: Trace, state: str) -> str:
    if state not in (State.ARRIVED, State.FAILED):
        return ""
    if not trace.site:
        return "site"
    return "columns" if trace.format != Format.PIECES else ""


def _words(trace: Trace, state: str, verdict: str) -> str:
    if state == "withdrawn":
        return f"withdrawn: {trace.withdrawn_because}"
    if state == State.FAILED:
        return f"could not be read. {trace.problem}"
    if state == State.ARRIVED:
        return "say which column is which" if trace.site else "say which site it is"
    if state == State.WAITING:
        return "being read"
    if state == State.GROWING:
        return "arriving now"
    stands = "reviewed" if verdict else "waits for a reader"
    return f"{stands}. {trace.problem}" if trace.problem else stands


def _suggested(analysis: Analysis | None, untold: bool) -> str:
    if analysis is None:
        return ""
    found, low, high = analysis.pressure_mmhg, analysis.low_mmhg, analysis.high_mmhg
    if found is None or low is None or high is None or not analysis.usable:
        return "none: no pressure should be reported from it"
    if untold:
        return "a pressure, shown at the desk"
    return f"{whole_mmhg(found)} mmHg ({whole_mmhg(low)} to {whole_mmhg(high)})"


def _verdict(mark: ReaderMark | None, untold: bool) -> str:
    if mark is None:
        return ""
    if untold:
        return "marked by another reader"
    words = str(Verdict(mark.verdict).label)
    return f"{plain(mark.pressure_mmhg)} mmHg, {words}" if mark.pressure_mmhg is not None else words
