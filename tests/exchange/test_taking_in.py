"""A table taken in, and taken back: whole or not at all, and as the services would have stored it."""

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access.models import TrailRow
from access.permissions import NotHere
from access.verify import verify_chain
from exams.patients.models import Identifier, Patient
from exams.patients.services import record_limb_fact
from exams.visits.agreement.queries import may_repeat
from exams.visits.models import Exam, HandOver, Outcome, Reading, Result
from exams.visits.queries.exams import exams_without_report
from exams.visits.services import adopt_criteria, correct_reading, differences
from exams.visits.typed import TypedReading
from jobs.services import run
from reports.exchange import queries, services
from reports.exchange.models import Batch
from reports.exchange.services import importing
from tests.build import new_patient, reading_at, whole_exam
from tests.exchange.make import (
    HEADINGS,
    OPEN_FIELDS,
    OPEN_OPTIONS,
    ROW,
    as_csv,
    checked,
    done,
    open_table,
    received,
    row,
    said,
    taken_in,
)
from tests.exchange.test_checking import known, rows_on_record

TWO = as_csv(ROW, row(Hosp_No="OLD-2", Surname="Bramble", DOB="4 Apr 1961", R_toe="24"))


def lines(action: str) -> list[int | None]:
    return list(TrailRow.objects.filter(action=action).order_by("pk").values_list("patient_id", flat=True))


def fresh(exam: Exam) -> Exam:
    return Exam.objects.select_related("clinic", "patient").get(pk=exam.pk)


def test_what_came_in_is_stored_as_the_services_would_have_stored_it(measurer):
    batch = taken_in(measurer, TWO)

    exams = list(Exam.objects.select_related("clinic", "patient").order_by("pk"))
    assert [exam.imported_from for exam in exams] == ["old pressures.csv, row 2", "old pressures.csv, row 3"]
    assert [differences(exam) for exam in exams] == [[], []]
    assert reading_at(exams[1], "right_hallux").pressure_mmhg == Decimal(24)
    assert exams[0].patient.full_name == "Ada Quillfeather"
    assert Identifier.objects.get(patient=exams[0].patient).issuer == "Old ward book"
    assert (batch.state, batch.counts["exam"]) == ("imported", 2)


def test_earlier_exams_of_the_table_and_facts_of_the_record_change_what_an_exam_means(measurer):
    patient = known(measurer)
    record_limb_fact(
        patient=patient,
        side="right",
        kind="open_wound",
        started_on=date(2019, 5, 1),
        source="old notes",
        by=measurer,
    )
    silent = {"R_DP": "no signal", "R_PT": "no signal", "R_toe": "20"}

    taken_in(measurer, as_csv(row(Date="1 Jun 2019", **silent), ROW))

    later, earlier = Exam.objects.select_related("clinic", "patient").order_by("pk")
    assert later.booked_for > earlier.booked_for
    assert Result.objects.filter(exam=later, limb="right", measure="urgency").exists()
    assert [differences(later), differences(earlier)] == [[], []]


def test_the_trail_has_a_line_for_the_batch_and_one_for_each_person(measurer):
    taken_in(measurer, TWO)

    people = list(Patient.objects.order_by("pk").values_list("pk", flat=True))
    assert lines("taken in with a table") == people
    assert lines("table taken in") == [None]
    assert not verify_chain(measurer.clinic.pk).fault


def test_an_imported_exam_raises_no_hand_over_and_waits_for_no_report(measurer):
    taken_in(measurer, TWO)

    assert not HandOver.objects.exists()
    assert exams_without_report(measurer) == []


def test_an_imported_exam_is_no_pair_of_an_agreement_study(measurer):
    patient = known(measurer)
    taken_in(measurer, as_csv(ROW))
    own = whole_exam(measurer, patient)
    Exam.objects.filter(pk=own.pk).update(first_inflation_at="2019-05-20T12:00Z")

    assert may_repeat(fresh(own)) == []


def test_nothing_comes_in_without_being_agreed_to(measurer):
    batch = checked(measurer, as_csv(ROW, row(Hosp_No="OLD-2", Surname="Bramble", R_toe="brisk")))

    with pytest.raises(ValidationError) as refused:
        services.ask_to_take_in(batch=batch, agree_new_people=False, leave_out_refused=False, by=measurer)

    assert set(refused.value.error_dict) == {"agree_new_people", "leave_out_refused"}
    assert not Exam.objects.exists()


