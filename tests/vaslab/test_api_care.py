"""What programs do around an exam: identifiers, cautions, photographs, further tests, recalls, promises."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from access import clock
from access.models import TrailRow
from access.roles import Role
from exams.patients.models import Caution, Identifier
from exams.visits.services import close_hand_over
from exams.wounds.models import Photograph
from tests.build import exam_with, new_patient, ready_exam
from tests.followup.make import promise, recall
from tests.patients.make import caution, fact
from tests.people import person, program, sending_client
from tests.vaslab.asking import ask, change, etag, make, whole_client
from tests.wounds.make import photograph, wound


@pytest.fixture
def client(measurer):
    return whole_client(measurer)


def today(person):
    return clock.now().astimezone(person.clinic.zone).date()


def of(name, patient, *more):
    return reverse(name, args=[patient.pk, *more])


# ---- identifiers and cautions


def test_a_mistyped_identifier_is_withdrawn_and_another_added(client, patient):
    first = make(
        client, of("patients_api:identifiers", patient), {"issuer": "Fenmarsh", "value": "FM 9"}
    ).json()
    here = of("patients_api:identifier", patient, first["identifier"])
    gone = change(client, "POST", f"{here}withdraw/", {"because": "digits swapped"}, read_at=here)
    again = change(client, "POST", f"{here}withdraw/", {"because": "digits swapped"}, read_at=here)

    assert gone.json()["withdrawn_because"] == "digits swapped"
    assert (again.status_code, again.json()["words"]) == (422, "This identifier was withdrawn already.")
    shown = client.get(of("patients_api:patient", patient)).json()
    assert "FM 9" not in [one["value"] for one in shown["identifiers"]]
    assert "FM 9" in [
        one["value"] for one in client.get(of("patients_api:identifiers", patient)).json()["results"]
    ]


def test_an_identifier_of_somebody_else_is_refused_at_its_value(client, measurer, patient):
    taken = {"issuer": "Fenmarsh", "value": "FM 9"}
    make(client, of("patients_api:identifiers", new_patient(measurer)), taken)

    answer = make(client, of("patients_api:identifiers", patient), taken, key="ward-system-2")

    assert (answer.status_code, answer.json()["field"]) == (422, "value")
    assert Identifier.objects.filter(value="FM 9").count() == 1


def test_a_caution_is_added_and_stands_at_the_sheet_but_no_program_ends_it(client, measurer):
    exam = ready_exam(measurer)
    said = {
        "side": "left",
        "region": "arm",
        "kind": "fistula",
        "do_not_inflate": True,
        "source": "dialysis unit",
    }

    made = make(client, of("patients_api:cautions", exam.patient), said)
    reading = {
        "side": "left",
        "site": "arm",
        "technique": "doppler",
        "outcome": "pressure",
        "pressure_mmhg": 140,
    }
    refused = make(client, reverse("visits_api:exam_readings", args=[exam.pk]), reading, key="ward-system-2")

    assert made.json()["words"] == "Do not inflate LEFT arm: dialysis fistula or graft"
    assert refused.status_code == 422
    here = of("patients_api:caution", exam.patient, made.json()["caution"])
    assert ask(client, "PATCH", here, {"ended_on": "2026-01-01"}).status_code == 405
    assert Caution.objects.get().ended_on is None


def test_a_caution_at_no_place_is_refused_in_the_words_of_the_page(client, patient):
    said = {"region": "person", "kind": "pain", "do_not_inflate": False, "source": "the person"}

    answer = make(client, of("patients_api:cautions", patient), said)

    assert (answer.status_code, answer.json()["field"]) == (422, "region")


def test_cautions_in_force_are_told_from_those_that_were_ended(client, measurer, patient):
    standing, ended = caution(measurer, patient), caution(measurer, patient, side="left")
    Caution.objects.filter(pk=ended.pk).update(
        ended_on=today(measurer), ended_reason="removed", ended_by=measurer.user
    )
    address = of("patients_api:cautions", patient)

    assert [one["caution"] for one in client.get(address).json()["results"]] == [standing.pk, ended.pk]
    assert [one["caution"] for one in client.get(f"{address}?in_force=true").json()["results"]] == [
        standing.pk
    ]


# ---- recalls and promises


def test_a_recall_is_planned_tried_and_followed_by_the_next_once_the_person_was_seen(
    client, measurer, patient
):
    day = str(today(measurer))
    made = make(
        client, of("followup_api:patient_recalls", patient), {"category": 2, "counted_from": day}
    ).json()
    here = reverse("followup_api:recall", args=[made["recall"]])
    tried = {"tried_on": day, "way": "telephone", "outcome": "not_reached"}
    old = etag(client, here)

    first = change(client, "POST", f"{here}contacts/", tried, read_at=here)
    late = ask(client, "POST", f"{here}contacts/", tried, If_Match=old)
    seen = {"on": day, "how": "both feet seen", "category": 3}
    over = change(client, "POST", f"{here}seen/", seen, read_at=here).json()

    assert [one["outcome"] for one in first.json()["contacts"]] == ["not_reached"]
    assert (late.status_code, late.json()["code"]) == (412, "changed_meanwhile")
    listed = client.get(reverse("followup_api:recalls"), {"patient": patient.pk, "standing": "true"}).json()
    assert [(one["recall"], one["category"]) for one in listed["results"]] == [(over["followed_by"], 3)]
    assert over["ended_as"] == "seen"


def test_an_ulcer_sent_by_a_program_raises_a_recall_that_it_can_end(client, measurer, patient):
    fact(measurer, patient)
    [raised] = client.get(reverse("followup_api:recalls"), {"patient": patient.pk}).json()["results"]
    here = reverse("followup_api:recall", args=[raised["recall"]])

    ended = change(
        client, "POST", f"{here}end/", {"how": "transferred", "because": "lives elsewhere"}, read_at=here
    )

    assert raised["limb_fact"] is not None
    assert (ended.status_code, ended.json()["ended_as"]) == (200, "transferred")


@pytest.mark.parametrize(
    ("step", "sent", "field"),
    [("keep", {"how": "rung at noon"}, "kept_how"), ("call-off", {"because": "moved"}, "called_off_because")],
)
def test_a_promise_is_made_and_kept_or_called_off(client, measurer, patient, step, sent, field):
    due = today(measurer) + timedelta(days=3)
    said = {"kind": "call", "words": "We ring you with the result.", "due_on": str(due)}
    made = make(client, of("followup_api:patient_promises", patient), said).json()
    here = reverse("followup_api:promise", args=[made["promise"]])

    done = change(client, "POST", f"{here}{step}/", sent, read_at=here)
    again = change(client, "POST", f"{here}{step}/", sent, read_at=here)

    assert done.json()[field] == next(iter(sent.values()))
    assert again.status_code == 422
    standing = client.get(reverse("followup_api:promises"), {"until": str(due), "standing": "true"}).json()
    assert standing["results"] == []


# ---- critical results


def test_a_critical_result_is_read_until_somebody_was_told_and_after(client, measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=24)
    address = reverse("visits_api:hand_overs")
    [waiting] = client.get(address, {"exam": exam.pk, "waiting": "true"}).json()["results"]

    close_hand_over(
        slip=exam.hand_overs.get(),
        told_name="Dr Fen",
        told_role="registrar",
        told_number="200",
        told_by=measurer.user,
        told_at=clock.now(),
        read_back="24 mmHg, right",
        agreed="seen today",
        patient_told="yes",
        by=measurer,
    )

    assert (waiting["limb"], waiting["told_by"]) == ("right", "")
    assert client.get(address, {"waiting": "true"}).json()["results"] == []
    told = client.get(reverse("visits_api:hand_over", args=[waiting["hand_over"]])).json()
    assert (told["told_name"], told["told_by"], told["agreed"]) == ("Dr Fen", "Mina Measurer", "seen today")


# ---- further tests


def test_pressures_after_exercise_are_sent_as_they_would_be_typed_and_read_as_findings(client, measurer):
    exam = exam_with(measurer, arm_right=140, right_posterior_tibial=130, left_posterior_tibial=140)
    here = reverse("visits_api:further_test", args=[exam.pk, "exercise"])
    values = {"protocol": "treadmill", "duration": "5", "after.1.time": "1", "after.1.right": "70"}

    answer = change(client, "PATCH", here, {"values": {**values, "after.1.arm": "150"}})

    fields = {one["field"]: one for one in answer.json()["fields"]}
    assert (fields["duration"]["typed"], fields["after.1.right"]["shown"]) == ("5", "70 mmHg")
    found = client.get(reverse("visits_api:exam_findings", args=[exam.pk])).json()["findings"]
    assert "post_exercise_index" in {one["measure"] for one in found}
    listed = client.get(reverse("visits_api:further_tests", args=[exam.pk])).json()
    assert listed["entered"] == ["exercise"]


@pytest.mark.parametrize(
    ("values", "field"),
    [({"protocol": "treadmill", "duration": "never"}, "duration"), ({"no such field": "1"}, "no such field")],
)
def test_of_values_that_cannot_be_none_is_kept(client, measurer, values, field):
    exam = ready_exam(measurer)
    here = reverse("visits_api:further_test", args=[exam.pk, "exercise"])

    answer = change(client, "PATCH", here, {"values": values})

    assert (answer.status_code, answer.json()["field"]) == (422, field)
    assert client.get(reverse("visits_api:further_tests", args=[exam.pk])).json()["entered"] == []


def test_a_category_is_a_clinicians_and_never_a_programs(clinic):
    both = person("Bea Both", clinic, Role.MEASURER, Role.REPORTER)
    client, exam = whole_client(both), ready_exam(both)
    here = reverse("visits_api:further_test", args=[exam.pk, "category"])

    answer = change(client, "PATCH", here, {"values": {"right.rutherford": "4"}})

    assert answer.status_code == 403


# ---- photographs


def test_a_photograph_is_sent_once_drawn_anew_downloaded_and_withdrawn(client, measurer, patient):
    shown = wound(measurer, patient)
    address = of("wounds_api:photographs", patient, shown.pk)

    def send(content):
        sent = {"taken_on": str(today(measurer)), "photograph": SimpleUploadedFile("IMG_1.jpg", content)}
        return client.post(address, sent, headers={"Idempotency-Key": "camera-0001"})

    first, again, other = send(photograph()), send(photograph()), send(photograph() + b" ")
    here = of("wounds_api:photograph", patient, first.json()["photograph"])
    picture = client.get(f"{here}picture/")
    gone = change(client, "POST", f"{here}withdraw/", {"because": "another foot"}, read_at=here)

    assert [one.status_code for one in (first, again, other)] == [201, 200, 409]
    assert Image.open(BytesIO(picture.content)).size == (first.json()["width"], first.json()["height"])
    assert (gone.status_code, client.get(here).status_code) == (200, 404)
    assert Photograph.objects.count() == 1
    assert TrailRow.objects.filter(action="wound photograph downloaded by a program").count() == 1


def test_what_is_no_photograph_is_refused_in_words(client, measurer, patient):
    sent = {"taken_on": str(today(measurer)), "photograph": SimpleUploadedFile("IMG_1.jpg", b"no picture")}
    address = of("wounds_api:photographs", patient, wound(measurer, patient).pk)

    answer = client.post(address, sent, headers={"Idempotency-Key": "camera-0001"})

    assert (answer.status_code, answer.json()["field"]) == (422, "photograph")


# ---- one measure


def test_one_measure_says_what_it_counts_before_anything_was_counted(reporter):
    client = sending_client(program("Registry", reporter, "measures.read"))

    answer = client.get(reverse("audit_api:measure", args=["p01"]))

    assert (answer.json()["measure"], answer.json()["counted_at"]) == ("P01", None)
    assert answer.json()["denominator"]
    assert client.get(reverse("audit_api:measure", args=["p999"])).status_code == 404


# ---- lists


@pytest.mark.parametrize(("name", "made"), [("recalls", recall), ("promises", promise)])
def test_a_list_asks_the_database_as_often_for_many_as_for_one(
    client, measurer, name, made, django_assert_max_num_queries
):
    address = reverse(f"followup_api:{name}")
    made(measurer, new_patient(measurer))
    client.get(address)
    with django_assert_max_num_queries(100) as asked:
        client.get(address)
    for _ in range(3):
        made(measurer, new_patient(measurer))

    with django_assert_max_num_queries(len(asked)):
        assert len(client.get(address).json()["results"]) == 4
