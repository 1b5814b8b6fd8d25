"""A verdict is kept beside every other, and writes into the exam sheet only what it may."""

from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access.models import TrailRow
from access.permissions import NotHere
from access.roles import Role
from exams.hemodynamics import Confidence
from exams.traces.models import ReaderMark
from exams.traces.queries.desk import trace_of_reading
from exams.traces.queries.pictures import picture_of, pictures_of, recordings_behind
from exams.traces.services.marks import ForSheet, mark_trace
from exams.visits.errors import StaleValue
from exams.visits.models import Outcome, Reading
from exams.visits.wording import plain
from tests.build import booked_exam, enter, exam_with, ready_exam, whole_exam
from tests.people import person
from tests.traces.made import newest_analysis, read_recording


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def trace(measurer, exam):
    """A clean RIGHT hallux; 90 mmHg is suggested."""
    return read_recording(measurer, exam)


def mark(trace, by, **said) -> ReaderMark:
    """The suggestion accepted as good, unless something else is said."""
    usual = {"verdict": "good", "pressure_mmhg": Decimal(90), "time_s": None, "how": "accepted"}
    usual |= {"reason": "", "blind": False, "analysis": newest_analysis(trace)}
    return mark_trace(trace=trace, by=by, **{**usual, **said})


def moved(trace, by, mmhg, **said) -> ReaderMark:
    return mark(trace, by, pressure_mmhg=Decimal(str(mmhg)), how="moved", **said)


def refused(trace, by, verdict="unreadable", **said) -> ReaderMark:
    said = {"reason": "the foot or the cable moved", **said}
    return mark(trace, by, verdict=verdict, pressure_mmhg=None, how="none", **said)


def standing(exam, site="toe_1") -> list[str]:
    rows = Reading.objects.filter(exam=exam, site=site, replaced_by=None, withdrawn=False)
    return [plain(row.pressure_mmhg) or row.reason for row in rows]


def test_an_accepted_suggestion_is_the_reading_of_the_sheet(trace, exam, measurer):
    kept = mark(trace, measurer)

    assert standing(exam) == ["90"]
    assert kept.reading.outcome == Outcome.PRESSURE
    assert kept.reading.technique == trace.technique


def test_a_mark_is_kept_with_person_time_and_both_versions(trace, measurer, settings):
    kept = mark(trace, measurer)

    assert kept.marked_by == measurer.user
    assert kept.marked_at is not None
    assert (kept.program_version, kept.analysis.version) == (settings.VERSION, newest_analysis(trace).version)


def test_the_sheet_takes_whole_mmhg_while_the_mark_keeps_its_half(trace, exam, measurer):
    kept = moved(trace, measurer, 86.5)

    assert (kept.pressure_mmhg, standing(exam)) == (Decimal("86.5"), ["87"])


def test_one_mark_has_one_pressure_whatever_time_is_sent_with_it(trace, measurer):
    elsewhere = moved(trace, measurer, 80, time_s=18.0)
    there = moved(trace, measurer, 80, time_s=elsewhere.time_s + 0.05, reason="again")

    assert elsewhere.time_s != 18.0
    assert there.time_s == pytest.approx(elsewhere.time_s + 0.05)


def test_a_pressure_the_recording_does_not_hold_is_refused(trace, measurer):
    with pytest.raises(
        ValidationError, match="30 mmHg is not on this recording: its cuff falls from 114 to 56"
    ):
        moved(trace, measurer, 30)

    assert not ReaderMark.objects.exists()


@pytest.mark.parametrize("found", [{"confidence": Confidence.LOW}, {"usable": False}])
def test_a_suggestion_that_is_unsure_or_unusable_cannot_be_taken_over(measurer, exam, found):
    trace = read_recording(measurer, exam, **found)
    suggested = newest_analysis(trace).pressure_mmhg.quantize(Decimal(1))

    with pytest.raises(ValidationError, match="not sure enough to be taken over"):
        mark(trace, measurer, pressure_mmhg=suggested, reason="looks fine")


def test_a_recording_flagged_as_not_to_be_reported_is_read_only_with_a_reason(measurer, exam):
    trace = read_recording(measurer, exam, family="artefact_at_start")

    with pytest.raises(ValidationError, match="flagged as not to be reported"):
        moved(trace, measurer, 85)
    kept = moved(trace, measurer, 85, verdict="caution", reason="the dip is the cuff")

    assert kept.reading is not None


