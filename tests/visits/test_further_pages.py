"""The pages of further tests: without a script, refused in place, corrected with a reason, at one cost."""

from uuid import uuid4

from django.urls import reverse

from exams.visits.queries.results import stored_interpretation
from tests.build import exam_with, whole_exam
from tests.visits.test_further import REST, type_in


def send(client, exam, field, typed, test="exercise"):
    said = {"field": field, "typed": typed, "client_id": str(uuid4()), "seen_revision": 0}
    return client.post(reverse("visits:further_save", args=[exam.pk, test]), said)


def test_a_saved_value_says_what_stands_and_what_it_means(measurer, client_as):
    exam = exam_with(measurer, **REST)
    type_in(exam, "exercise", measurer, after__1__time=1, after__1__arm=140)

    said = send(client_as(measurer), exam, "after.1.right", "100").json()

    assert (said["saved"], said["typed"], said["shown"]) == (True, "100", "100 mmHg")
    assert "RIGHT exercise test positive" in said["spot_html"]


def test_an_impossible_value_is_refused_at_its_field_by_its_own_name(measurer, client_as):
    answer = send(client_as(measurer), exam_with(measurer), "right.calf", "1200", "segments-3")

    assert answer.status_code == 422
    assert answer.json()["error"].startswith("Calf pressure 1200 is not possible. Did you mean 120?")


def test_an_ankle_that_could_not_be_occluded_is_no_pressure_to_measure_again(measurer, client_as):
    exam = exam_with(measurer, **{**REST, "right_posterior_tibial": "*250", "right_dorsalis_pedis": "*260"})

    page = client_as(measurer).get(reverse("visits:further", args=[exam.pk, "exercise"])).content.decode()

    assert "RIGHT posterior tibial cannot be occluded at 250 mmHg" in page
    assert "no fall can be found here without both pressures" in page


def test_a_value_changed_meanwhile_is_answered_with_both(measurer, client_as):
    exam = exam_with(measurer)
    type_in(exam, "segments-3", measurer, right__calf=110)

    answer = send(client_as(measurer), exam, "right.calf", "120", "segments-3")

    assert answer.status_code == 409
    assert (answer.json()["theirs"], answer.json()["yours"]) == ("110 mmHg", "120")


def test_without_a_script_the_whole_form_is_saved_and_what_is_wrong_stays_typed(measurer, client_as):
    exam = exam_with(measurer, **REST)
    page = reverse("visits:further", args=[exam.pk, "exercise"])

    answer = client_as(measurer).post(page, {"protocol": "treadmill", "after.1.time": "soon"})

    assert answer.status_code == 422
    assert "“soon” is not a time" in answer.content.decode()
    assert 'value="soon"' in answer.content.decode()
    assert exam.further_entries.get().value == "treadmill"


def test_a_measured_exam_is_corrected_on_a_page_that_asks_why(measurer, client_as):
    exam = whole_exam(measurer)
    page = reverse("visits:further_correct", args=[exam.pk, "pulse-volume", "right.ankle"])

    assert client_as(measurer).post(page, {"typed": "5", "seen": "0"}).status_code == 422
    client_as(measurer).post(page, {"typed": "5", "seen": "0", "reason": "was on paper"})

    assert exam.further_entries.get().replaced_because == "was on paper"
    assert "ankle_pulse_volume" in {one.measure for one in stored_interpretation(exam).findings}


def test_a_page_costs_the_same_however_much_was_entered(measurer, client_as, django_assert_max_num_queries):
    exam, client = exam_with(measurer, **REST), client_as(measurer)
    page = reverse("visits:further", args=[exam.pk, "exercise"])
    client.get(page)
    with django_assert_max_num_queries(60) as empty:
        client.get(page)
    type_in(
        exam, "exercise", measurer, protocol="walk",
        after__1__time=1, after__1__arm=140, after__1__right=100, after__2__time=2, after__2__right=120,
    )  # fmt: skip

    with django_assert_max_num_queries(len(empty)):
        client.get(page)
