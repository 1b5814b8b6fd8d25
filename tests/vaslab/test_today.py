"""Today shows each role what waits for it, and nobody a name they have no care for."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from access.models import TrailRow
from reports.documents.queries import draft_for
from reports.documents.services import make_report
from tests.build import booked_exam, exam_with, new_patient, whole_exam
from tests.followup.make import die, promise, recall, referral, step
from tests.visits.test_hand_over import wound

pytestmark = pytest.mark.django_db


def shown(client_as, person) -> str:
    answer = client_as(person).get("/")
    assert answer.status_code == 200
    return answer.content.decode()


def ask_for_report(exam, by):
    draft = draft_for(by, exam.pk)
    make_report(exam=exam, conclusion=draft.drafted, drafted=draft.drafted, seen=draft.seen, by=by)


def test_a_measurer_sees_the_exam_booked_for_today_and_opens_its_sheet(client_as, measurer):
    exam = booked_exam(measurer)

    page = shown(client_as, measurer)

    assert exam.patient.family_name in page
    assert f"/exams/{exam.pk}/" in page
    assert "One exam is booked or open." in page


def test_an_urgent_value_stands_on_top_until_it_is_handed_over(client_as, measurer, reporter):
    patient = new_patient(measurer)
    exam_with(measurer, patient, right_hallux=24)

    page = shown(client_as, reporter)

    assert "One critical result waits to be handed over." in page
    assert page.index("Hand over now") < page.index("Measured, without a report")
    assert "recording it here tells no one" in page


def test_a_measured_exam_waits_for_its_report(client_as, measurer, reporter):
    exam = whole_exam(measurer)

    page = shown(client_as, reporter)

    assert f"/reports/exam/{exam.pk}/make/" in page


def test_an_administrator_sees_numbers_and_no_names(client_as, measurer, administrator):
    exam = exam_with(measurer, right_hallux=24)

    page = shown(client_as, administrator)

    assert "Critical results not handed over yet" in page
    assert exam.patient.family_name not in page


def test_another_clinic_sees_nothing_of_it(client_as, measurer, outsider):
    exam = exam_with(measurer, right_hallux=24)

    page = shown(client_as, outsider)

    assert exam.patient.family_name not in page
    assert "Nothing waits for you here." in page


def test_a_page_with_names_leaves_a_line_in_the_trail(client_as, measurer):
    shown(client_as, measurer)

    assert TrailRow.objects.filter(action="today viewed", user_id=measurer.user.pk).count() == 1


def test_it_takes_as_many_queries_for_six_exams_as_for_one(client_as, measurer):
    client = client_as(measurer)
    asked = []
    for more in (1, 5):
        for _ in range(more):
            booked_exam(measurer)
            exam_with(measurer, right_hallux=24)
            whole_exam(measurer)
        client.get("/")
        with CaptureQueriesContext(connection) as queries:
            client.get("/")
        asked.append(len(queries))

    assert asked[0] == asked[1]


def test_a_report_that_is_being_made_asks_nothing_of_anybody(client_as, measurer, reporter):
    exam = whole_exam(measurer)
    ask_for_report(exam, reporter)

    page = shown(client_as, reporter)

    assert f"/reports/exam/{exam.pk}/make/" not in page
    assert "1 more report is being made" in page


def test_a_result_due_at_once_says_how_long_it_has_waited(client_as, measurer, reporter):
    patient = new_patient(measurer)
    with clock.at(clock.now() - timedelta(minutes=95)):
        wound(patient, measurer)
        exam_with(measurer, patient, right_hallux=24)

    page = " ".join(shown(client_as, reporter).replace("\xa0", " ").split())

    assert "<strong>at once</strong>, waiting 1 hour, 35 minutes" in page
    assert "overdue" not in page


def test_what_was_due_within_a_working_day_is_called_overdue_after_it(client_as, measurer, reporter):
    with clock.at(clock.now() - timedelta(days=8)):
        exam_with(measurer, right_hallux=24)

    assert "overdue" in shown(client_as, reporter)


def test_an_administrator_reads_first_whether_anybody_waits_to_be_told(
    client_as, clinic, measurer, administrator
):
    assert f"Every critical result of {clinic.name} was handed over." in shown(client_as, administrator)

    exam_with(measurer, right_hallux=24)

    assert f"One critical result of {clinic.name} is not handed over yet." in shown(client_as, administrator)


def test_what_waits_of_referrals_promises_and_recalls_stands_here_until_somebody_dies(
    client_as, wound_nurse, reporter
):
    patient = new_patient(wound_nurse)
    booked_exam(wound_nurse, patient)
    step(referral(wound_nurse, patient), "returned", reporter, words="which toe?")
    promise(wound_nurse, patient, days=0)
    recall(wound_nurse, patient, 3, clock.now().date() - timedelta(days=200))

    page = shown(client_as, wound_nurse)
    die(wound_nurse, patient, clock.now().date())
    after = shown(client_as, wound_nurse)

    assert "One referral waits for you, or has waited too long." in page
    assert "Answer the question and send it again." in page
    assert "Promises due or broken" in page
    assert "Nobody has tried to reach the person yet." in page
    assert patient.family_name not in after


def test_the_surgeons_side_reads_first_what_it_has_not_answered(client_as, wound_nurse, reporter):
    referral(wound_nurse, new_patient(wound_nurse), urgency="at_once")

    page = shown(client_as, reporter)

    assert "One referral waits for you, or has waited too long." in page
    assert "Accept it, return it with a question, or decline it." in page
