"""Saving one field from the page: what is answered, and that nothing typed can break it."""

from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from access import clock
from exams.visits.models import PreparationItem, Reading
from exams.visits.services import finish_measuring
from tests.build import WHOLE, exam_with, reading_at, ready_exam, revision_of

JSON = {"HTTP_ACCEPT": "application/json"}


def send(client, exam, field, typed, **more):
    said = {
        "field": field,
        "typed": typed,
        "technique": "two_cuffs" if "toe_" in field and "celsius" not in field else "doppler",
        "client_id": str(uuid4()),
        "seen_revision": more["seen_revision"] if "seen_revision" in more else revision_of(exam, field),
        "typed_at": clock.now().isoformat(),
        **more,
    }
    return client.post(reverse("visits:save", args=[exam.pk]), said, **JSON)


def test_a_saved_field_says_what_stands_and_what_it_means(measurer, client_as):
    exam = exam_with(measurer, arm_right=140)

    answer = send(client_as(measurer), exam, "right.toe_1.1", "49")

    said = answer.json()
    assert answer.status_code == 200
    assert (said["saved"], said["typed"], said["shown"]) == (True, "49", "49 mmHg")
    assert said["revision"] == reading_at(exam, "right_hallux").pk
    assert (said["progress"]["done"], said["progress"]["planned"]) == (2, 8)
    assert "LEFT hallux" in said["progress"]["missing"]
    assert "toe-brachial index" in said["spot_html"]


def test_an_urgent_value_brings_its_slip_along(measurer, client_as):
    exam = exam_with(measurer, arm_right=140)

    said = send(client_as(measurer), exam, "right.toe_1.1", "24").json()

    slip = exam.hand_overs.get()
    assert said["hand_overs"] == [
        {
            "id": slip.pk,
            "url": reverse("visits:hand_over", args=[slip.pk]),
            "calls": "A person must be told.",
            "reads": slip.sentence,
            "was": "",
        }
    ]


def test_a_slip_says_what_its_limb_reads_now(measurer, client_as):
    exam = exam_with(measurer, arm_right=140, right_hallux=24)

    said = send(client_as(measurer), exam, "right.toe_1.2", "28").json()

    [slip] = said["hand_overs"]
    assert "26 mmHg" in slip["reads"]
    assert "24 mmHg" in slip["was"]


def test_an_impossible_value_is_refused_at_the_field(measurer, client_as):
    exam = ready_exam(measurer)

    answer = send(client_as(measurer), exam, "right.arm.1", "1200")

    assert answer.status_code == 422
    assert answer.json()["field"] == "right.arm.1"
    assert answer.json()["error"].startswith("Arm pressure 1200 is not possible. Did you mean 120?")
    assert not exam.readings.exists()


def test_a_comma_is_said_back(measurer, client_as):
    said = send(client_as(measurer), ready_exam(measurer), "right.arm.1", "132,5").json()

    assert (said["typed"], said["note"]) == ("132.5", "The comma was read as a decimal point: 132.5.")


def test_a_value_changed_meanwhile_is_answered_with_both(measurer, client_as):
    exam = exam_with(measurer, right_hallux=48)

    answer = send(client_as(measurer), exam, "right.toe_1.1", "52", seen_revision=0)

    said = answer.json()
    assert answer.status_code == 409
    assert (said["theirs_typed"], said["yours"], said["by"]) == ("48", "52", "Mina Measurer")
    assert said["revision"] == reading_at(exam, "right_hallux").pk


def test_yours_can_be_put_after_seeing_theirs(measurer, client_as):
    exam = exam_with(measurer, right_hallux=48)
    browser = client_as(measurer)
    newer = send(browser, exam, "right.toe_1.1", "52", seen_revision=0).json()["revision"]

    assert send(browser, exam, "right.toe_1.1", "52", seen_revision=newer).status_code == 200
    assert reading_at(exam, "right_hallux").pressure_mmhg == 52


def test_sent_twice_is_answered_alike_and_stored_once(measurer, client_as):
    exam, browser, number = ready_exam(measurer), client_as(measurer), str(uuid4())

    first = send(browser, exam, "right.arm.1", "140", client_id=number, seen_revision=0).json()
    again = send(browser, exam, "right.arm.1", "140", client_id=number, seen_revision=0).json()

    assert first == again
    assert exam.readings.count() == 1


