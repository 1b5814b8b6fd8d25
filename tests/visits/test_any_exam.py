"""Whatever is measured: it is stored, read, shown, and reads the same when computed again."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exams.hemodynamics import criteria_names, load_criteria
from exams.visits.history import limb_history
from exams.visits.models import NotObtained
from exams.visits.queries.comparison import comparison_of
from exams.visits.queries.sheet import sheet_for
from exams.visits.services import adopt_criteria, differences
from tests.build import exam_with, new_patient, whole_exam

ANYWHERE = set(NotObtained) - {
    NotObtained.OTHER, NotObtained.TOE_TOO_SHORT, NotObtained.TOE_DEFORMED, NotObtained.ARM_PROTECTED
}  # fmt: skip
TYPED = st.one_of(
    st.integers(1, 300).map(str),
    st.integers(2, 600).map(lambda half: f"{half / 2:g}"),
    st.integers(50, 300).map(lambda mmhg: f"*{mmhg}"),
    st.just("/"),
    st.sampled_from([f"-{number}" for number, reason in enumerate(NotObtained, 1) if reason in ANYWHERE]),
)
ARM = st.one_of(st.integers(50, 300).map(str), st.sampled_from(["/", "*250", "-15"]))
EXAMS = st.fixed_dictionaries(
    {},
    optional={
        **dict.fromkeys(("arm_right", "arm_left", "arm_right_2"), ARM),
        **{
            f"{side}_{site}": TYPED
            for side in ("right", "left")
            for site in ("posterior_tibial", "dorsalis_pedis", "peroneal", "hallux", "hallux_2", "second_toe")
        },
    },
)
CONDITIONS = st.fixed_dictionaries(
    {},
    optional={
        "position": st.integers(1, 5).map(str),
        "heart_to_foot_cm": st.integers(-60, 60).map(str),
        "right_toe_celsius": st.integers(5, 45).map(str),
        "left_toe_celsius": st.integers(5, 45).map(str),
        "tobacco_hours": st.integers(0, 20).map(str),
        "first_arm": st.sampled_from(["right", "left"]),
        "rest_minutes_typed": st.integers(0, 20).map(str),
    },
)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(pressures=EXAMS, conditions=CONDITIONS)
def test_any_exam_is_stored_shown_and_read_alike_again(measurer, pressures, conditions):
    exam = exam_with(measurer, conditions=conditions, **pressures)

    assert differences(exam) == []
    assert sheet_for(measurer, exam.pk).progress.planned == 8
    assert limb_history(measurer, exam.patient)[0].interpretation.criteria_name in ("acc-aha-2024", "")


@pytest.mark.parametrize("name", criteria_names())
def test_every_shipped_criteria_can_read_a_clinics_exams(measurer, administrator, name):
    patient = new_patient(measurer)
    if name != "acc-aha-2024":
        adopt_criteria(name=name, version=load_criteria(name).version, by=administrator)
    whole_exam(measurer, patient)

    exam = exam_with(
        measurer, patient, arm_right=140, arm_left=120, right_posterior_tibial=60, right_hallux=24
    )

    assert sheet_for(measurer, exam.pk).criteria == load_criteria(name).label
    assert comparison_of(measurer, exam.pk, "acc-aha-2024").here.name == name
