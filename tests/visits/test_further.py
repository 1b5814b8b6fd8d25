"""Further tests through their services: worked cases of the clinical reference, and what is refused."""

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access.models import TrailRow
from exams.hemodynamics import Side
from exams.patients.services import record_limb_fact
from exams.visits.further.models import FurtherEntry, FurtherTest
from exams.visits.further.services import FurtherTyped, save_further
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import differences
from tests.build import exam_with, whole_exam

REST = {"arm_right": 140, "arm_left": 138, "right_posterior_tibial": 150, "left_posterior_tibial": 152}


def type_in(exam, test, by, reason="", **typed):
    """Type into fields of a test, one after the other, each named with __ for its dots."""
    for name, words in typed.items():
        field = name.replace("__", ".")
        standing = FurtherEntry.objects.filter(exam=exam, test=test, field=field).order_by("pk").last()
        entry = FurtherTyped(field, str(words), uuid4(), standing.pk if standing else 0, reason=reason)
        save_further(exam=exam, test=FurtherTest(test), entry=entry, by=by)


def found(exam, measure, side=None):
    return stored_interpretation(exam).of(measure, side)


def refused(exam, test, by, **typed):
    with pytest.raises(ValidationError) as problem:
        type_in(exam, test, by, **typed)
    return " ".join(problem.value.messages)


def test_an_exercise_test_is_read_by_both_published_criteria(measurer):
    """Worked case 21: 132 over 130 at rest, 104 over 140 after; LEFT is back at once."""
    exam = exam_with(
        measurer, arm_right=130, arm_left=126, right_posterior_tibial=132, left_posterior_tibial=136
    )

    type_in(
        exam, "exercise", measurer,
        protocol="treadmill", speed_kmh="3,2", grade_percent=12, duration="3:20", symptom="RIGHT calf pain",
        symptom_at=2, after__1__time=1, after__1__arm=140, after__1__right=104, after__1__left=144,
        after__2__time=5, after__2__arm=130, after__2__right=132, after__2__left=136,
    )  # fmt: skip

    assert found(exam, "exercise_drop", Side.RIGHT).value == Decimal("26.8")
    assert found(exam, "exercise_drop", Side.RIGHT).band == "POSITIVE"
    assert found(exam, "exercise_drop", Side.RIGHT).source == "AHA12"
    assert found(exam, "exercise_ankle_fall", Side.RIGHT).value == 28
    assert found(exam, "exercise_ankle_fall", Side.RIGHT).band == "NEGATIVE"
    assert found(exam, "recovery_time", Side.RIGHT).band == "SLOW"
    assert found(exam, "exercise_test", Side.LEFT).band == "NEGATIVE"


def test_times_out_of_order_are_refused_at_their_field_and_nothing_is_lost(measurer):
    exam = exam_with(measurer, **REST)
    type_in(exam, "exercise", measurer, after__1__time=2, after__1__right=100)

    words = refused(exam, "exercise", measurer, after__2__time="1.5")

    assert words.startswith("Reading 2 cannot be 1 min 30 s after the end: reading 1 was at 2 min")
    assert exam.further_entries.count() == 2


def test_a_symptom_after_the_end_of_the_walk_is_refused(measurer):
    exam = exam_with(measurer, **REST)
    type_in(exam, "exercise", measurer, protocol="treadmill", duration=3)

    assert "the walk ended after 3 min" in refused(exam, "exercise", measurer, symptom_at=4)


def test_four_cuffs_give_gradients_and_side_against_side(measurer):
    """Worked case 43, RIGHT; LEFT without a fall along the leg."""
    exam = exam_with(measurer, arm_right=140, arm_left=136)

    type_in(
        exam, "segments-4", measurer,
        right__high_thigh=172, right__low_thigh=166, right__calf=128, right__ankle=124,
        left__high_thigh=172, left__low_thigh=166, left__calf=160, left__ankle=150,
    )  # fmt: skip

    assert found(exam, "thigh_index", Side.RIGHT).shown == "1.23"
    fall = found(exam, "gradient_low_thigh_calf", Side.RIGHT)
    assert (fall.value, fall.band, fall.source) == (38, "SIGNIFICANT", "PAGES")
    assert found(exam, "gradient_low_thigh_calf", Side.LEFT).band == "NORMAL"
    assert found(exam, "side_difference_calf").band == "SIGNIFICANT"


def test_a_calcified_limb_has_no_gradient_and_says_why(measurer):
    exam = exam_with(measurer, arm_right=120, right_posterior_tibial="*250")

    type_in(exam, "segments-3", measurer, right__thigh=150, right__calf=110, right__ankle=100)

    gradient = found(exam, "gradient_thigh_calf", Side.RIGHT)
    assert gradient.shown == "stiff arteries: gradients say nothing here, use pulse-volume recording"
    assert found(exam, "gradient_thigh_calf", Side.LEFT) is None


def test_two_sets_of_cuffs_cannot_stand_in_one_exam(measurer):
    exam = exam_with(measurer, arm_right=120)
    type_in(exam, "segments-4", measurer, right__calf=110)

    assert "with 4 cuffs" in refused(exam, "segments-3", measurer, right__thigh=150)