def test_another_value_in_the_sheet_stays_and_both_are_kept(measurer):
    exam = exam_with(measurer, right_hallux=48)
    trace = read_recording(measurer, exam)

    kept = mark(trace, measurer)

    assert (kept.reading, standing(exam)) == (None, ["48"])


def test_a_value_that_says_the_same_becomes_the_marks_reading(measurer):
    exam = exam_with(measurer, right_hallux=90)

    kept = mark(read_recording(measurer, exam), measurer)

    assert kept.reading == exam.readings.get(site="toe_1")


def test_the_person_may_correct_the_sheet_with_a_reason(measurer):
    exam = exam_with(measurer, right_hallux=48)
    trace = read_recording(measurer, exam)

    with pytest.raises(ValidationError, match="Say why the value in the sheet is corrected"):
        mark(trace, measurer, sheet=ForSheet.CORRECT)
    kept = mark(trace, measurer, sheet=ForSheet.CORRECT, reason="digits swapped")

    assert standing(exam) == ["90"]
    assert kept.reading.replaced_because == "digits swapped"
    assert kept.reading.replaces.pressure_mmhg == 48


def test_a_value_put_there_meanwhile_is_never_corrected_unseen(measurer):
    exam = exam_with(measurer, right_hallux=48)
    trace = read_recording(measurer, exam)
    seen = exam.readings.get(site="toe_1").pk
    enter(exam, "right.toe_1.1", 84, measurer)

    with pytest.raises(StaleValue) as stale:
        mark(trace, measurer, sheet=ForSheet.CORRECT, reason="digits swapped", seen_revision=seen)

    assert stale.value.shown == "84 mmHg"
    assert not ReaderMark.objects.exists()


def test_a_measured_exam_is_corrected_with_the_reason_and_never_added_to(measurer):
    exam = whole_exam(measurer)
    first, second = read_recording(measurer, exam), read_recording(measurer, exam, attempt=2, seed=5)

    corrected = mark(first, measurer, sheet=ForSheet.CORRECT, reason="read from the recording")
    beside = moved(second, measurer, 88)

    assert corrected.reading.pressure_mmhg == 90
    assert beside.reading is None


def test_where_the_sheet_takes_no_reading_yet_the_mark_is_kept_all_the_same(measurer, patient):
    exam = booked_exam(measurer, patient)

    kept = mark(read_recording(measurer, exam), measurer)

    assert kept.reading is None
    assert not exam.readings.exists()


def test_asked_to_leave_the_sheet_nothing_is_written(trace, exam, measurer):
    assert mark(trace, measurer, sheet=ForSheet.LEAVE).reading is None
    assert standing(exam) == []


def test_a_reporters_mark_stands_beside_and_changes_no_value(trace, exam, measurer, reporter):
    mark(trace, measurer)

    kept = moved(trace, reporter, 84)

    assert (kept.reading, standing(exam)) == (None, ["90"])
    assert ReaderMark.objects.filter(replaces=None).count() == 2


def test_a_mark_of_ones_own_is_replaced_with_a_reason_and_stays(trace, measurer):
    first = mark(trace, measurer)

    with pytest.raises(ValidationError, match="Say why your earlier mark is replaced"):
        moved(trace, measurer, 84)
    second = moved(trace, measurer, 84, reason="one beat too early")

    assert second.replaces == first
    assert ReaderMark.objects.count() == 2


@pytest.mark.parametrize("verdict", ["unreadable", "repeat"])
def test_a_recording_is_refused_with_a_reason_and_writes_nothing(trace, exam, measurer, verdict):
    with pytest.raises(ValidationError, match="Say why"):
        refused(trace, measurer, verdict, reason=" ")
    kept = refused(trace, measurer, verdict)

    assert (kept.pressure_mmhg, kept.reading, kept.how) == (None, None, "none")
    assert standing(exam) == []


def test_unreadable_writes_not_obtained_only_when_asked_to(trace, exam, measurer):
    kept = refused(trace, measurer, not_obtained=True)

    assert standing(exam) == ["signal_unreadable"]
    assert kept.reading.outcome == Outcome.NOT_OBTAINED


def test_a_blind_mark_writes_nothing_and_comes_from_a_fresh_eye(trace, exam, measurer, reporter):
    mark(trace, measurer)

    kept = moved(trace, reporter, 84, blind=True)
    with pytest.raises(ValidationError, match="must come from somebody who has not"):
        moved(trace, measurer, 84, blind=True)

    assert (kept.blind, kept.reading, standing(exam)) == (True, None, ["90"])


