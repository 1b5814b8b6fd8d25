"""A whole sheet stored in one act says and keeps what its values typed one by one would have."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from exams.patients.services import add_caution
from exams.visits.models import Preparation, Reading, Result
from exams.visits.plan import place_named
from exams.visits.services import Filled, Noted, record_sheet
from exams.visits.typed import read_reading
from tests.build import enter, ready_exam

TYPED = {
    "right.arm.1": "140", "left.arm.1": "138", "right.posterior_tibial.1": "150",
    "left.posterior_tibial.1": "*250", "right.toe_1.1": "112", "left.toe_1.1": "24",
}  # fmt: skip


def filled(typed=TYPED, at=None):
    return [
        Filled(
            place,
            read_reading(text, place.site),
            "two_cuffs" if place.site == "toe_1" else "doppler",
            uuid4(),
            at or clock.now(),
        )
        for place, text in ((place_named(name), text) for name, text in typed.items())
    ]


def said(exam):
    rows = Result.objects.filter(exam=exam).order_by("limb", "measure")
    return [(row.limb, row.measure, row.value, row.band, row.finding["sentence"]) for row in rows]


def trail_of(exam):
    lines = TrailRow.objects.filter(patient_id=exam.patient_id, action="reading recorded")
    return [line.details_json for line in lines.order_by("pk")]


def test_the_findings_slips_and_trail_are_those_of_values_typed_one_by_one(measurer):
    at_once, one_by_one = ready_exam(measurer), ready_exam(measurer)

    record_sheet(
        exam=at_once, noted=[Noted("right_toe_celsius", "31", uuid4())], filled=filled(), by=measurer
    )
    enter(one_by_one, "right_toe_celsius", "31", measurer)
    for name, text in TYPED.items():
        enter(one_by_one, name, text, measurer)

    assert said(at_once) == said(one_by_one) != []
    assert trail_of(at_once) == trail_of(one_by_one)
    assert [slip.flag for slip in at_once.hand_overs.all()] == [
        slip.flag for slip in one_by_one.hand_overs.all()
    ]
    at_once.refresh_from_db()
    assert at_once.state == "measuring"


def test_the_first_cuff_is_that_of_the_earliest_reading_and_never_ahead_of_now(measurer):
    exam, earlier = ready_exam(measurer), clock.now() - timedelta(minutes=4)
    ahead = filled({"right.toe_1.1": "90"}, clock.now() + timedelta(hours=1))

    record_sheet(exam=exam, noted=[], filled=[*filled({"right.arm.1": "140"}, earlier), *ahead], by=measurer)

    exam.refresh_from_db()
    assert exam.first_inflation_at == earlier
    assert Reading.objects.get(site="toe_1").typed_at <= clock.now()


def test_no_cuff_is_inflated_by_the_sheet_where_none_may_be_and_nothing_is_stored(measurer, patient):
    add_caution(
        patient=patient,
        side="left",
        region="arm",
        kind="fistula",
        do_not_inflate=True,
        source="card",
        by=measurer,
    )
    exam = ready_exam(measurer, patient)
    before = Reading.objects.count()

    with pytest.raises(ValidationError, match="Do not inflate"):
        record_sheet(
            exam=exam, noted=[], filled=filled({"right.arm.1": "140", "left.arm.2": "138"}), by=measurer
        )

    assert Reading.objects.count() == before


def test_what_is_filled_in_is_not_filled_in_again(measurer):
    exam = ready_exam(measurer)
    enter(exam, "right.arm.1", "140", measurer)
    enter(exam, "position", "supine", measurer)

    for sheet in (
        {"noted": [], "filled": filled()},
        {"noted": [Noted("position", "sitting", uuid4())], "filled": []},
    ):
        with pytest.raises(ValidationError, match="is filled in already"):
            record_sheet(exam=exam, by=measurer, **sheet)

    assert Reading.objects.get(exam=exam).pressure_mmhg == Decimal(140)
    assert Preparation.objects.get(exam=exam, item="position").value == "supine"


def test_a_value_the_database_refuses_stores_nothing(measurer):
    exam = ready_exam(measurer)

    with pytest.raises(ValidationError):
        record_sheet(exam=exam, noted=[Noted("no such item", "1", uuid4())], filled=filled(), by=measurer)

    assert not Reading.objects.filter(exam=exam).exists()


def test_only_a_measurer_fills_a_sheet(measurer, wound_nurse):
    exam = ready_exam(measurer)

    with pytest.raises(PermissionDenied):
        record_sheet(exam=exam, noted=[], filled=filled(), by=wound_nurse)
