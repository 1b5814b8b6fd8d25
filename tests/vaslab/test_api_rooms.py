"""What programs do in each room: the same rules as on the pages, from first to last; and its lists."""

from datetime import timedelta

import pytest
from django.urls import reverse

from access import clock
from access.models import TrailRow
from access.roles import Role
from exams.traces.models import TraceSeen
from exams.visits.models import Reading
from exams.visits.services import correct_reading
from exams.visits.typed import read_reading
from reports.documents.models import Document
from tests.build import booked_exam, new_patient, reading_at, ready_exam, whole_exam
from tests.identity.make import merge, two_records
from tests.people import person, program, sending_client
from tests.traces.made import sent_recording
from tests.traces.walk import toe_samples
from tests.vaslab.asking import ask, etag, make, whole_client
from tests.wounds.make import FOUND

PATIENTS = reverse("patients_api:patients")
EXAMS = reverse("visits_api:exams")


@pytest.fixture
def client(measurer):
    return whole_client(measurer)


# ---- the same rules as at the sheet


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"pressure_mmhg": 0}, "pressure_mmhg"),
        ({"pressure_mmhg": 48.25}, "pressure_mmhg"),
        ({"pressure_mmhg": 301}, "pressure_mmhg"),
        ({"pressure_mmhg": None}, "pressure_mmhg"),
        ({"outcome": "no_signal"}, "pressure_mmhg"),
        ({"outcome": "not_obtained", "pressure_mmhg": None}, "reason"),
        ({"outcome": "not_obtained", "pressure_mmhg": None, "reason": "other"}, "reason_text"),
        ({"technique": "by_ear"}, "technique"),
        ({"pressure": 48}, "pressure"),
    ],
)
def test_a_value_that_cannot_be_is_refused_at_its_field(client, measurer, changed, field):
    exam = ready_exam(measurer)
    sent = {"side": "right", "site": "toe_1", "technique": "two_cuffs", "outcome": "pressure"}

    answer = make(
        client,
        reverse("visits_api:exam_readings", args=[exam.pk]),
        {**sent, "pressure_mmhg": 48, **changed},
    )

    assert (answer.status_code, answer.json()["field"]) == (422, field)
    assert not Reading.objects.exists()


def test_a_reading_before_the_cautions_are_answered_is_refused_in_words(client, measurer):
    exam = booked_exam(measurer)
    sent = {"side": "right", "site": "arm", "technique": "doppler", "outcome": "no_signal"}

    answer = make(client, reverse("visits_api:exam_readings", args=[exam.pk]), sent)

    assert answer.status_code == 422
    assert "identity" in answer.json()["words"]


def test_the_next_free_attempt_is_taken_and_a_fourth_refused(client, measurer):
    exam = ready_exam(measurer)
    address = reverse("visits_api:exam_readings", args=[exam.pk])
    sent = {"side": "right", "site": "arm", "technique": "doppler", "outcome": "pressure"}
    answers = [make(client, address, {**sent, "pressure_mmhg": 140 + n}, f"attempt-{n}") for n in range(4)]

    assert [answer.status_code for answer in answers] == [201, 201, 201, 409]
    assert [answer.json()["attempt"] for answer in answers[:3]] == [1, 2, 3]
    assert answers[3].json()["code"] == "no_attempt_left"


# ---- the other rooms, from first to last


def test_a_fact_of_a_limb_is_recorded_corrected_and_ended(client, patient):
    said = {"side": "right", "kind": "revascularisation", "started_on": "2025-11-01", "source": "letter"}
    said |= {"started_precision": "month", "approach": "endovascular", "vessels": ["popliteal"]}
    facts = reverse("patients_api:facts", args=[patient.pk])

    def at(fact, *more):
        return reverse("patients_api:fact", args=[patient.pk, fact["fact"]]) + "".join(more)

    made = make(client, facts, said).json()
    mended = {"vessels": ["popliteal", "peroneal"], "because": "letter read again"}
    corrected = ask(client, "PATCH", at(made), mended, If_Match=etag(client, at(made))).json()
    ended = {"ended_on": "2026-01-01", "because": "closed again"}
    refused = ask(client, "POST", at(corrected, "end/"), ended, If_Match=etag(client, at(corrected)))

    assert (corrected["replaces"], corrected["vessels"]) == (made["fact"], ["popliteal", "peroneal"])
    assert corrected["started_precision"] == "month"
    assert client.get(at(made)).status_code == 404
    assert (refused.status_code, refused.json()["field"]) == (422, "ended_on")
    assert [one["fact"] for one in client.get(facts, {"side": "right"}).json()["results"]] == [
        corrected["fact"]
    ]