def test_a_record_that_changed_since_the_check_is_looked_at_again_first(measurer):
    batch = checked(measurer, as_csv(ROW))
    job = services.ask_to_take_in(batch=batch, agree_new_people=True, leave_out_refused=False, by=measurer)
    known(measurer, "OLD-7")

    run(job.pk)

    job.refresh_from_db()
    assert (job.state, job.reason) == ("failed", importing.CHANGED)
    assert not Exam.objects.exists()


def test_the_same_file_is_refused_a_second_time(measurer):
    taken_in(measurer, TWO)

    with pytest.raises(ValidationError) as refused:
        received(measurer, TWO)

    assert "taken in already" in refused.value.messages[0]


def test_the_job_twice_writes_once(measurer):
    batch = taken_in(measurer, TWO)
    before = rows_on_record()

    services.take_in(batch=Batch.objects.get(pk=batch.pk), by=measurer, tell=lambda percent, words: None)

    assert rows_on_record() == before


def test_rows_to_mend_come_back_as_a_table_of_their_own(measurer):
    batch = taken_in(
        measurer, as_csv(ROW, row(Hosp_No="OLD-2", Surname="Bramble", DOB="4 Apr 1961", R_toe="brisk"))
    )
    sheet = queries.error_sheet(batch)
    place = sheet[0].index("R toe")
    assert sheet[1][0] == "R toe: “brisk” is neither a pressure nor a word known here"

    sheet[1][place] = "84"
    mended = checked(measurer, as_csv(*sheet[1:], headings=sheet[0]))

    assert (mended.counts["exam"], said(mended)) == (1, [])


def test_a_table_taken_back_leaves_the_record_as_it_was(measurer):
    known(measurer)
    before = rows_on_record()
    batch = taken_in(measurer, TWO)

    done(batch, services.ask_to_take_back(batch=batch, because="wrong clinic's book", by=measurer))

    after = rows_on_record()
    # What was kept ready of a record stays as a row that counts no more.
    assert {name for name in before if before[name] != after[name]} <= {
        "timeline.KeptRecord",
        "wounds.KeptOutlook",
    }
    assert batch.state == "taken_back"
    assert len(lines("taken back with a table")) == 2


def test_what_somebody_has_worked_with_is_named_and_stays(measurer):
    batch = taken_in(measurer, TWO)
    first = Exam.objects.order_by("pk").first()
    reading = reading_at(first, "right_hallux")
    correct_reading(
        reading=reading,
        value=TypedReading(Outcome.PRESSURE, Decimal(121)),
        technique=reading.technique,
        reason="digits swapped",
        by=measurer,
    )

    with pytest.raises(ValidationError) as refused:
        services.ask_to_take_back(batch=batch, because="a try", by=measurer)

    assert "Ada Quillfeather, 14 May 2019: a reading was corrected or added" in refused.value.messages[0]
    assert Exam.objects.count() == 2


@pytest.mark.parametrize("what", ["another exam", "a fact", "changed"])
def test_a_person_the_table_registered_and_somebody_worked_with_stays(measurer, what):
    batch = taken_in(measurer, TWO)
    patient = Patient.objects.order_by("pk").first()
    if what == "another exam":
        whole_exam(measurer, patient)
    elif what == "a fact":
        record_limb_fact(
            patient=patient,
            side="left",
            kind="rest_pain",
            started_on=date(2020, 1, 1),
            source="told",
            by=measurer,
        )
    else:
        Patient.objects.filter(pk=patient.pk).update(revision=2)

    with pytest.raises(ValidationError):
        services.ask_to_take_back(batch=batch, because="a try", by=measurer)

    assert Reading.objects.filter(exam__came_with__batch=batch).count() == 16


def test_who_may_not_and_who_is_elsewhere(measurer, wound_nurse, outsider):
    batch = received(measurer, TWO)

    with pytest.raises(PermissionDenied):
        services.receive_table(name="a.csv", content=TWO, by=wound_nurse)
    with pytest.raises(NotHere):
        services.ask_for_check(batch=batch, by=outsider)


