"""What was promised is kept by a word or by an exam, or it is broken and shown."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from access import clock
from exams.followup import services
from exams.followup.forms import PromiseForm
from exams.followup.queries.patient import promise_proposal
from exams.followup.queries.promises import promises_due, promises_of
from exams.visits.services import reopen
from tests.build import exam_with, new_patient, whole_exam
from tests.followup.make import promise, today

pytestmark = pytest.mark.django_db
BROKEN_AT = timedelta(days=31)
WARM = {"right_toe_celsius": "31", "left_toe_celsius": "31"}


def line_of(by, patient):
    return promises_of(by, patient)[0]


def test_a_promise_past_its_day_is_broken_and_due(wound_nurse, patient):
    promise(wound_nurse, patient, days=30)
    assert promises_due(wound_nurse) == ()

    with clock.at(clock.now() + BROKEN_AT):
        broken = promises_due(wound_nurse)

    assert [one.broken_days for one in broken] == [1]


def test_somebody_says_it_was_done(wound_nurse, patient):
    made = promise(wound_nurse, patient)

    services.keep_promise(promise=made, how="seen by the podiatrist", by=wound_nurse)

    line = line_of(wound_nurse, patient)
    assert (line.stands, line.promise.kept_how) == (False, "seen by the podiatrist")


def test_it_is_called_off_only_with_a_reason_and_only_once(wound_nurse, patient):
    made = promise(wound_nurse, patient)
    with pytest.raises(ValidationError) as empty:
        services.call_off_promise(promise=made, because="", by=wound_nurse)
    services.call_off_promise(promise=made, because="moved away", by=wound_nurse)

    with pytest.raises(ValidationError, match="meanwhile"):
        services.keep_promise(promise=made, how="seen", by=wound_nurse)
    assert set(empty.value.message_dict) == {"because"}


@pytest.mark.parametrize(("kind", "kept"), [("measure", True), ("see", False), ("call", False)])
def test_an_exam_keeps_a_promise_to_measure_and_no_other(measurer, patient, kind, kept):
    promise(measurer, patient, kind=kind)

    exam = whole_exam(measurer, patient)

    line = line_of(measurer, patient)
    assert line.stands is not kept
    assert (line.promise.kept_exam == exam) is kept


@pytest.mark.parametrize(
    ("conditions", "side", "kept"),
    [
        (WARM, "", True),
        ({**WARM, "left_toe_celsius": "26"}, "", False),
        ({**WARM, "left_toe_celsius": "26"}, "right", True),
        ({"right_toe_celsius": "31"}, "", False),
        ({}, "right", False),
    ],
)
def test_warm_feet_are_a_promise_kept_only_by_feet_measured_warm(measurer, patient, conditions, side, kept):
    promise(measurer, patient, kind="warm", side=side, words="Repeat with warm feet")

    whole_exam(measurer, patient, conditions=conditions)

    assert line_of(measurer, patient).stands is not kept


def test_an_exam_opened_again_opens_the_promise_it_kept(measurer, patient):
    promise(measurer, patient, kind="measure")
    exam = whole_exam(measurer, patient)

    reopen(exam=exam, because="a toe was forgotten", by=measurer)

    assert line_of(measurer, patient).stands


def test_the_exam_at_which_it_was_promised_does_not_keep_it(measurer, patient):
    exam = exam_with(measurer, patient, right_hallux=48)
    promise(measurer, patient, kind="measure", exam=exam)

    assert line_of(measurer, patient).stands


def test_a_cold_toe_that_matters_offers_a_repeat_with_warm_feet(measurer):
    patient = new_patient(measurer)
    exam = whole_exam(measurer, patient, right_hallux=36, conditions={**WARM, "right_toe_celsius": "24"})

    offered = promise_proposal(measurer, patient, exam.pk)

    assert (offered.kind, offered.side) == ("warm", "right")


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("in 3 months", date(2026, 5, 28)),
        ("2 weeks", date(2026, 3, 14)),
        ("1 year", date(2027, 2, 28)),
        ("30 Mar 2026", date(2026, 3, 30)),
    ],
)
def test_by_when_is_typed_as_people_say_it(typed, expected):
    said = {"kind": "see", "side": "", "words": "x", "due_on": typed}
    form = PromiseForm(said, today=date(2026, 2, 28))

    form.is_valid()

    assert form.cleaned_data["due_on"] == expected


@pytest.mark.parametrize("typed", ["in 99 years", "soon", "in months", ""])
def test_an_unclear_day_is_asked_again_at_its_field(typed):
    form = PromiseForm({"kind": "see", "side": "", "words": "x", "due_on": typed}, today=today())

    assert not form.is_valid()
    assert set(form.errors) == {"due_on"}


def test_a_day_that_is_over_is_refused(wound_nurse, patient):
    with pytest.raises(ValidationError, match="is over"):
        promise(wound_nurse, patient, days=-1)


def test_what_is_due_costs_one_query(wound_nurse, patient, django_assert_num_queries):
    for _ in range(4):
        promise(wound_nurse, patient, days=0)

    with django_assert_num_queries(1):
        assert len(promises_due(wound_nurse)) == 4
