"""What the pages say, what they refuse at which field; a page costs the same for one and for many."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from exams.followup.models import Promise, Recall, TargetChange
from tests.build import new_patient, whole_exam
from tests.followup.make import newest, promise, recall, referral, step, today
from tests.wounds.make import assess, wound

pytestmark = pytest.mark.django_db


def shown(answer):
    return " ".join(answer.content.decode().split())


def test_an_answer_without_its_words_is_refused_at_the_field_and_what_was_typed_stays(
    client_as, wound_nurse, reporter, patient
):
    sent = referral(wound_nurse, patient)
    typed = {"after": "returned", "seen": newest(sent).pk, "words": "", "said_by": "Dr Staithe by telephone"}

    answer = client_as(reporter).post(f"/follow-up/referrals/{sent.pk}/answer/", typed)

    assert answer.status_code == 422
    assert "Say what has to be known." in shown(answer)
    assert "Dr Staithe by telephone" in shown(answer)


def test_a_day_that_belongs_to_no_step_is_not_dropped_in_silence(client_as, wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)
    typed = {"after": "received", "seen": newest(sent).pk, "day": "25 Nov 2026"}

    answer = client_as(reporter).post(f"/follow-up/referrals/{sent.pk}/answer/", typed)

    assert answer.status_code == 422
    assert "“Received” has no day." in shown(answer)


def test_a_nurse_cannot_answer_by_the_other_sides_address(client_as, wound_nurse, patient):
    sent = referral(wound_nurse, patient)
    typed = {"after": "accepted", "seen": newest(sent).pk}

    answers = [
        client_as(wound_nurse).post(f"/follow-up/referrals/{sent.pk}/{address}/", typed)
        for address in ("answer", "refer")
    ]

    assert [answer.status_code for answer in answers] == [403, 403]
    assert newest(sent).state == "sent"


def test_a_promise_is_made_from_an_exam_and_stands_on_the_patient_page(client_as, measurer):
    patient = new_patient(measurer)
    exam = whole_exam(measurer, patient)
    client = client_as(measurer)
    typed = {"kind": "see", "side": "", "words": "See again", "due_on": "in 3 months"}

    client.post(f"/follow-up/patients/{patient.pk}/promise/?exam={exam.pk}", typed)

    assert Promise.objects.get().exam == exam
    assert "Promised: <strong>See again</strong>" in shown(client.get(f"/patients/{patient.pk}/"))


def test_the_outlook_offers_what_to_promise_filled_in(client_as, wound_nurse, measurer, patient):
    assess(wound_nurse, wound(wound_nurse, patient))
    client = client_as(wound_nurse)
    address = f"/follow-up/patients/{patient.pk}/?offer=area&amp;side=right#promises"
    assert f'href="{address}"' in shown(client.get(f"/wounds/{patient.pk}/outlook/right/"))

    page = shown(client.get(address.replace("&amp;", "&")))

    assert 'value="in 4 weeks"' in page
    assert 'value="See the wound again and measure its area."' in page
    assert '<option value="see" selected>' in page
    assert re.search(r'name="side" value="right"[^>]* checked', page)


def test_a_recall_is_planned_from_what_the_record_knows(client_as, wound_nurse, patient):
    client = client_as(wound_nurse)

    page = shown(client.get(f"/follow-up/patients/{patient.pk}/"))
    client.post(
        f"/follow-up/patients/{patient.pk}/recall/", {"category": "1", "counted_from": "today", "because": ""}
    )

    assert "what is not known is not absent" in page
    assert Recall.objects.get().category == 1


def test_a_figure_is_set_only_with_its_protocol_and_shown_beside_the_published_one(client_as, administrator):
    client = client_as(administrator)
    typed = {"key": "answer.at_once", "days": "1", "because": ""}

    refused = client.post("/follow-up/targets/", typed)
    client.post("/follow-up/targets/", {**typed, "because": "pathway 2026"})

    assert refused.status_code == 422
    assert "Say by which protocol or decision" in shown(refused)
    assert TargetChange.objects.get().days == 1
    assert "pathway 2026" in shown(client.get("/follow-up/targets/"))


def test_a_key_of_no_figure_is_refused(client_as, administrator):
    answer = client_as(administrator).post("/follow-up/targets/", {"key": "x", "days": "1", "because": "y"})

    assert answer.status_code == 422
    assert not TargetChange.objects.exists()


@pytest.mark.parametrize("page", ["patients/{}/", "referrals/", "recall-list/"])
def test_many_cost_as_many_queries_as_one(client_as, wound_nurse, reporter, page):
    patient, asked = new_patient(wound_nurse), []
    client = client_as(wound_nurse)
    recall(wound_nurse, patient, 3, today() - timedelta(days=100))
    for more in (1, 6):
        for number in range(more):
            step(referral(wound_nurse, patient, reasons=f"{more}.{number}"), "received", reporter)
            promise(wound_nurse, patient)
        address = f"/follow-up/{page.format(patient.pk)}"
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        asked.append(len(queries))

    assert asked[0] == asked[1]


def test_a_referral_at_once_that_came_back_stands_before_an_overdue_recall(
    client_as, wound_nurse, reporter, patient
):
    wound(wound_nurse, patient, began=40)
    sent = referral(wound_nurse, patient, urgency="at_once")
    step(sent, "returned", reporter, words="Which toe?")

    page = shown(client_as(wound_nurse).get(f"/follow-up/patients/{patient.pk}/"))

    assert "Referred at once, returned with a question. Answer the question and send it again." in page
    assert "<strong>overdue</strong>" in page


def test_a_promise_that_is_no_day_is_told_that_a_time_from_now_will_do(client_as, wound_nurse, patient):
    typed = {"kind": "see", "due_on": "soon", "words": "See again"}

    answer = client_as(wound_nurse).post(f"/follow-up/patients/{patient.pk}/promise/", typed)

    assert "A time from now will do: in 3 months." in shown(answer)