def test_the_open_table_gives_its_published_indices(measurer, administrator):
    adopt_criteria(name="population-survey", version="2", by=administrator)

    batch = taken_in(measurer, open_table(100), fields=OPEN_FIELDS, **OPEN_OPTIONS.to_json())

    told = Result.objects.filter(measure="ankle_brachial_index", value__isnull=False)
    stored = {
        (subject, limb): f"{value:.2f}"
        for subject, limb, value in told.values_list("exam__patient__given_name", "limb", "value")
    }
    table = [line.split(",") for line in open_table(100).decode().splitlines()]
    names = table[0]
    published = {
        (f"{line[0]}-{line[1]}", side): line[names.index(f"{side}_abi_published")]
        for line in table[1:]
        for side in ("right", "left")
        if line[names.index(f"{side}_abi_published")]
    }
    assert Patient.objects.count() == batch.counts["new_people"] == 100
    assert stored.keys() == published.keys()
    assert {limb for limb in published if stored[limb] != published[limb]} == {
        ("1999-2000-74", "right"),
    }


def test_an_index_without_pressures_is_kept_as_reported(measurer):
    cells = (*ROW[:5], *[""] * 8, "0.72", "")
    taken_in(measurer, as_csv(cells, headings=(*HEADINGS, "R ABI", "L ABI")))

    exam = Exam.objects.get()
    assert exam.preparations.get(item="comment").value == (
        "Reported index, source: imported table, no readings: RIGHT ankle-brachial index 0.72."
    )
    assert not exam.readings.exists()
    assert differences(fresh(exam)) == []


def test_somebody_new_is_not_registered_twice_for_two_exams(measurer):
    new_patient(measurer)

    taken_in(measurer, as_csv(ROW, row(Date="14 May 2020")))

    assert Patient.objects.filter(family_name="Quillfeather").count() == 1
    assert Exam.objects.count() == 2


def test_an_imported_exam_says_so_wherever_it_is_listed(client_as, measurer):
    patient = known(measurer)
    taken_in(measurer, as_csv(ROW))
    exam, client = Exam.objects.get(), client_as(measurer)

    pages = [
        client.get(address).content.decode()
        for address in (f"/patients/{patient.pk}/", f"/exams/{exam.pk}/", f"/patients/{patient.pk}/timeline/")
    ]

    assert ["mported" in page for page in pages] == [True, True, True]


def made_ready(batch: Batch, by) -> Batch:
    services.get_ready(batch=batch, by=by, tell=lambda percent, words: None)
    return Batch.objects.get(pk=batch.pk)


def taken(batch: Batch, by) -> Batch:
    return done(
        batch,
        services.ask_to_take_in(batch=batch, agree_new_people=True, leave_out_refused=True, by=by),
    )


def test_findings_made_ready_are_those_that_would_be_made_when_it_is_taken_in(measurer):
    ready = made_ready(checked(measurer, TWO), measurer)
    assert (ready.ready.count(), ready.ready_for != "") == (1, True)

    batch = taken(ready, measurer)

    assert [differences(fresh(exam)) for exam in Exam.objects.order_by("pk")] == [[], []]
    assert (batch.ready.count(), batch.ready_for) == (0, "")


def test_findings_made_ready_before_the_record_changed_are_made_anew(measurer):
    patient = known(measurer)
    ready = made_ready(checked(measurer, as_csv(row(R_toe="35"))), measurer)
    record_limb_fact(
        patient=patient,
        side="right",
        kind="open_wound",
        started_on=date(2019, 5, 1),
        source="old notes",
        by=measurer,
    )

    taken(ready, measurer)

    exam = Exam.objects.select_related("clinic", "patient").get()
    assert differences(exam) == []
    toe = exam.results.get(limb="right", measure="toe_pressure")
    assert "TOE_LT_50_WITH_WOUND" in toe.finding["flags"]


def test_a_check_that_is_made_again_drops_what_was_made_ready(measurer):
    ready = made_ready(checked(measurer, TWO), measurer)

    done(ready, services.ask_for_check(batch=ready, by=measurer))

    assert not Batch.objects.get().ready.exists()
