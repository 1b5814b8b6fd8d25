"""The exam sheet: what is asked, in which order, and what stands beside it."""

from datetime import UTC, datetime, timedelta

import pytest

from access import clock
from exams.patients.queries import today_in
from exams.patients.services import record_limb_fact
from exams.visits.drawn_findings import findings_html
from exams.visits.queries.sheet import sheet_for
from exams.visits.services import confirm_cautions, confirm_identity, finish_measuring, set_indication
from tests.build import WHOLE, booked_exam, enter, exam_with, new_patient, ready_exam, whole_exam


def field_of(by, exam, name):
    return next(one for group in sheet_for(by, exam.pk).groups for one in group.fields if one.name == name)


def open_fields(sheet):
    return [field.name for group in sheet.groups for field in group.fields if not field.folded]


def test_an_ankle_and_toe_exam_asks_in_the_measuring_order(measurer):
    exam = ready_exam(measurer)

    assert open_fields(sheet_for(measurer, exam.pk)) == [
        "right.arm.1",
        "left.arm.1",
        "right.posterior_tibial.1",
        "right.dorsalis_pedis.1",
        "left.posterior_tibial.1",
        "left.dorsalis_pedis.1",
        "right.toe_1.1",
        "right.toe_1.2",
        "left.toe_1.1",
        "left.toe_1.2",
        "right.arm.2",
    ]


def test_a_clinic_may_choose_toes_first(measurer):
    exam = ready_exam(measurer)
    measurer.clinic.toes_first = True
    measurer.clinic.save()

    names = open_fields(sheet_for(measurer, exam.pk))

    assert names.index("right.toe_1.1") < names.index("right.posterior_tibial.1")
    assert names[-1] == "right.arm.2"


def test_a_toe_only_exam_folds_the_ankles_away(measurer):
    exam = ready_exam(measurer, exam_type="toe_only")

    assert not any("tibial" in name or "pedis" in name for name in open_fields(sheet_for(measurer, exam.pk)))


def test_a_full_exam_shows_peroneal_and_second_toe(measurer):
    names = open_fields(sheet_for(measurer, ready_exam(measurer, exam_type="full").pk))

    assert {"right.peroneal.1", "left.toe_2.1"} <= set(names)


def test_a_value_that_is_not_stated_says_why(measurer):
    shown = findings_html(sheet_for(measurer, exam_with(measurer, arm_right=140).pk).findings)

    assert "<span>toe pressure not measured</span>" in shown
    assert "<span>not assessed</span>" not in shown


def test_a_hallux_without_a_reading_offers_the_second_toe(measurer):
    exam = exam_with(measurer, right_hallux="-2")

    names = open_fields(sheet_for(measurer, exam.pk))

    assert "right.toe_2.1" in names
    assert "left.toe_2.1" not in names


def test_an_amputated_hallux_leaves_the_sheet_and_the_second_toe_is_planned(measurer, patient):
    lose_right_hallux(patient, measurer)

    sheet = sheet_for(measurer, ready_exam(measurer, patient).pk)

    fields = {field.name: field for group in sheet.groups for field in group.fields}
    assert "right.toe_1.1" not in fields
    assert fields["right.toe_2.1"].planned
    assert fields["left.toe_1.1"].planned


def test_a_hallux_lost_after_the_exam_of_the_same_day_leaves_that_exam_as_it_was(measurer, patient):
    exam = whole_exam(measurer, patient)

    lose_right_hallux(patient, measurer)

    sheet = sheet_for(measurer, exam.pk)
    assert (sheet.progress.done, sheet.progress.planned) == (8, 8)
    assert "right.toe_2.1" not in open_fields(sheet)
    assert "right.toe_1.1" in open_fields(sheet)


def test_for_a_hallux_lost_long_before_the_next_toe_is_asked_for_although_a_value_stands_there(
    measurer, patient
):
    exam = whole_exam(measurer, patient)

    lose_right_hallux(patient, measurer, on=today_in(patient.clinic) - timedelta(days=400))

    assert sheet_for(measurer, exam.pk).progress.missing == ("RIGHT second toe",)