def test_a_wound_is_recorded_assessed_corrected_and_closed(wound_nurse, patient):
    client = sending_client(program("Wound system", wound_nurse))
    today = clock.now().astimezone(wound_nurse.clinic.zone).date()
    said = {"side": "right", "place": "toe_1_sole", "cause": "neuropathic"}
    began = str(today - timedelta(days=20))
    wound = make(
        client, reverse("wounds_api:patient_wounds", args=[patient.pk]), {**said, "began_on": began}
    ).json()
    here = reverse("wounds_api:wound", args=[patient.pk, wound["wound"]])
    found = {**FOUND, "assessed_on": str(today), "tissue": ["granulating"]}
    first = make(client, f"{here}assessments/", found, key="assessment-1").json()
    there = f"{here}assessments/{first['assessment']}/"
    second = ask(
        client, "PATCH", there, {"length_mm": 24, "because": "ruler"}, If_Match=etag(client, there)
    ).json()
    over = {"status": "healed", "closed_on": str(today)}
    closed = ask(client, "POST", f"{here}close/", over, If_Match=etag(client, here))

    assert (first["area_mm2"], second["area_mm2"]) == (20 * 12, 24 * 12)
    assert second["replaces"] == first["assessment"]
    assert {one["measure"] for one in second["grades"]} >= {"wifi_stage"}
    assert (closed.status_code, closed.json()["status"]) == (200, "healed")


def test_a_referral_goes_from_one_side_to_the_other(wound_nurse, reporter, patient):
    nurse, surgeon = (
        sending_client(program(f"Program of {who.name}", who)) for who in (wound_nurse, reporter)
    )
    said = {"sent_to": "Vascular surgery", "urgency": "one_working_day", "reasons": "toe 28, ulcer"}
    sent = make(nurse, reverse("followup_api:patient_referrals", args=[patient.pk]), said).json()
    here = reverse("followup_api:referral", args=[sent["referral"]])
    old = etag(nurse, here)

    forbidden = ask(nurse, "POST", f"{here}answers/", {"after": "accepted"}, If_Match=old)
    accepted = ask(surgeon, "POST", f"{here}answers/", {"after": "accepted"}, If_Match=old)
    late = ask(nurse, "POST", f"{here}steps/", {"after": "closed", "words": "moved"}, If_Match=old)

    assert (forbidden.status_code, forbidden.json()["code"]) == (403, "person_may_not")
    assert [one["state"] for one in accepted.json()["steps"]] == ["sent", "accepted"]
    assert "seen" in accepted.json()["may_follow"]
    assert (late.status_code, late.json()["code"]) == (412, "changed_meanwhile")


def test_a_record_that_was_merged_names_the_one_that_stands(measurer, reporter, client):
    kept, gone = two_records(measurer)
    merge(kept, gone, reporter)

    answer = client.get(reverse("patients_api:patient", args=[gone.pk]))

    assert (answer.status_code, answer.json()["code"]) == (409, "merged")
    assert str(kept.pk) in answer.json()["words"]


# ---- lists


def test_a_list_goes_on_where_its_part_ended(client, measurer):
    patients = [new_patient(measurer).pk for _ in range(3)]

    first = client.get(PATIENTS, {"limit": 2}).json()
    rest = client.get(first["next"]).json()

    assert [one["patient"] for one in first["results"] + rest["results"]] == patients
    assert rest["next"] is None


@pytest.mark.parametrize("asked", ["limit=101", "limit=0", "after=-1", "patinet=1", "born=0001-01-01"])
def test_a_filter_that_cannot_be_is_refused_not_ignored(client, asked):
    answer = client.get(f"{PATIENTS}?{asked}")

    assert (answer.status_code, answer.json()["field"]) == (422, asked.partition("=")[0])


