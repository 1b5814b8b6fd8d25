"""Hypothesis generators shared by tests: readings, limbs and exams of every kind that can be recorded."""

from decimal import Decimal

from hypothesis import strategies as st

from exams.hemodynamics import (
    ANKLE_SITES,
    ANSWERS,
    TOE_SITES,
    Conditions,
    Context,
    LimbFacts,
    MeasuredExam,
    MeasuredLimb,
    Outcome,
    Position,
    Side,
    Site,
    SiteReading,
)

techniques = st.sampled_from(["doppler", "two_cuffs", "one_cuff_hand", "oscillometric"])
reasons = st.one_of(
    st.none(), st.sampled_from(["amputated", "pain", "wound under the cuff"]), st.text(max_size=20)
)


def pressures(low_mmhg, high_mmhg):
    """Readings of a pressure, whole or half mmHg."""
    return st.builds(
        SiteReading,
        outcome=st.just(Outcome.PRESSURE),
        half_mmhg=st.integers(low_mmhg * 2, high_mmhg * 2),
        technique=techniques,
    )


absent = st.one_of(
    st.builds(
        SiteReading,
        outcome=st.just(Outcome.NOT_OCCLUDABLE),
        half_mmhg=st.one_of(st.none(), st.integers(2, 600)),
        technique=techniques,
    ),
    st.builds(SiteReading, outcome=st.just(Outcome.NO_SIGNAL), technique=techniques),
    st.builds(SiteReading, outcome=st.just(Outcome.NOT_OBTAINED), reason=reasons, technique=techniques),
)
arm_readings = st.one_of(pressures(50, 300), pressures(90, 200), absent)
foot_readings = st.one_of(pressures(1, 300), absent)


def attempts(readings):
    return st.lists(readings, min_size=1, max_size=4).map(tuple)


def limbs(side):
    return st.builds(
        MeasuredLimb,
        side=st.just(side),
        arm=st.lists(arm_readings, max_size=3).map(tuple),
        ankle=st.dictionaries(st.sampled_from(ANKLE_SITES), attempts(foot_readings), max_size=3),
        toes=st.dictionaries(st.sampled_from(TOE_SITES), attempts(foot_readings), max_size=3),
        toe_skin_celsius=st.one_of(st.none(), st.decimals(0, 50, places=1)),
    )


def _some(low, high, places=1):
    return st.one_of(st.none(), st.decimals(low, high, places=places))


conditions = st.builds(
    Conditions,
    position=st.one_of(st.none(), st.sampled_from([position.value for position in Position])),
    rest_minutes=st.one_of(st.none(), st.integers(0, 60)),
    rest_typed=st.booleans(),
    heart_to_site_cm=_some(-100, 100),
    room_celsius=_some(5, 40),
    tobacco_hours=_some(0, 48),
    caffeine_hours=_some(0, 48),
)
planned = st.frozensets(st.tuples(st.sampled_from(Side), st.sampled_from(Site)), max_size=6)
exams = st.builds(
    MeasuredExam,
    right=limbs(Side.RIGHT),
    left=limbs(Side.LEFT),
    first_arm=st.one_of(st.none(), st.sampled_from(Side)),
    conditions=conditions,
    planned=planned,
)
facts = st.builds(
    LimbFacts,
    open_wound=st.booleans(),
    gangrene=st.booleans(),
    rest_pain=st.booleans(),
    foot_infection=st.booleans(),
    had_signal_before=st.booleans(),
)
answers = st.sampled_from(ANSWERS)
contexts = st.builds(
    Context,
    diabetes=answers,
    kidney_disease=answers,
    right=facts,
    left=facts,
    reading_sd_mmhg=st.dictionaries(
        st.tuples(st.sampled_from(["arm", "ankle", "toe"]), techniques),
        st.decimals(Decimal("0.1"), 30, places=1),
        max_size=3,
    ),
)
criteria_names = st.sampled_from(
    ["acc-aha-2024", "aha-2012", "iwgdf-2023", "older-laboratory", "population-survey"]
)
