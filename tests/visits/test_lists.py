"""What waits, for Today and for the patient page: each list one query, and only of the own clinic."""

from datetime import timedelta

from access import clock
from exams.patients.queries import today_in
from exams.patients.services import record_limb_fact
from exams.visits.drawn_lists import booked_rows, unreported_rows
from exams.visits.queries.exams import booked_and_open, exams_without_report, open_hand_overs
from exams.visits.services import mark_reported, not_attended
from tests.build import booked_exam, exam_with, new_patient, whole_exam


def tonight():
    return clock.now() + timedelta(hours=12)


def test_booked_and_open_exams_are_listed_the_earliest_first(measurer):
    second = booked_exam(measurer, booked_for=clock.now() + timedelta(hours=2))
    first = exam_with(measurer, arm_right=140)
    booked_exam(measurer, booked_for=clock.now() + timedelta(days=3))
    not_attended(exam=booked_exam(measurer), because="did not come", by=measurer)
    whole_exam(measurer)

    assert booked_and_open(measurer, tonight()) == [first, second]


def test_a_measured_exam_waits_for_its_report_until_there_is_one(measurer):
    exam = whole_exam(measurer)
    assert exams_without_report(measurer) == [exam]

    mark_reported(exam=exam, by=measurer)

    assert exams_without_report(measurer) == []


def test_open_slips_of_one_patient_can_be_asked_for(measurer):
    patient = new_patient(measurer)
    mine = exam_with(measurer, patient, arm_right=140, right_hallux=24)
    exam_with(measurer, arm_right=140, right_hallux=24)

    assert [line.exam_id for line in open_hand_overs(measurer, patient)] == [mine.pk]
    assert len(open_hand_overs(measurer)) == 2


def test_what_must_be_told_first_stands_first(measurer, wound_nurse):
    severe = exam_with(measurer, arm_right=140, right_hallux=24)
    patient = new_patient(measurer)
    record_limb_fact(
        patient=patient,
        side="left",
        kind="open_wound",
        started_on=today_in(patient.clinic),
        source="seen",
        by=wound_nurse,
    )
    urgent = exam_with(measurer, patient, arm_right=140, left_hallux=24)

    assert [line.exam_id for line in open_hand_overs(measurer)] == [urgent.pk, severe.pk]


def test_another_clinics_work_is_on_no_list(measurer, outsider):
    whole_exam(measurer)
    exam_with(measurer, arm_right=140, right_hallux=24)

    assert booked_and_open(outsider, tonight()) == []
    assert exams_without_report(outsider) == []
    assert open_hand_overs(outsider) == []


def test_each_list_is_one_query(measurer, django_assert_num_queries):
    exam_with(measurer, arm_right=140, right_hallux=24)
    exam_with(measurer, arm_right=140, right_hallux=24)

    with django_assert_num_queries(3):
        booked_and_open(measurer, tonight())
        exams_without_report(measurer)
        open_hand_overs(measurer)


def test_a_name_in_a_row_is_text_and_never_markup(measurer):
    exam = whole_exam(measurer, new_patient(measurer, family_name="<b>O'Neil</b>", given_name="A & B"))

    rows = booked_rows([exam]) + unreported_rows([exam])

    assert rows.count("&lt;b&gt;O&#x27;Neil&lt;/b&gt;, A &amp; B") == 4
    assert "<b>" not in rows