def test_readings_are_found_by_patient_site_and_day_of_the_clinic(client, measurer):
    patient = new_patient(measurer)
    old = whole_exam(measurer, patient, at=clock.now() - timedelta(days=400))
    new = whole_exam(measurer, patient)
    whole_exam(measurer)
    today = clock.now().astimezone(measurer.clinic.zone).date()

    def toes(**more):
        asked = {"patient": patient.pk, "site": "toe_1", "side": "right", **more}
        listed = client.get(reverse("visits_api:readings"), asked).json()["results"]
        return [one["exam"] for one in listed]

    assert toes() == [old.pk, new.pk]
    assert toes(since=today) == [new.pk]
    assert toes(until=today - timedelta(days=300)) == [old.pk]


@pytest.mark.parametrize("name", ["exams", "readings", "findings"])
def test_a_list_asks_the_database_as_often_for_many_as_for_one(
    client, measurer, name, django_assert_max_num_queries
):
    patient = new_patient(measurer)
    whole_exam(measurer, patient)
    address = reverse(f"visits_api:{name}")
    client.get(address)
    with django_assert_max_num_queries(100) as asked:
        client.get(address)
    whole_exam(measurer, patient)
    whole_exam(measurer)

    with django_assert_max_num_queries(len(asked)):
        assert len(client.get(address).json()["results"]) > 2


def test_the_line_of_a_list_says_what_was_asked_and_who_was_answered(client, measurer):
    patient = new_patient(measurer)

    client.get(PATIENTS, {"q": patient.family_name})

    line = TrailRow.objects.get(action="list of patients read by a program")
    assert (line.user.full_name, line.role) == ("Ward system", "measurer")
    assert line.details == {"asked": {"q": patient.family_name}, "rows": [patient.pk]}


# ---- single things


def test_a_trace_read_by_a_program_is_seen_by_its_person(client, measurer):
    trace = sent_recording(measurer, ready_exam(measurer), *toe_samples(), key="seen-by")

    answer = client.get(reverse("traces_api:trace", args=[trace.pk]))

    assert answer.json()["marks"] == []
    assert TraceSeen.objects.get().person == measurer.user


def test_a_report_about_findings_that_changed_is_refused(client, measurer):
    exam = whole_exam(measurer)
    read = client.get(reverse("visits_api:exam_findings", args=[exam.pk]))
    sent = {"conclusion": read.json()["conclusion_drafted"], "findings_etag": read.headers["ETag"]}
    reading = reading_at(exam, "right_hallux")
    correct_reading(
        reading=reading,
        value=read_reading("30", "toe_1"),
        technique=reading.technique,
        reason="digits swapped",
        by=measurer,
    )

    answer = make(client, reverse("documents_api:exam_reports", args=[exam.pk]), sent)

    assert (answer.status_code, answer.json()["code"]) == (412, "findings_changed")
    assert not Document.objects.exists()


def test_a_report_that_is_not_made_yet_says_so_instead_of_its_file(client, measurer):
    exam = whole_exam(measurer)
    read = client.get(reverse("visits_api:exam_findings", args=[exam.pk]))
    sent = {"conclusion": read.json()["conclusion_drafted"], "findings_etag": read.headers["ETag"]}
    made = make(client, reverse("documents_api:exam_reports", args=[exam.pk]), sent).json()

    answer = client.get(reverse("documents_api:pdf", args=[made["report"]]))

    assert made["state"] == "waiting"
    assert (answer.status_code, answer.json()["code"]) == (409, "no_file")


def test_small_numbers_are_hidden_from_a_program_that_reads_no_exams(clinic):
    both = person("Bea Both", clinic, Role.REPORTER)
    exact = sending_client(program("Exact", both, "measures.read", "exams.read"))
    rounded = sending_client(program("Rounded", both, "measures.read"))
    address = reverse("audit_api:measures")

    assert (exact.get(address).json()["exact"], rounded.get(address).json()["exact"]) == (True, False)
    assert rounded.get(address, {"period": "quarter-1990-01"}).json()["field"] == "period"
