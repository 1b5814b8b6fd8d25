"""The interface for programs as a whole: a stranger's script, keys, marks of states, and whose it is."""

import io
import json
import os
import re
import subprocess
import sys
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from access import clock
from access.models import AccessToken, KeyUsed, Membership, TrailRow
from exams.patients.models import LimbFact, Patient
from exams.visits.models import Exam, Reading
from exams.visits.services import correct_reading
from exams.visits.typed import read_reading
from jobs import services as jobs
from jobs.models import Job, JobState
from reports.documents.models import Document
from tests.build import exam_with, reading_at, ready_exam, whole_exam
from tests.house.files import HOUSE
from tests.people import device, program, sending_client, token_of
from tests.vaslab.asking import ask, etag, make, whole_client

PATIENTS = reverse("patients_api:patients")
EXAMS = reverse("visits_api:exams")
SAID = {"code", "field", "words", "what_to_do"}


@pytest.fixture
def client(measurer):
    return whole_client(measurer)


def newcomer(**changed):
    said = {"family_name": "Sedgemoor", "given_name": "Isolde", "birth_date": "1948-03-02", "sex": "female"}
    return {**said, **changed}


# ---- a stranger's script


@pytest.mark.workers
def test_a_script_written_from_the_description_alone_books_measures_reads_and_downloads(
    live_server, tmp_path, measurer
):
    text = (HOUSE / "docs/api.md").read_text(encoding="utf-8")
    script = tmp_path / "stranger.py"
    script.write_text(re.search(r"```python\n(.*?)```", text, re.DOTALL)[1], encoding="utf-8")
    known = {"SERVICE": live_server.url, "TOKEN": token_of(program("Stranger", measurer).user)}
    command = [sys.executable, str(script)]

    with subprocess.Popen(
        command, cwd=tmp_path, env={**os.environ, **known}, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as stranger:
        while stranger.poll() is None:
            for number in Job.objects.filter(state=JobState.WAITING).values_list("pk", flat=True):
                jobs.run(number)
        said = stranger.stdout.read().decode()

    assert stranger.returncode == 0, said
    assert "right toe_pressure 52 mmHg" in said
    document = Document.objects.get()
    assert (tmp_path / "report.pdf").read_bytes() == document.pdf.open().read()
    assert (document.created_by.full_name, document.exam.state) == ("Stranger", "reported")


def test_the_description_is_valid_without_a_warning_and_open_to_all(client):
    said = io.StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", "--format", "openapi-json", stdout=said)
    described = json.loads(said.getvalue())

    assert client.get(reverse("schema")).json() == described
    assert "Scope: exams.write." in described["paths"]["/api/v1/exams/"]["post"]["description"]


class Described:
    """A program that knows nothing but the description: addresses and examples by the operation's name."""

    def __init__(self, client):
        self.client, self.places, self.tried = client, client.get(reverse("schema")).json()["paths"], 0

    def examples(self, name):
        told = self._operation(name)[2]["requestBody"]["content"]["application/json"]["examples"]
        return [one["value"] for one in told.values()]

    def do(self, name, sent=None, *, key="", etag="", **numbers):
        path, method, operation = self._operation(name)
        self.tried += 1
        headers = {"If-Match": etag} if etag else {"Idempotency-Key": key or f"stranger-{self.tried}"}
        sent = ask(self.client, method.upper(), path.format(**numbers), sent, **headers)
        assert str(sent.status_code) in operation["responses"], f"{name} does not declare {sent.status_code}"
        return sent

    def _operation(self, name):
        return next(
            (path, method, one)
            for path, operations in self.places.items()
            for method, one in operations.items()
            if one["operationId"] == name
        )


def test_the_examples_of_the_description_tell_an_exam_from_a_new_person_to_its_report(client):
    """As its introduction tells it, with a retry, a mark that is too old, and a file asked for too early."""
    stranger = Described(client)

    person = stranger.do("register_patient", stranger.examples("register_patient")[0], key="stranger-person")
    again = stranger.do("register_patient", stranger.examples("register_patient")[0], key="stranger-person")
    number = person.json()["patient"]
    changed, late = (
        stranger.do("change_patient", told, etag=person.headers["ETag"], patient_id=number)
        for told in (stranger.examples("change_patient")[0], {"address": "1 Sluice Row"})
    )
    booked = stranger.do("book_exam", {**stranger.examples("book_exam")[0], "patient": number})
    exam = {"exam_id": booked.json()["exam"]}
    *before, after = stranger.examples("take_step")
    mark = booked.headers["ETag"]
    for step in before:
        mark = stranger.do("take_step", step, etag=mark, **exam).headers["ETag"]
    readings = [
        {**one, "side": side}
        for side in ("right", "left")
        for one in stranger.examples("record_reading")
        if one["site"] != "toe_1" or one["side"] == side
    ]
    made = [stranger.do("record_reading", one, **exam) for one in readings]
    too_early = stranger.do("take_step", after, etag=mark, **exam)
    mark = stranger.do("read_exam", **exam).headers["ETag"]
    measured = stranger.do("take_step", after, etag=mark, **exam)
    found = stranger.do("read_findings", **exam)
    concluded = {"conclusion": found.json()["conclusion_drafted"], "findings_etag": found.headers["ETag"]}
    report = stranger.do("make_report", {**stranger.examples("make_report")[0], **concluded}, **exam).json()
    early = stranger.do("download_report", document_id=report["report"])

    assert (person.status_code, again.status_code, again.json()) == (201, 200, person.json())
    assert (changed.status_code, late.status_code, late.json()["field"]) == (200, 412, "If-Match")
    assert [one.status_code for one in made] == [201] * 8
    assert (too_early.status_code, measured.json()["state"]) == (412, "measured")
    assert ("right", "toe_brachial_index", "0.39") in [
        (one["limb"], one["measure"], one["shown"]) for one in found.json()["findings"]
    ]
    assert (early.status_code, early.json()["code"]) == (409, "no_file")


def test_a_pressure_that_cannot_be_is_refused_in_words_of_the_trade(client, measurer):
    exam = ready_exam(measurer)
    sent = {"side": "right", "site": "arm", "technique": "doppler", "outcome": "pressure"}

    answer = make(client, f"{EXAMS}{exam.pk}/readings/", {**sent, "pressure_mmhg": 1200})

    assert answer.status_code == 422
    assert answer.json()["words"] == "A pressure is 1 to 300 mmHg, whole or half, such as 120 or 54.5."


def test_every_operation_declares_every_error_in_the_one_shape():
    said = io.StringIO()
    call_command("spectacular", "--format", "openapi-json", stdout=said)
    paths = json.loads(said.getvalue())["paths"]
    shapes = {
        (path, method, status): answer["content"]["application/json"]["schema"]
        for path, one in paths.items()
        for method, operation in one.items()
        for status, answer in operation["responses"].items()
        if status >= "400"
    }

    assert {str(shape) for shape in shapes.values()} == {"{'$ref': '#/components/schemas/ErrorAnswer'}"}
    assert len(shapes) > 5 * len(paths)


# ---- whose token it is


@pytest.mark.parametrize(
    ("happened", "code"),
    [
        ({"expires_at": timedelta(days=-1), "made_at": timedelta(days=-2)}, "token_expired"),
        ({"revoked_at": timedelta(0)}, "token_revoked"),
    ],
)
def test_a_token_that_is_over_is_told_so(client, measurer, happened, code):
    times = {name: clock.now() + after for name, after in happened.items()}
    AccessToken.objects.update(**times, **({"revoked_by": measurer.user} if "revoked_at" in times else {}))

    answer = client.get(PATIENTS)

    assert (answer.status_code, answer.json()["code"]) == (401, code)
    assert set(answer.json()) == SAID


def test_a_token_whose_person_left_the_clinic_is_told_so(client, measurer):
    Membership.objects.filter(user=measurer.user).update(ended_at=clock.now(), ended_by=measurer.user)

    assert client.get(PATIENTS).json()["code"] == "token_without_rights"


def test_a_scope_that_is_missing_is_named(measurer, patient):
    narrow = sending_client(program("Onlooker", measurer, "jobs.read"))

    answer = narrow.get(reverse("patients_api:patient", args=[patient.pk]))

    assert (answer.status_code, answer.json()["code"]) == (403, "scope_missing")
    assert "patients.read" in answer.json()["words"]
    assert TrailRow.objects.filter(action="refused", user__full_name="Onlooker").count() == 1


def test_a_scope_missing_beside_the_one_of_the_address_is_named_too(measurer, patient):
    narrow = sending_client(program("Booker", measurer, "exams.write"))
    sent = {"patient": patient.pk, "exam_type": "toe_only", "booked_for": clock.now().isoformat()}

    answer = make(narrow, EXAMS, sent)

    assert (answer.status_code, answer.json()["code"]) == (403, "scope_missing")
    assert "patients.read" in answer.json()["words"]
    assert not Exam.objects.exists()


def test_what_its_person_may_not_do_is_told_apart_from_a_missing_scope(wound_nurse, measurer):
    exam = ready_exam(measurer)
    client = sending_client(program("Ward list", wound_nurse))

    answer = make(client, reverse("visits_api:exam_readings", args=[exam.pk]), {})

    assert (answer.status_code, answer.json()["code"]) == (403, "person_may_not")


def test_nothing_of_another_clinic_is_found_listed_or_booked(client, outsider):
    foreign = whole_exam(outsider)
    sent = {"patient": foreign.patient_id, "exam_type": "toe_only", "booked_for": clock.now().isoformat()}

    assert client.get(f"{PATIENTS}?q={foreign.patient.family_name}").json()["results"] == []
    for name in ("exams", "readings", "findings"):
        listed = client.get(reverse(f"visits_api:{name}"), {"patient": foreign.patient_id})
        assert listed.json() == {"results": [], "next": None}
    booked = make(client, EXAMS, sent)
    assert (booked.status_code, booked.json()["code"]) == (404, "not_found")


def test_a_gateway_reads_nothing_of_the_record(clinic, patient):
    gateway = sending_client(device("Gateway of room 2", clinic))

    assert gateway.get(reverse("patients_api:patient", args=[patient.pk])).status_code == 403


# ---- made once


def test_the_same_key_gives_the_same_answer_and_another_body_is_refused(client):
    first, again = make(client, PATIENTS, newcomer()), make(client, PATIENTS, newcomer())
    other = make(client, PATIENTS, newcomer(given_name="Iseult"))

    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert (other.status_code, other.json()["code"]) == (409, "key_used")
    assert Patient.objects.count() == 1


def test_the_same_key_at_another_address_is_refused(client, patient):
    fact = {"side": "right", "kind": "rest_pain", "started_on": "2026-01-05", "source": "the person"}
    make(client, PATIENTS, newcomer())

    answer = make(client, reverse("patients_api:facts", args=[patient.pk]), fact)

    assert (answer.status_code, answer.json()["code"]) == (409, "key_used")
    assert not LimbFact.objects.exists()


def test_what_is_refused_leaves_its_key_free(client):
    refused = make(client, PATIENTS, newcomer(birth_date="1648-03-02"))

    assert (refused.status_code, refused.json()["field"]) == (422, "birth_date")
    assert not KeyUsed.objects.exists()
    assert make(client, PATIENTS, newcomer()).status_code == 201


def test_a_record_that_looks_like_the_same_person_must_be_told_apart(client):
    make(client, PATIENTS, newcomer())

    answer = make(client, PATIENTS, newcomer(), key="ward-system-2")

    assert (answer.status_code, answer.json()["field"]) == (422, "duplicate_reason")


# ---- changed only as it was read


def test_a_change_needs_the_mark_of_the_state_that_was_read(client, patient):
    address = reverse("patients_api:patient", args=[patient.pk])

    answers = [
        ask(client, "PATCH", address, {"sex": "male"}),
        ask(client, "PATCH", address, {"sex": "male"}, If_Match="*"),
        ask(client, "PATCH", address, {"sex": "male"}, If_Match='"of another state"'),
        ask(client, "PATCH", address, {"sex": "male"}, If_Match=etag(client, address)),
    ]

    assert [answer.status_code for answer in answers] == [428, 428, 412, 200]
    assert [answer.json()["code"] for answer in answers[:3]] == [
        "if_match_wanted",
        "if_match_wanted",
        "changed_meanwhile",
    ]
    assert answers[3].headers["ETag"] == etag(client, address)
    assert answers[3].json()["sex"] == "male"


def test_an_old_mark_is_refused_once_a_person_has_corrected_the_reading(client, measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=48)
    reading = reading_at(exam, "right_hallux")
    address = reverse("visits_api:reading", args=[reading.pk])
    old = etag(client, address)
    correct_reading(
        reading=reading,
        value=read_reading("84", "toe_1"),
        technique=reading.technique,
        reason="digits swapped",
        by=measurer,
    )
    sent = {"outcome": "pressure", "pressure_mmhg": 50, "technique": "two_cuffs", "because": "read anew"}

    answer = ask(client, "PUT", address, sent, If_Match=old)

    assert (answer.status_code, answer.json()["code"]) == (412, "changed_meanwhile")
    assert client.get(address).json()["replaced_by"] == reading_at(exam, "right_hallux").pk


def test_a_reading_that_was_replaced_cannot_be_corrected_with_its_new_mark_either(client, measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=48)
    address = reverse("visits_api:reading", args=[reading_at(exam, "right_hallux").pk])
    sent = {"outcome": "pressure", "pressure_mmhg": 84.5, "technique": "two_cuffs", "because": "swapped"}
    corrected = ask(client, "PUT", address, sent, If_Match=etag(client, address))

    again = ask(client, "PUT", address, sent, If_Match=etag(client, address))

    assert corrected.json()["pressure_mmhg"] == 84.5
    assert (again.status_code, again.json()["code"]) == (412, "changed_meanwhile")
    assert Reading.objects.filter(site="toe_1").count() == 2