def test_a_value_typed_under_another_sign_in_waits_for_that_person(measurer, reporter, client_as):
    exam = ready_exam(measurer)

    answer = send(client_as(measurer), exam, "right.arm.1", "140", author=reporter.user.pk)

    assert answer.status_code == 401
    assert not exam.readings.exists()


def test_signed_out_is_answered_in_place(measurer):
    answer = send(Client(), ready_exam(measurer), "right.arm.1", "140")

    assert answer.status_code == 401
    assert answer.json()["signed_out"] is True


def test_another_clinics_exam_is_not_found(measurer, outsider, client_as):
    assert send(client_as(outsider), ready_exam(measurer), "right.arm.1", "140").status_code == 404


def test_a_reporter_may_not_measure(measurer, reporter, client_as):
    assert send(client_as(reporter), ready_exam(measurer), "right.arm.1", "140").status_code == 403


def test_an_answered_remark_comes_back_answered(measurer, client_as):
    exam = exam_with(measurer, arm_right=130)
    browser = client_as(measurer)
    asked = send(browser, exam, "left.arm.1", "142").json()["remark"]
    assert asked["answer"] == ""

    said = send(browser, exam, "left.arm.1", "142", remark_answer="repeated, same").json()

    assert said["remark"]["answer"] == "repeated, same"


def test_a_condition_of_a_measured_exam_needs_a_reason(measurer, client_as):
    exam = exam_with(measurer, **WHOLE)
    finish_measuring(exam=exam, by=measurer)

    answer = send(client_as(measurer), exam, "room_celsius", "22")

    assert (answer.status_code, "say why" in answer.json()["error"]) == (422, True)


@pytest.mark.parametrize(
    "broken",
    [
        {"client_id": "x"},
        {"seen_revision": "-1"},
        {"seen_revision": "9" * 40},
        {"typed_at": "yesterday"},
        {"field": "right.arm.9"},
        {"field": ""},
        {"field": "état\x00"},
        {"technique": "guess"},
        {"override_because": "a\x00b"},
        {"remark_answer": "x" * 5000},
        {"typed": "1" * 5000},
        {"author": "somebody"},
    ],
)
def test_whatever_a_browser_gets_wrong_is_refused_in_words(measurer, client_as, broken):
    exam = ready_exam(measurer)

    answer = send(
        client_as(measurer), exam, **{"field": "right.arm.1", "typed": "140", "seen_revision": 0, **broken}
    )

    assert answer.status_code in (409, 422)
    assert not Reading.objects.exists()


FIELDS = [
    f"{side}.{site}.{attempt}"
    for side in ("right", "left")
    for site in ("arm", "posterior_tibial", "peroneal", "toe_1", "toe_5")
    for attempt in (1, 3)
] + list(PreparationItem)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    field=st.sampled_from(FIELDS),
    typed=st.one_of(st.text(max_size=30), st.from_regex(r"[-*/]?[0-9.,]{0,6}", fullmatch=True)),
    words=st.text(max_size=10),
)
@example(field="right.toe_1.1", typed="-22 \x00", words="")
@example(field="comment", typed="\ud800", words="")
@example(field="heart_to_foot_cm", typed="-200", words="")
@example(field="tobacco_hours", typed="9999", words="")
def test_nothing_that_is_typed_ever_fails(measurer, client_as, field, typed, words):
    exam = ready_exam(measurer)

    answer = send(
        client_as(measurer),
        exam,
        field,
        typed.encode("utf-8", "replace").decode(),
        remark_answer=words.encode("utf-8", "replace").decode(),
    )

    assert answer.status_code in (200, 422)
    assert answer.json().get("error", "x")


def test_a_slip_whose_value_was_corrected_stays_open_and_does_not_cry_out(measurer, client_as):
    exam = exam_with(measurer, arm_right=140, right_hallux=24)

    said = send(
        client_as(measurer), exam, "right.toe_1.1", "84", seen_revision=revision_of(exam, "right.toe_1.1")
    ).json()

    [slip] = said["hand_overs"]
    assert slip["calls"] == "A hand-over slip is still open."
    assert slip["reads"].startswith("Nothing urgent")
    assert said["sentence"].startswith("A hand-over slip is still open")