def lose_right_hallux(patient, by, on=None):
    record_limb_fact(
        patient=patient,
        side="right",
        kind="amputation",
        level="toe",
        toe=1,
        started_on=on or today_in(patient.clinic),
        source="ward letter",
        by=by,
    )


def test_technique_is_taken_from_this_foots_last_exam(measurer):
    patient = new_patient(measurer)
    with clock.at(clock.now() - timedelta(days=200)):
        exam_with(measurer, patient, finish=True, toe_technique="one_cuff_hand", **WHOLE)

    sheet = sheet_for(measurer, ready_exam(measurer, patient).pk)

    techniques = {group.key: group.technique for group in sheet.groups}
    assert techniques["right_toes"] == "one_cuff_hand"
    assert techniques["right_ankle"] == "doppler"


def test_the_card_says_where_this_foot_was_and_what_to_expect(measurer):
    # 26 mmHg beyond noise, by hand: Romanos 2010 (clinical.md section 7).
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=datetime(2026, 3, 3, 10, 0, tzinfo=UTC), right_hallux=52)

    card = sheet_for(measurer, ready_exam(measurer, patient).pk).last_time["right"]

    assert card.sentence == (
        "RIGHT hallux: 52 mmHg on 3 Mar 2026 (light sensor, two cuffs). "
        "Expected today 26–78 if nothing has changed (noise: published, ROMANOS10)."
    )


@pytest.mark.parametrize(
    ("typed", "stands"),
    [
        (25, "Below 26–78, the range expected if nothing has changed."),
        (26, "Inside 26–78, the range expected if nothing has changed."),
        (79, "Above 26–78, the range expected if nothing has changed."),
        ("/", "Expected today: 26–78 mmHg if nothing has changed."),
    ],
)
def test_a_value_says_where_it_stands_in_the_range_expected_today(measurer, typed, stands):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=datetime(2026, 3, 3, 10, 0, tzinfo=UTC), right_hallux=52)

    exam = exam_with(measurer, patient, right_hallux=typed)

    assert field_of(measurer, exam, "right.toe_1.1").stands == stands
    assert field_of(measurer, exam, "right.toe_1.2").stands == ""
    assert field_of(measurer, exam, "right.toe_2.1").expected is None


def test_another_technique_is_not_set_against_the_range(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=datetime(2026, 3, 3, 10, 0, tzinfo=UTC), right_hallux=52)

    exam = exam_with(measurer, patient, right_hallux=20, toe_technique="oscillometric")

    assert field_of(measurer, exam, "right.toe_1.1").where == "other"


def test_three_exams_that_agree_narrow_the_range_expected_today(measurer):
    # Mean 56; 26 mmHg times the root of (1 + 1/3) / 2 is 21.2 to either side, rounded outwards.
    patient = new_patient(measurer)
    for month, mmhg in ((1, 56), (2, 60), (3, 52)):
        whole_exam(measurer, patient, at=datetime(2026, month, 3, 10, 0, tzinfo=UTC), right_hallux=mmhg)

    card = sheet_for(measurer, ready_exam(measurer, patient).pk).last_time["right"]

    assert (card.expected_low_mmhg, card.expected_high_mmhg) == (34, 78)
    assert card.sentence.endswith(
        "Expected today 34–78 if nothing has changed, by the last 3 comparable exams "
        "(noise: published, ROMANOS10)."
    )


def test_the_cuff_is_taken_from_this_foots_last_exam(measurer):
    patient = new_patient(measurer)
    with clock.at(clock.now() - timedelta(days=200)):
        earlier = exam_with(measurer, patient, **WHOLE)
        enter(earlier, "right.toe_1.1", 52, measurer, cuff_mm="25")
        finish_measuring(exam=earlier, by=measurer)

    sheet = sheet_for(measurer, ready_exam(measurer, patient).pk)

    cuffs = {group.key: group.cuff_mm for group in sheet.groups}
    assert (cuffs["right_toes"], cuffs["left_toes"]) == ("25", "")
    assert "25 mm cuff" in sheet.last_time["right"].sentence


