"""What stands in the exam sheet at a recording's place, and what the other sites say of its pressure."""

from collections.abc import Sequence
from decimal import Decimal

from access.people import Person
from access.permissions import allowed
from exams.patients.models import Caution
from exams.traces import desk as shown
from exams.traces.models import ReaderMark, Trace
from exams.traces.queries.by_hand import by_hand_words, read_first
from exams.visits.models import Exam, Outcome, Reading, Site
from exams.visits.plan import ANKLE_SITES, DONE_STATES, OPEN_STATES, TOE_SITES, Place
from exams.visits.queries.chart import Chart, moment_of
from exams.visits.remarks import APART_MMHG
from exams.visits.wording import SIDE_WORDS, plain, reading_shown

# What the desk says of a reading: building a query costs by the column.
_OF_A_READING = (
    "exam_id",
    "side",
    "site",
    "attempt",
    "outcome",
    "pressure_mmhg",
    "reason",
    "reason_text",
    "typed_at",
    "withdrawn",
    "replaces_id",
    "replaced_because",
    "entered_by__full_name",
)


def chart_for_desk(person: Person, exam: Exam) -> Chart:
    """The exam's readings and cautions, which is all the desk asks of a chart: two queries instead of six,
    and one where nothing could be written into the exam anyway."""
    on = moment_of(exam).astimezone(exam.clinic.zone).date()
    readings = Reading.objects.filter(exam=exam).select_related("entered_by").only(*_OF_A_READING)
    may_be_written = allowed(person, "measure") and exam.state in OPEN_STATES
    cautions = Caution.objects.filter(patient_id=exam.patient_id).order_by("pk") if may_be_written else ()
    return Chart(
        exam=exam,
        on=on,
        readings=tuple(sorted(readings, key=lambda row: row.pk)),
        preparations=(),
        cautions=tuple(one for one in cautions if one.in_force_on(on)),
        facts=(),
        flows=frozenset,
        earlier=frozenset(),
    )


def in_sheet(person: Person, trace: Trace, chart: Chart, marks: Sequence[ReaderMark]) -> shown.InSheet:
    """What stands at the place, and what this person's mark would do to it; ``marks`` of all at the place."""
    place = Place(trace.side, trace.site, trace.attempt)
    row = chart.standing.get(place)
    may = allowed(person, "measure")
    own = [mark for mark in marks if mark.trace_id == trace.pk]
    wrote = [mark.marked_by_id for mark in own if row is not None and mark.reading_id == row.pk]
    first = read_first(row, chart.readings, {mark.reading_id for mark in marks}) if row else None
    by_hand = first is not None and first != row and first.pk in {mark.reading_id for mark in own}
    mine = person.user.pk in wrote
    in_the_way = _in_the_way(trace, chart)
    if not may:
        words = "Your mark is kept beside it; it changes no measured value."
    elif mine:
        words = "Your own mark put it there: another one corrects it, unless you leave it."
    elif row is not None:
        words = "A mark that says the same is tied to it. If yours differs, say what shall stand."
    elif in_the_way:
        words = f"{in_the_way} Your mark is kept all the same."
    else:
        words = "Nothing stands there yet; your verdict writes it."
    newest = chart.newest.get(place)
    return shown.InSheet(
        seen=newest.pk if newest else 0,
        stands=reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text) if row else "",
        who=row.entered_by.full_name if row else "",
        when=shown.moment_words(row.typed_at) if row else "",
        mmhg=plain(row.pressure_mmhg) if row and row.outcome == Outcome.PRESSURE else "",
        from_this=bool(wrote),
        by_hand=by_hand_words(first) if first and by_hand else "",
        mine=mine,
        writes=may and row is None and not in_the_way,
        asks=may and row is not None,
        words=words,
    )


def _in_the_way(trace: Trace, chart: Chart) -> str:
    """Why nothing can be written at the place although nothing stands there; empty where it can."""
    exam = chart.exam
    if exam.state in DONE_STATES:
        return "The exam is measured: open it again to add this value."
    if exam.state not in OPEN_STATES:
        return f"The exam is {exam.get_state_display()}, so nothing can be written into its sheet."
    if not exam.indication or exam.cautions_confirmed_at is None:
        return "The sheet still asks for the indication and the cautions; nothing can be written before."
    locked = chart.lock_words(trace.side, trace.site)
    return f"{locked}: nothing is written by itself." if locked else ""


def compared_with(
    chart: Chart, trace: Trace, mmhg: float | None, repeats: Sequence[shown.RepeatLine]
) -> list[shown.Point]:
    """Whether repeats agree, and whether a toe stands above its ankle or arm by much."""
    points = [_repeat(mmhg, one) for one in repeats]
    if not repeats:
        points.append(shown.Point("", "There is no other recording of this site in this exam."))
    if mmhg is None or trace.site not in TOE_SITES:
        return points
    ankle = [one for site in ANKLE_SITES for one in chart.pressures(trace.side, site)]
    open_ankle = any(
        row.outcome == Outcome.NOT_OCCLUDABLE
        for site in ANKLE_SITES
        for row in chart.attempts(trace.side, site)
    )
    arm = [one for side in ("right", "left") for one in chart.pressures(side, Site.ARM)]
    where = SIDE_WORDS[trace.side]
    if open_ankle:
        points.append(
            shown.Point("", f"The {where} ankle could not be occluded: it says nothing about the toe.")
        )
    elif ankle:
        points.append(_above(mmhg, max(ankle), f"{where} ankle"))
    if arm:
        points.append(_above(mmhg, max(arm), "higher arm"))
    if not ankle and not arm:
        points.append(shown.Point("", "No ankle or arm pressure of this exam stands beside it yet."))
    return points


def _repeat(mmhg: float | None, one: shown.RepeatLine) -> shown.Point:
    said = f"{one.words.capitalize()}: {one.shown} ({one.by})"
    if mmhg is None or one.mmhg is None:
        return shown.Point("", f"{said}.")
    apart = abs(mmhg - one.mmhg)
    if apart <= APART_MMHG:
        return shown.Point("for", f"{said}, {apart:.0f} mmHg apart.")
    return shown.Point(
        "against", f"{said}, {apart:.0f} mmHg apart: which is right? Look at both, or record a third."
    )


def _above(mmhg: float, other: Decimal, name: str) -> shown.Point:
    above = mmhg - float(other)
    if above > APART_MMHG:
        return shown.Point(
            "against",
            f"{above:.0f} mmHg above the {name} ({plain(other)} mmHg): a toe rarely is. Repeat both?",
        )
    return shown.Point("for", f"Not much above the {name} ({plain(other)} mmHg).")
