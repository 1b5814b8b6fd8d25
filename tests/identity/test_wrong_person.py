"""An exam recorded under the wrong person: struck through there, entered again under the right one."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse

from access.models import TrailRow
from exams.identity.services import enter_under_right_person
from exams.traces.models import Trace
from exams.traces.queries.exam import to_be_reviewed
from exams.visits.models import Exam, ExamState, HandOver
from exams.visits.queries.exams import exams_of
from exams.visits.services import differences, record_preparation, set_indication
from tests.build import booked_exam, enter, exam_with, new_patient, reading_at, whole_exam
from tests.identity.make import report_of
from tests.patients.make import caution, fact
from tests.traces.made import read_recording

WHY = "two sheets were open; the patient said so"


def again(exam, patient, by, because=WHY):
    return enter_under_right_person(exam=exam, patient=patient, because=because, by=by)


def test_the_exam_is_not_moved_but_entered_again_with_a_link_both_ways(measurer, reporter):
    wrong = whole_exam(measurer, conditions={"position": "supine"}, right_hallux=48)
    right_person = new_patient(measurer)

    new = again(wrong, right_person, reporter)

    wrong.refresh_from_db()
    assert (wrong.state, wrong.in_error_by, wrong.closed_because) == (ExamState.IN_ERROR, reporter.user, WHY)
    assert (new.patient, new.state, new.entered_again_from) == (right_person, ExamState.MEASURED, wrong)
    assert wrong.entered_again_as == new
    assert reading_at(new, "right_hallux").pressure_mmhg == reading_at(wrong, "right_hallux").pressure_mmhg
    assert new.preparations.get().value == "supine"
    assert (new.measured_at, new.first_inflation_at) == (wrong.measured_at, wrong.first_inflation_at)
    assert differences(new) == []


def test_findings_are_those_of_the_right_person(measurer, reporter):
    wrong = whole_exam(measurer, right_hallux=24)
    right_person = new_patient(measurer)
    fact(measurer, right_person, side="right", started_on=date(2020, 1, 1))

    new = again(wrong, right_person, reporter)

    flags = list(HandOver.objects.filter(closed_at=None).values_list("exam", "flag"))
    assert flags == [(new.pk, "URGENT_VASCULAR")]
    slip = HandOver.objects.get(exam=wrong)
    assert slip.raised_in_error_because == f"The exam is another person's: {WHY}"


def test_only_what_stands_is_entered_again(measurer, reporter):
    wrong = exam_with(measurer, arm_right=140, right_hallux=48)
    enter(wrong, "right.toe_1.1", "50", measurer)
    enter(wrong, "right.arm.1", "", measurer)

    new = again(wrong, new_patient(measurer), reporter)

    assert [(row.site, row.pressure_mmhg, row.replaces) for row in new.readings.all()] == [
        ("toe_1", 50, None)
    ]
    assert new.state == ExamState.MEASURING


def test_a_cuff_where_the_right_person_must_not_have_one_is_marked(measurer, reporter):
    wrong = exam_with(measurer, arm_right=140, arm_left=138)
    right_person = new_patient(measurer)
    caution(measurer, right_person)

    new = again(wrong, right_person, reporter)

    assert reading_at(new, "arm_right").override_because == (
        "inflated before it was known whose arm or leg it was"
    )
    assert reading_at(new, "arm_left").override_because == ""


def test_a_person_who_had_lost_what_was_measured_is_refused(measurer, reporter):
    wrong = exam_with(measurer, arm_right=140, right_hallux=48)
    right_person = new_patient(measurer)
    fact(measurer, right_person, kind="amputation", level="toe", toe=1, started_on=date(2020, 1, 1))

    with pytest.raises(ValidationError, match="RIGHT hallux, which this person had lost"):
        again(wrong, right_person, reporter)

    assert Exam.objects.count() == 1


def test_it_counts_for_nobody_and_nothing_can_be_recorded_in_it(measurer, reporter):
    wrong = whole_exam(measurer)
    again(wrong, new_patient(measurer), reporter)

    assert exams_of(measurer, wrong.patient) == []
    with pytest.raises(ValidationError, match="entered in error"):
        enter(wrong, "right.toe_1.2", "50", measurer)
    with pytest.raises(ValidationError, match="entered in error"):
        set_indication(exam=wrong, indication="rest_pain", by=measurer)
    with pytest.raises(ValidationError, match="entered in error"):
        record_preparation(
            exam=wrong, item="room_celsius", value="24", by=measurer, seen_revision=0, reason="x",
            client_id="7f8d3f8e-5ad8-4c12-9d2e-0f4f6a0d7c11",
        )  # fmt: skip


def test_it_is_corrected_once_by_a_reporter_with_a_reason_and_for_somebody_else(measurer, reporter):
    wrong, right_person = whole_exam(measurer), new_patient(measurer)

    with pytest.raises(PermissionDenied):
        again(wrong, right_person, measurer)
    with pytest.raises(ValidationError, match="Say why"):
        again(wrong, right_person, reporter, because=" ")
    with pytest.raises(ValidationError, match="under this person already"):
        again(wrong, wrong.patient, reporter)
    with pytest.raises(ValidationError, match="nothing was measured"):
        again(booked_exam(measurer), right_person, reporter)
    again(wrong, right_person, reporter)
    with pytest.raises(ValidationError, match="entered again under the right person already"):
        again(wrong, new_patient(measurer), reporter)


def test_its_recordings_are_entered_again_too_and_wait_for_a_reader(measurer, reporter):
    wrong = exam_with(measurer, arm_right=140)
    first = read_recording(measurer, wrong)

    new = again(wrong, new_patient(measurer), reporter)

    copy = Trace.objects.get(exam=new)
    assert list(to_be_reviewed(reporter)) == [copy]
    assert (copy.samples_sha256, copy.analyses.count()) == (first.samples_sha256, 1)


def test_the_trail_of_both_records_tells_it(measurer, reporter):
    wrong, right_person = whole_exam(measurer), new_patient(measurer)

    new = again(wrong, right_person, reporter)

    told = TrailRow.objects.filter(action__startswith="exam entered").order_by("pk")
    assert [(row.patient_id, row.action, row.subject_id) for row in told] == [
        (wrong.patient_id, "exam entered in error", str(wrong.pk)),
        (right_person.pk, "exam entered again under the right person", str(new.pk)),
    ]


def test_a_report_of_it_is_withdrawn_and_stays_readable(measurer, reporter, client_as):
    wrong = whole_exam(measurer)
    document = report_of(wrong, reporter)
    again(wrong, new_patient(measurer), reporter)
    client = client_as(reporter)

    page = client.get(reverse("documents:document", args=[document.pk])).content.decode()

    assert "WITHDRAWN: the exam was another person's" in page
    assert document.conclusion[:30] in page
    assert "withdrawn" in client.get(reverse("documents:list")).content.decode()


def test_the_sheets_name_each_other(measurer, reporter, client_as):
    wrong = whole_exam(measurer)
    new = again(wrong, new_patient(measurer), reporter)
    client = client_as(measurer)

    sheet = client.get(reverse("visits:sheet", args=[wrong.pk])).content.decode()
    old_part, new_part = (
        client.get(reverse("identity:exam_part", args=[pk])).content.decode() for pk in (wrong.pk, new.pk)
    )

    assert "Nothing here may be used" in sheet
    assert f"as exam {new.pk}" in old_part
    assert f"The first entry, exam {wrong.pk}" in new_part


def test_a_sheet_says_so_without_a_script_too(measurer, reporter, client_as):
    """The twin's notice is fetched by a script; without one its short form stands on the sheet itself."""
    wrong = whole_exam(measurer)
    new = again(wrong, new_patient(measurer), reporter)

    old_sheet, new_sheet = (
        client_as(reporter).get(reverse("visits:sheet", args=[pk])).content.decode()
        for pk in (wrong.pk, new.pk)
    )

    assert "Where this exam went" in old_sheet
    assert "This exam is another person's" not in old_sheet
    assert f"The first entry, exam {wrong.pk}" in new_sheet
    assert reverse("identity:wrong_person", args=[new.pk]) in new_sheet