def test_the_card_of_another_toe_gives_no_range(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=datetime(2025, 3, 3, 10, 0, tzinfo=UTC), right_hallux=52)
    record_limb_fact(
        patient=patient,
        side="right",
        kind="amputation",
        level="toe",
        toe=1,
        started_on=datetime(2026, 1, 5, tzinfo=UTC).date(),
        source="seen",
        by=measurer,
    )

    card = sheet_for(measurer, ready_exam(measurer, patient).pk).last_time["right"]

    assert card.expected_low_mmhg is None
    assert "compare with care" in card.sentence


def test_the_card_of_an_ankle_says_that_no_toe_was_measured_last_time(measurer):
    patient = new_patient(measurer)
    at = datetime(2025, 3, 3, 10, 0, tzinfo=UTC)
    whole_exam(measurer, patient, at=at, right_hallux="-1", left_hallux="-1")

    card = sheet_for(measurer, ready_exam(measurer, patient).pk).last_time["right"]

    assert card.sentence.endswith("The last exams hold no toe pressure on this side to compare today's with.")


def test_a_value_typed_again_shows_what_stood_there(measurer):
    exam = exam_with(measurer, right_hallux=48)
    enter(exam, "right.toe_1.1", 84, measurer)

    field = next(
        field
        for group in sheet_for(measurer, exam.pk).groups
        for field in group.fields
        if field.name == "right.toe_1.1"
    )

    assert (field.typed, [past.shown for past in field.history]) == ("84", ["48 mmHg"])


def test_rest_typed_afterwards_is_offered_where_the_clock_was_not_started(measurer):
    exam = booked_exam(measurer)
    confirm_identity(exam=exam, how="stated", by=measurer)
    set_indication(exam=exam, indication="surveillance", by=measurer)
    confirm_cautions(exam=exam, by=measurer)
    enter(exam, "right.arm.1", 140, measurer)
    enter(exam, "rest_minutes_typed", 10, measurer)

    sheet = sheet_for(measurer, exam.pk)

    assert (sheet.rest.minutes, sheet.rest.typed) == (10, True)


def test_the_sheet_costs_the_same_number_of_queries_whatever_came_before(measurer, django_assert_num_queries):
    patient = new_patient(measurer)
    exam = exam_with(measurer, patient, **WHOLE)
    now = clock.now()
    whole_exam(measurer, patient, at=now - timedelta(days=900))
    with django_assert_num_queries(12):
        sheet_for(measurer, exam.pk)

    for months in range(1, 8):
        whole_exam(measurer, patient, at=now - timedelta(days=60 * months))
    with django_assert_num_queries(12):
        sheet_for(measurer, exam.pk)


def test_a_reporter_reads_but_does_not_type(measurer, reporter):
    exam = exam_with(measurer, arm_right=140)

    assert sheet_for(measurer, exam.pk).editable
    assert not sheet_for(reporter, exam.pk).editable


def happened(by, patient, kind, days_ago=30, **said):
    said = {"side": "right", "source": "letter", **said}
    on = today_in(patient.clinic) - timedelta(days=days_ago)
    return record_limb_fact(patient=patient, kind=kind, started_on=on, by=by, **said)


def groups_of(by, patient, **said):
    return {group.key: group for group in sheet_for(by, ready_exam(by, patient, **said).pk).groups}


def test_a_leg_without_a_foot_is_asked_for_its_arm_only_and_says_why(measurer, patient):
    happened(measurer, patient, "amputation", level="below_knee")

    exam = ready_exam(measurer, patient)
    sheet = sheet_for(measurer, exam.pk)

    groups = {group.key: group for group in sheet.groups}
    assert not groups["right_toes"].fields
    assert not groups["right_toes"].folded
    assert "RIGHT below-knee amputation" in groups["right_ankle"].lost[0]
    assert not any("RIGHT" in words and "arm" not in words for words in sheet.progress.missing)
    assert [field.name for field in groups["left_toes"].fields if field.planned] == ["left.toe_1.1"]


