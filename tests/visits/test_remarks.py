"""Unusual values ask "repeat?" once, about one fact, and never again once answered."""

from datetime import timedelta

from access import clock
from exams.visits.queries.remarks import remarks_of
from exams.visits.queries.sheet import sheet_for
from tests.build import enter, exam_with, new_patient, whole_exam


def codes(exam):
    return [remark.code for remark in remarks_of(exam) if remark.is_open]


def words(exam, code):
    return next(remark.words for remark in remarks_of(exam) if remark.code == code)


def test_arms_ten_apart_are_not_remarked(measurer):
    assert codes(exam_with(measurer, arm_right=140, arm_left=130)) == []


def test_arms_more_than_ten_apart_are_remarked_once(measurer):
    exam = exam_with(measurer, arm_right=130, arm_left=141)

    assert codes(exam) == ["arms_apart"]
    assert words(exam, "arms_apart") == ("The arms are 11 mmHg apart (130 RIGHT, 141 LEFT). Repeat?")


def test_a_first_arm_that_is_the_higher_is_to_be_measured_again(measurer):
    exam = exam_with(measurer, arm_right=156, arm_left=140)

    assert "clearly more than usual" in words(exam, "arms_apart")
    assert "The RIGHT arm, measured first, is the higher: measure it again." in words(exam, "arms_apart")


def test_arms_twenty_apart_are_worded_otherwise_but_ask_once(measurer):
    exam = exam_with(measurer, arm_right=120, arm_left=140)

    assert codes(exam) == ["arms_apart"]
    assert "narrowing above an arm" in words(exam, "arms_apart")


def test_the_first_arm_measured_again_settles_the_question(measurer):
    assert codes(exam_with(measurer, arm_right=156, arm_left=140, arm_right_2=144)) == []


def test_a_pressure_that_may_be_in_kpa_is_asked_about_until_a_repeat_agrees(measurer):
    exam = exam_with(measurer, arm_right=138, arm_left=138, right_posterior_tibial=16)

    assert codes(exam) == ["perhaps_kpa.right.posterior_tibial"]
    assert "16 kPa is about 120 mmHg: type that." in words(exam, "perhaps_kpa.right.posterior_tibial")

    enter(exam, "right.posterior_tibial.2", 18, measurer)
    assert codes(exam) == []


def test_a_toe_above_the_ankle_is_remarked(measurer):
    exam = exam_with(measurer, arm_right=140, arm_left=140, right_posterior_tibial=100, right_hallux=131)

    assert codes(exam) == ["toe_above_ankle.right"]


def test_a_repeat_that_agrees_answers_the_question(measurer):
    exam = exam_with(
        measurer,
        arm_right=140,
        arm_left=140,
        right_posterior_tibial=100,
        right_hallux=131,
        right_hallux_2=127,
    )

    assert codes(exam) == []


def test_a_toe_above_an_ankle_that_cannot_be_occluded_is_no_surprise(measurer):
    exam = exam_with(
        measurer, arm_right=140, right_posterior_tibial="*250", right_dorsalis_pedis=60, right_hallux=70
    )

    assert "toe_above_ankle.right" not in codes(exam)


def test_repeats_more_than_ten_apart_offer_a_third(measurer):
    exam = exam_with(measurer, right_hallux=48, right_hallux_2=60)

    assert codes(exam) == ["repeats_apart.right.toe_1"]
    third = next(
        field
        for group in sheet_for(measurer, exam.pk).groups
        for field in group.fields
        if field.name == "right.toe_1.3"
    )
    assert not third.folded


def test_a_third_reading_ends_the_question(measurer):
    assert codes(exam_with(measurer, right_hallux=48, right_hallux_2=60, right_hallux_3=50)) == []


def test_a_value_far_from_this_foots_own_last_one_is_remarked(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=clock.now() - timedelta(days=180), right_hallux=100)

    near = exam_with(measurer, patient, arm_right=140, arm_left=138, right_hallux=75)
    assert codes(near) == []
    enter(near, "right.toe_1.1", 74, measurer)

    assert codes(near) == ["far_from_last.right.toe_pressure"]
    assert "74 mmHg now, 100 mmHg on" in words(near, "far_from_last.right.toe_pressure")


def test_another_technique_is_not_compared(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=clock.now() - timedelta(days=180), right_hallux=100)

    exam = exam_with(
        measurer, patient, arm_right=140, arm_left=138, right_hallux=60, toe_technique="one_cuff_hand"
    )

    assert codes(exam) == []


def test_nine_minutes_of_rest_are_remarked(measurer):
    exam = exam_with(measurer, rest_minutes=9, arm_right=140)

    assert codes(exam) == ["rest_short"]
    assert "9 minutes" in words(exam, "rest_short")


def test_four_minutes_of_rest_are_worded_more_strongly(measurer):
    assert "may not be settled" in words(exam_with(measurer, rest_minutes=4, arm_right=140), "rest_short")
    assert words(exam_with(measurer, rest_minutes=0, arm_right=140), "rest_short").startswith(
        "Less than a minute of rest before the first cuff"
    )


def test_a_cold_toe_is_remarked_where_warmth_could_change_the_band(measurer):
    exam = exam_with(
        measurer, conditions={"right_toe_celsius": "26"}, arm_right=140, arm_left=140, right_hallux=35
    )

    assert codes(exam) == ["cold_toe.right"]


def test_a_cold_toe_far_from_any_limit_is_not_remarked(measurer):
    exam = exam_with(
        measurer, conditions={"right_toe_celsius": "26"}, arm_right=140, arm_left=140, right_hallux=120
    )

    assert codes(exam) == []


def test_an_answered_remark_is_never_asked_again(measurer):
    exam = exam_with(measurer, arm_right=130, arm_left=142)

    enter(exam, "left.arm.1", 142, measurer, remark_answer="repeated, the same")
    enter(exam, "left.arm.1", 151, measurer)

    assert codes(exam) == []
    answered = next(remark for remark in remarks_of(exam) if remark.code == "arms_apart")
    assert answered.answer == "repeated, the same"


def test_one_value_raises_one_remark(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=clock.now() - timedelta(days=180), right_hallux=100)

    exam = exam_with(
        measurer,
        patient,
        arm_right=140,
        arm_left=138,
        right_posterior_tibial=150,
        right_hallux=140,
        right_hallux_2=190,
    )

    assert len([code for code in codes(exam) if "right" in code]) == 1
