"""Nobody is born after an exam, and nobody dies before one."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from access import clock
from exams.identity.services import enter_under_right_person
from exams.patients.services import change_patient
from tests.build import booked_exam, new_patient, whole_exam
from tests.patients.make import fact

pytestmark = pytest.mark.django_db


def today():
    return clock.now().date()


def refusal(by, patient, **said):
    with pytest.raises(ValidationError) as refused:
        change_patient(patient=patient, revision=patient.revision, by=by, **said)
    return {name: " ".join(words) for name, words in refused.value.message_dict.items()}


def test_a_death_before_an_exam_is_refused_at_its_field_and_the_exams_are_named(measurer):
    ivy = new_patient(measurer)
    for days in (400, 300, 200, 100, 50):
        whole_exam(measurer, ivy, at=clock.now() - timedelta(days=days))

    said = refusal(measurer, ivy, died_on=today() - timedelta(days=350))

    assert set(said) == {"died_on"}
    assert said["died_on"].count("exam of ") == 3
    assert "and 1 more" in said["died_on"]
    assert "An exam that was another person's is marked so on its own sheet" in said["died_on"]


def test_a_birth_after_an_exam_or_a_fact_is_refused_with_both_named(measurer):
    ivy = whole_exam(measurer, at=clock.now() - timedelta(days=30)).patient
    fact(measurer, ivy, started_on=today() - timedelta(days=40))

    said = refusal(measurer, ivy, birth_date=today() - timedelta(days=10))

    assert "RIGHT open wound since" in said["birth_date"]
    assert "exam of " in said["birth_date"]


def test_the_day_of_the_last_exam_may_be_the_day_of_death(measurer):
    ivy = whole_exam(measurer).patient

    assert change_patient(patient=ivy, revision=1, died_on=today(), by=measurer).died_on == today()


def test_an_exam_nobody_came_to_or_of_another_person_is_in_nobodys_way(measurer, reporter):
    ivy, twin = new_patient(measurer), new_patient(measurer)
    booked_exam(measurer, ivy)
    wrong = whole_exam(measurer, ivy)
    enter_under_right_person(exam=wrong, patient=twin, because="two sheets", by=reporter)
    last_week = today() - timedelta(days=7)

    assert change_patient(patient=ivy, revision=1, died_on=last_week, by=measurer).died_on == last_week


def test_the_page_names_the_exam_at_the_field_and_keeps_all_that_was_typed(client_as, measurer):
    ivy = whole_exam(measurer).patient
    client, address = client_as(measurer), f"/patients/{ivy.pk}/change/"
    typed = {**client.get(address).context["form"].initial, "telephone": "01555 999", "died_on": "1 Feb 2019"}
    typed = {name: "" if value is None else value for name, value in typed.items()}

    answer = client.post(address, typed)

    assert answer.status_code == 422
    assert "exam of" in answer.context["form"].errors["died_on"][0]
    assert "01555 999" in answer.content.decode()
    ivy.refresh_from_db()
    assert (ivy.died_on, ivy.telephone) == (None, "")


def test_a_change_of_another_detail_asks_nothing_of_the_exams(measurer):
    ivy = whole_exam(measurer).patient
    type(ivy).objects.filter(pk=ivy.pk).update(died_on=date(2020, 1, 1))
    ivy.refresh_from_db()

    assert change_patient(patient=ivy, revision=1, telephone="01555 7", by=measurer).telephone == "01555 7"