def test_a_lost_foot_stands_hatched_on_the_ladder_with_its_reason(measurer, patient):
    happened(measurer, patient, "amputation", level="below_knee")

    exam = exam_with(measurer, patient, arm_right=140, arm_left=140)
    right, left = sheet_for(measurer, exam.pk).ladders

    hatched = [place.standing for place in right.places if place.kind == "absent"]
    assert [one.site.value for one in hatched] == ["posterior_tibial", "dorsalis_pedis", "toe_1"]
    assert "RIGHT below-knee amputation" in hatched[0].shown
    assert not [place for place in left.places if place.kind == "absent"]


def test_a_toe_measured_in_the_year_it_was_lost_is_still_drawn(measurer, patient):
    exam = exam_with(measurer, patient, arm_right=140, right_hallux=60)
    on = today_in(patient.clinic).replace(month=1, day=1)
    record_limb_fact(
        patient=patient,
        side="right",
        kind="amputation",
        level="toe",
        toe=1,
        started_on=on,
        started_precision="year",
        source="patient told us",
        by=measurer,
    )

    right, _ = sheet_for(measurer, exam.pk).ladders

    hallux = next(place for place in right.places if place.standing.site.value == "toe_1")
    assert (hallux.kind, hallux.standing.mmhg) == ("rung", 60)


def test_a_fistula_on_record_locks_its_arm_and_stands_among_the_cautions(measurer, patient):
    happened(measurer, patient, "fistula", side="left")

    sheet = sheet_for(measurer, ready_exam(measurer, patient).pk)

    fields = {field.name: field for group in sheet.groups for field in group.fields}
    assert fields["left.arm.1"].locked.startswith("Do not inflate: dialysis fistula")
    assert not fields["right.arm.1"].locked
    assert fields["left.arm.1"].shown == "not obtained: arm protected"
    assert [(one.side, one.do_not_inflate) for one in sheet.cautions] == [("left", True)]


def test_a_cuff_over_a_graft_warns(measurer, patient):
    happened(
        measurer,
        patient,
        "revascularisation",
        approach="open",
        vessels="popliteal posterior_tibial",
        device="vein_graft",
    )

    groups = groups_of(measurer, patient)

    assert "bypass graft under or near this cuff" in groups["right_ankle"].warnings[0]
    assert not groups["left_ankle"].warnings
    assert not groups["right_toes"].warnings


def test_what_lasts_on_a_limb_is_said_once_where_its_first_cuff_lies(measurer, patient):
    happened(measurer, patient, "oedema")

    groups = groups_of(measurer, patient, exam_type="toe_only")

    assert groups["right_toes"].warnings == ("swollen: check how the cuff fits",)
    assert not groups["right_ankle"].warnings


def test_a_pressure_from_before_a_revascularisation_gives_no_range_and_asks_nothing(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=clock.now() - timedelta(days=200), right_hallux=30)
    happened(measurer, patient, "revascularisation", approach="endovascular", vessels="popliteal")

    exam = exam_with(measurer, patient, **{**WHOLE, "right_hallux": 90})
    sheet = sheet_for(measurer, exam.pk)

    card = sheet.last_time["right"]
    assert card.expected_low_mmhg is None
    assert "a new baseline" in card.sentence
    assert not any(remark.code.startswith("far_from_last.right") for remark in sheet.remarks)
    assert sheet.last_time["left"].expected_low_mmhg is not None


def test_every_toe_the_peroneal_artery_and_a_third_repeat_stand_folded_on_the_sheet(measurer):
    sheet = sheet_for(measurer, ready_exam(measurer).pk)

    folded = {field.name for group in sheet.groups for field in group.fields if field.folded}
    assert {"right.toe_2.1", "right.toe_5.3", "left.peroneal.1", "left.toe_1.3"} <= folded