def test_a_waveform_keeps_the_measurers_word_and_reads_it_in_consensus_terms(measurer):
    exam = exam_with(measurer, **REST)

    type_in(
        exam, "waveforms", measurer,
        right__posterior_tibial__word="Triphasic", left__posterior_tibial__word="biphasic",
        right__dorsalis_pedis__phasicity=2, right__dorsalis_pedis__resistance="low",
        right__dorsalis_pedis__modifiers="2 6",
    )  # fmt: skip

    assert found(exam, "posterior_tibial_waveform", Side.RIGHT).band == "NORMAL"
    assert "(measurer: Triphasic)" in found(exam, "posterior_tibial_waveform", Side.RIGHT).sentence
    # "Biphasic" means two things: it stays as said, and is not read.
    assert found(exam, "posterior_tibial_waveform", Side.LEFT).band == "NOT_ASSESSED"
    dampened = found(exam, "dorsalis_pedis_waveform", Side.RIGHT)
    assert dampened.shown == "monophasic, low resistance, dampened, prolonged upstroke"
    assert dampened.source == "KIM20"


def test_what_a_waveform_cannot_be_is_refused(measurer):
    exam = exam_with(measurer, **REST)
    type_in(exam, "waveforms", measurer, right__popliteal__phasicity=1)

    assert "has no shape" in refused(exam, "waveforms", measurer, right__popliteal__direction="absent")
    assert "either rapid or prolonged" in refused(
        exam, "waveforms", measurer, right__popliteal__modifiers="1 2"
    )


def test_oxygen_stands_beside_its_reference_site(measurer):
    """Worked case 48: 28 at the foot, 56 at the chest."""
    exam = exam_with(measurer, **REST)

    assert "Say first where" in refused(exam, "oxygen", measurer, reference=56)
    type_in(
        exam, "oxygen", measurer,
        reference_site="chest", reference=56, probe_celsius=44, right__back_of_foot=28, right__oedema="yes",
    )  # fmt: skip

    pressure = found(exam, "back_of_foot_oxygen_pressure", Side.RIGHT)
    assert (pressure.band, pressure.flags) == ("SEVERE", ("WIFI_3", "FALSELY_LOW"))
    assert found(exam, "back_of_foot_regional_perfusion_index", Side.RIGHT).shown == "0.50"


def test_a_category_is_checked_against_the_pressures_and_disagreement_is_said(measurer, reporter):
    exam = whole_exam(measurer, right_hallux=112)

    type_in(exam, "category", reporter, right__rutherford=4, right__fontaine="III", left__rutherford=0)

    assert found(exam, "rutherford_category", Side.RIGHT).band == "MISMATCH"
    assert (
        "toe 112 mmHg, not as low as this category asks"
        in found(exam, "rutherford_category", Side.RIGHT).sentence
    )
    assert found(exam, "rutherford_category", Side.LEFT).band == "NOT_CHECKED"
    with pytest.raises(PermissionDenied):
        type_in(exam, "category", measurer, left__fontaine="I")


def test_a_flat_pulse_volume_supports_pain_at_rest(measurer, reporter):
    exam = exam_with(measurer, **REST)
    type_in(exam, "pulse-volume", measurer, right__forefoot=5)

    type_in(exam, "category", reporter, right__rutherford=4)

    assert found(exam, "forefoot_pulse_volume", Side.RIGHT).band == "FLAT"
    assert found(exam, "rutherford_category", Side.RIGHT).band == "CONSISTENT"


def test_a_value_corrected_after_measuring_keeps_the_first_with_who_and_why(measurer):
    exam = exam_with(measurer, arm_right=120)
    type_in(exam, "segments-3", measurer, right__calf=110)
    exam.state, exam.measured_at = "measured", exam.created_at
    exam.indication = exam.indication or "surveillance"
    exam.save()

    assert "say why" in refused(exam, "segments-3", measurer, right__calf=101)
    type_in(exam, "segments-3", measurer, reason="digits swapped", right__calf=101)

    first, second = exam.further_entries.order_by("pk")
    assert (first.value, second.value, second.replaces_id) == ("110", "101", first.pk)
    assert second.replaced_because == "digits swapped"
    lines = TrailRow.objects.filter(action="further test value recorded", patient_id=exam.patient_id)
    assert lines.count() == 2
    assert "digits swapped" in lines.latest("pk").details_json
    assert differences(exam) == []


def test_what_was_amputated_cannot_be_measured(measurer):
    exam = exam_with(measurer, arm_right=120)
    record_limb_fact(
        patient=exam.patient, by=measurer, kind="amputation", level="below_knee", side="right",
        started_on=exam.created_at.date().replace(year=2020), source="letter",
    )  # fmt: skip

    assert "amputated or absent" in refused(exam, "segments-3", measurer, right__calf=110)
    type_in(exam, "segments-3", measurer, right__thigh=150)


def test_further_tests_alone_are_read_too(measurer):
    exam = exam_with(measurer)

    type_in(exam, "oxygen", measurer, left__below_knee=55)

    assert found(exam, "below_knee_oxygen_pressure", Side.LEFT).band == "NORMAL"
