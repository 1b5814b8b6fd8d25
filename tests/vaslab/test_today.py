"""Today shows each role what waits for it, and nobody a name they have no care for."""

import pytest

from access.models import TrailRow
from tests.build import booked_exam, exam_with, new_patient, whole_exam

pytestmark = pytest.mark.django_db


def shown(client_as, person) -> str:
    answer = client_as(person).get("/")
    assert answer.status_code == 200
    return answer.content.decode()


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


@pytest.mark.parametrize("exams", [1, 6])
def test_it_takes_as_many_queries_for_six_exams_as_for_one(
    client_as, measurer, exams, django_assert_num_queries
):
    for _ in range(exams):
        booked_exam(measurer)
        exam_with(measurer, right_hallux=24)
    client = client_as(measurer)
    client.get("/")

    with django_assert_num_queries(QUERIES):
        client.get("/")


QUERIES = 14