def test_a_withdrawn_recording_cannot_be_marked(trace, measurer, exam):
    analysis = newest_analysis(trace)
    trace.withdrawn_at, trace.withdrawn_by, trace.withdrawn_because = (
        exam.created_at,
        measurer.user,
        "other foot",
    )
    trace.save()

    with pytest.raises(ValidationError, match="cannot be marked any more"):
        mark(trace, measurer, analysis=analysis)


def test_only_who_marks_traces_of_this_clinic_may_mark(trace, wound_nurse, outsider):
    with pytest.raises(PermissionDenied):
        mark(trace, wound_nurse)
    with pytest.raises(NotHere):
        mark(trace, outsider)


def test_a_verdict_leaves_its_line_and_the_reading_its_own(trace, measurer, exam):
    mark(trace, measurer)

    rows = TrailRow.objects.filter(action__in=["trace marked", "reading recorded"]).order_by("pk")
    assert [(row.action, row.patient_id) for row in rows] == [
        ("reading recorded", exam.patient_id),
        ("trace marked", exam.patient_id),
    ]
    assert '"new": "90"' in rows[1].details_json


def test_a_reading_leads_to_its_recording_and_its_picture(trace, measurer, reporter, outsider):
    kept = mark(trace, measurer)
    moved(trace, reporter, 84)

    picture = pictures_of([kept.reading], [kept.reading])[kept.reading_id]

    assert trace_of_reading(reporter, kept.reading_id) == trace.pk
    assert (picture.trace_id, picture.pressure, picture.quality) == (trace.pk, "90 mmHg", "good")
    assert picture.suggested == "90 mmHg (86 to 95)"
    with pytest.raises(NotHere):
        trace_of_reading(outsider, kept.reading_id)


def test_any_number_of_pictures_takes_one_query(measurer, django_assert_num_queries):
    exam = ready_exam(measurer)
    kept = [mark(read_recording(measurer, exam, side=side), measurer).reading for side in ("right", "left")]

    with django_assert_num_queries(1):
        assert len(pictures_of(kept, kept)) == 2


def test_a_value_corrected_by_hand_keeps_the_recording_and_the_words_for_it(
    trace, exam, measurer, django_assert_num_queries
):
    first = mark(trace, measurer).reading
    for typed in (84, 86):
        enter(exam, "right.toe_1.1", typed, measurer)
    now = exam.readings.latest("pk")

    (picture,) = pictures_of([now], list(exam.readings.all())).values()
    with django_assert_num_queries(1):
        behind = recordings_behind(measurer, exam.patient)

    assert (picture.trace_id, picture.pressure) == (trace.pk, "90 mmHg")
    assert picture.by_hand == "corrected by hand; read from the recording as 90 mmHg"
    assert (behind[first.pk].by_hand, behind[now.pk].by_hand) == ("", picture.by_hand)
    assert (behind[now.pk].trace_id, behind[now.pk].place, behind[now.pk].drawn) == (
        trace.pk,
        "RIGHT hallux",
        True,
    )


def test_a_correction_tells_no_pressure_of_the_recording_to_who_could_read_it_blind(
    trace, exam, measurer, reporter
):
    mark(trace, measurer)
    enter(exam, "right.toe_1.1", 84, measurer)

    link = recordings_behind(reporter, exam.patient)[exam.readings.latest("pk").pk]

    assert (link.drawn, link.by_hand) == (False, "corrected by hand")


def test_a_recording_nobody_has_reviewed_says_so_in_its_picture(trace, measurer, exam):
    leaking = read_recording(measurer, exam, family="leaking_occlusion", site="toe_2")

    assert picture_of(measurer, trace.pk).quality == "not reviewed yet"
    assert picture_of(measurer, leaking.pk).quality == "not reviewed, not to be reported"


def test_measurers_of_one_exam_each_keep_their_mark(trace, exam, clinic, measurer):
    colleague = person("Moss Measurer", clinic, Role.MEASURER)
    mark(trace, measurer)

    beside = moved(trace, colleague, 84)
    corrected = moved(trace, colleague, 84, sheet=ForSheet.CORRECT, reason="one beat late")

    assert (beside.reading, corrected.reading.pressure_mmhg) == (None, 84)
    assert ReaderMark.objects.filter(replaced_by=None).count() == 2
