"""Where "do not inflate" stands, no cuff is inflated unless a named person says why."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from access import clock
from exams.patients.services import add_caution, end_caution
from exams.visits.queries.chart import chart_of
from exams.visits.queries.results import stored_interpretation
from exams.visits.queries.sheet import sheet_for
from exams.visits.services import confirm_cautions, confirm_identity
from tests.build import WHOLE, booked_exam, enter, exam_with, new_patient, reading_at, ready_exam


@pytest.fixture
def dialysed(measurer):
    """A person with a dialysis fistula in the LEFT arm."""
    patient = new_patient(measurer)
    add_caution(
        patient=patient,
        side="left",
        region="arm",
        kind="fistula",
        do_not_inflate=True,
        source="renal clinic",
        by=measurer,
    )
    return patient


def test_a_protected_arm_takes_no_pressure(measurer, dialysed):
    exam = ready_exam(measurer, dialysed)

    with pytest.raises(ValidationError, match=r"Do not inflate: dialysis fistula or graft \(LEFT arm\)"):
        enter(exam, "left.arm.1", 140, measurer)


def test_a_protected_arm_has_its_reason_without_typing(measurer, dialysed):
    exam = ready_exam(measurer, dialysed)

    assert reading_at(exam, "arm_left").reason == "arm_protected"


def test_an_exam_with_one_arm_says_so_in_the_result(measurer, dialysed):
    exam = exam_with(
        measurer, dialysed, finish=True, **{key: value for key, value in WHOLE.items() if key != "arm_left"}
    )

    assert "SINGLE_ARM" in stored_interpretation(exam).flags(None)
    assert any("one arm only" in finding.sentence for finding in stored_interpretation(exam).findings)


def test_a_named_person_may_override_with_a_reason(measurer, dialysed):
    exam = ready_exam(measurer, dialysed)

    enter(exam, "left.arm.1", 140, measurer, override_because="fistula closed in May, surgeon agrees")

    row = reading_at(exam, "arm_left")
    assert (row.override_by, row.override_because) == (measurer.user, "fistula closed in May, surgeon agrees")
    field = next(
        field
        for group in sheet_for(measurer, exam.pk).groups
        for field in group.fields
        if field.name == "left.arm.1"
    )
    assert field.override == "fistula closed in May, surgeon agrees (Mina Measurer)"


def test_the_first_arm_is_the_one_that_may_be_measured(measurer):
    patient = new_patient(measurer)
    add_caution(
        patient=patient,
        side="right",
        region="arm",
        kind="lymphoedema",
        do_not_inflate=True,
        source="person",
        by=measurer,
    )

    assert chart_of(ready_exam(measurer, patient)).first_arm == "left"


def test_a_suspected_clot_protects_the_whole_leg(measurer):
    patient = new_patient(measurer)
    add_caution(
        patient=patient,
        side="right",
        region="leg",
        kind="clot",
        do_not_inflate=True,
        source="ward",
        by=measurer,
    )
    exam = ready_exam(measurer, patient)

    assert reading_at(exam, "right_hallux").reason == "suspected_clot"
    assert reading_at(exam, "right_posterior_tibial").reason == "suspected_clot"
    with pytest.raises(ValidationError, match="Do not inflate"):
        enter(exam, "right.toe_1.1", 60, measurer)


def test_a_caution_without_do_not_inflate_locks_nothing(measurer):
    patient = new_patient(measurer)
    add_caution(
        patient=patient,
        side="right",
        region="ankle",
        kind="fragile_skin",
        do_not_inflate=False,
        source="seen",
        by=measurer,
    )

    exam = exam_with(measurer, patient, right_posterior_tibial=120)

    assert reading_at(exam, "right_posterior_tibial").pressure_mmhg == 120


def test_a_caution_that_ended_since_does_not_keep_a_paper_exam_from_being_entered(measurer, dialysed):
    with clock.at(clock.now() - timedelta(days=3)):
        held_then = add_caution(
            patient=dialysed,
            side="right",
            region="arm",
            kind="arm_line",
            do_not_inflate=True,
            source="seen",
            by=measurer,
        )
    exam = booked_exam(measurer, dialysed, booked_for=clock.now() - timedelta(days=2), entered_later=True)
    confirm_identity(exam=exam, how="stated", by=measurer)
    end_caution(caution=held_then, reason="line removed", by=measurer)

    confirm_cautions(exam=exam, by=measurer)

    assert reading_at(exam, "arm_right").reason == "arm_protected"
