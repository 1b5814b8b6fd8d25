"""What is not known, what cannot be, and what contradicts itself in a wound."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import (
    AmputationLevel,
    AreaReading,
    AssessedWound,
    EventDate,
    EventKind,
    FootFacts,
    Gangrene,
    Grade,
    InfectionSigns,
    InputError,
    LimbEvent,
    NotStated,
    Region,
    SystemicSigns,
    Tissue,
    area_course,
    area_question,
    area_reduction,
    check_place,
    foot_risk,
    infection_contradiction,
    iwgdf_infection,
    limb_standing,
    load_criteria,
    sinbad,
    wifi_infection,
    wound_grade,
)
from tests.hemodynamics.wound_words import DAY, areas, signs, wound

RULES = load_criteria("acc-aha-2024").outlook
ANSWERS = st.sampled_from(["yes", "no", "unknown"])
SIGNS = st.builds(
    InfectionSigns,
    swelling=ANSWERS,
    tenderness=ANSWERS,
    warmth=ANSWERS,
    pus=ANSWERS,
    erythema_mm=st.one_of(st.none(), st.integers(0, 40)),
    deeper=ANSWERS,
    osteomyelitis=ANSWERS,
    systemic=st.builds(
        SystemicSigns,
        temperature_celsius=st.one_of(st.none(), st.decimals(35, 40, places=1)),
        heart_rate=st.one_of(st.none(), st.integers(60, 120)),
        respiratory_rate=st.one_of(st.none(), st.integers(12, 30)),
    ),
)
FACTS = st.builds(FootFacts, **dict.fromkeys(FootFacts.__slots__, ANSWERS))
WOUNDS = st.builds(
    AssessedWound,
    side=st.just("right"),
    region=st.sampled_from(Region),
    assessed_on=st.just(DAY),
    deepest=st.one_of(st.none(), st.sampled_from(Tissue)),
    extensive=ANSWERS,
    gangrene=st.sampled_from([None, Gangrene.NONE, Gangrene.EXTENSIVE]),
    infection=SIGNS,
)


@pytest.mark.parametrize(
    ("seen", "code"),
    [
        ({"toe": 6}, "wound.toe_elsewhere"),
        ({"region": "heel", "toe": 1}, "wound.toe_elsewhere"),
        (
            {"region": "heel", "deepest": "bone", "bone_only_in_distal_phalanx": "yes"},
            "wound.phalanx_elsewhere",
        ),
        ({"bone_only_in_distal_phalanx": "yes"}, "wound.phalanx_without_bone"),
        ({"calcaneus": "yes"}, "wound.calcaneus_elsewhere"),
        ({"gangrene": "heel"}, "wound.gangrene_elsewhere"),
        ({"region": "heel", "gangrene": "digits"}, "wound.gangrene_elsewhere"),
        ({"length_mm": 10}, "wound.width_missing"),
        ({"width_mm": 10}, "wound.length_missing"),
        ({"length_mm": 0, "width_mm": 5}, "wound.out_of_range"),
        ({"traced_area_mm2": 300_000}, "wound.out_of_range"),
        ({"extensive": "perhaps"}, "wound.unknown_answer"),
    ],
)
def test_what_cannot_be_is_refused_with_its_code(seen, code):
    with pytest.raises(InputError) as refused:
        wound(**seen)

    assert refused.value.code == code


@pytest.mark.parametrize(
    "seen", [{"temperature_celsius": 372}, {"heart_rate": 5}, {"white_cells_10_9_l": 9000}]
)
def test_a_value_of_the_whole_body_that_cannot_be_is_refused(seen):
    with pytest.raises(InputError, match=r"wound\.out_of_range"):
        SystemicSigns(**seen)


@pytest.mark.parametrize(
    ("seen", "possible", "asked"),
    [
        ({"gangrene": None}, (1, 2, 3), "is there gangrene, and how far"),
        ({"deepest": None}, (1, 2, 3), "which tissue shows at the bottom of the wound"),
        ({"extensive": "unknown"}, (1, 2), "is it extensive"),
        ({"region": "heel"}, (2, 3), "is the heel bone involved"),
        ({"deepest": "bone"}, (1, 2), "does bone show only in the end bone of the toe"),
    ],
)
def test_a_wound_fact_that_is_not_known_leaves_the_grade_open_and_is_asked_for(seen, possible, asked):
    found = wound_grade(wound(**seen))

    assert isinstance(found.value, NotStated)
    assert found.possible == possible
    assert found.missing == (asked,)


def test_what_could_not_change_the_grade_is_not_asked_for():
    found = wound_grade(wound(gangrene="extensive", deepest=None, extensive="unknown"))

    assert (found.value, found.missing) == (3, ())


def test_an_extensive_shallow_ulcer_is_in_no_row_and_says_so():
    found = wound_grade(wound(extensive="yes"))

    assert (found.value, found.flags) == (2, ("EXTENSIVE_SHALLOW",))
    assert "no row of the published table" in found.notes[0]


def test_signs_of_the_whole_body_that_were_not_looked_at_are_told():
    found = iwgdf_infection(signs(warmth="yes", pus="yes"))

    assert found.value == 2
    assert found.flags == ("SYSTEMIC_SIGNS_INCOMPLETE",)


def test_one_sign_of_the_whole_body_warns_of_the_next():
    found = iwgdf_infection(signs(warmth="yes", pus="yes", heart_rate=110))

    assert found.value == 2
    assert "ONE_SIGN_FROM_SEVERE" in found.flags


def test_nothing_looked_at_is_no_grade_at_all():
    found = iwgdf_infection(InfectionSigns())

    assert found.possible == (1, 2, 3, 4)
    assert "temperature" in found.missing


def test_signs_put_down_to_another_cause_are_no_infection_but_pus_counts():
    explained = {"warmth": "yes", "swelling": "yes", "explained_by": {"charcot"}}

    assert iwgdf_infection(signs(**explained)).value == 1
    assert iwgdf_infection(signs(**explained, pus="yes")).notes[-1].startswith("Pus was seen although")


def test_a_bone_infection_counts_where_the_skin_shows_little():
    found = iwgdf_infection(signs(osteomyelitis="yes"))

    assert (found.shown, found.status) == ("3 (O)", "from memory, not confirmed")


@pytest.mark.parametrize(
    ("seen", "entered", "bone", "words"),
    [
        ({"warmth": "yes", "pus": "yes"}, 2, False, ""),
        ({"warmth": "yes", "pus": "yes"}, 3, None, "Grade 3 was entered"),
        ({}, 2, None, "but the signs make it 1 (not infected)"),
        ({"warmth": "yes", "pus": "yes", "deeper": "yes"}, 3, True, "answered with no"),
        ({"warmth": "yes", "pus": "yes", "osteomyelitis": "yes"}, 3, False, "has no suffix (O)"),
    ],
)
def test_an_entered_grade_that_the_signs_contradict_is_told(seen, entered, bone, words):
    found = infection_contradiction(signs(**seen), entered, bone=bone)

    assert words in found
    assert bool(words) is bool(found)


def test_a_grade_that_unknown_signs_allow_is_no_contradiction():
    assert infection_contradiction(InfectionSigns(), 3) == ""
    with pytest.raises(InputError, match=r"infection\.unknown_grade"):
        infection_contradiction(InfectionSigns(), 5)


def test_sinbad_with_missing_items_gives_its_range_and_asks():
    found = sinbad(wound(), FootFacts(sensation_lost="yes"))

    assert found.possible == (1, 2, 3)
    assert found.missing == ("is a pedal pulse felt", "how large is the wound")


def test_sinbad_is_not_for_the_leg():
    assert isinstance(sinbad(wound(region="leg"), FootFacts()).value, NotStated)


def test_a_history_without_nerve_loss_or_disease_is_high_risk_until_examined():
    facts = {**dict.fromkeys(FootFacts.__slots__, "no"), "past_ulcer": "yes"}

    found = foot_risk(FootFacts(**facts))

    assert (found.value, found.flags) == (3, ("UNCLASSIFIED_HISTORY",))


def test_unknown_nerve_loss_is_not_no():
    facts = {**dict.fromkeys(FootFacts.__slots__, "no"), "sensation_lost": "unknown"}

    found = foot_risk(FootFacts(**facts))

    assert found.possible == (0, 1)
    assert found.missing == ("protective sensation lost",)


def test_an_open_ulcer_is_outside_the_risk_scheme():
    found = foot_risk(FootFacts(sensation_lost="yes"), open_ulcer=True)

    assert isinstance(found.value, NotStated)


def test_areas_found_in_two_ways_are_not_compared():
    before, after = areas((0, 4.0))[0], areas((28, 2.0), method="length_times_width")[0]

    assert isinstance(area_reduction(before, after), NotStated)


def test_the_area_nearest_to_four_weeks_is_compared():
    found = area_course(areas((0, 4.0), (22, 3.0), (29, 1.0), (34, 2.0)), None, date(2026, 3, 1), RULES)

    assert (found.percent, found.days) == (75, 29)


def test_a_wound_that_healed_well_and_grows_again_is_slow():
    found = area_course(areas((0, 4.0), (28, 1.0), (70, 3.5)), None, date(2026, 3, 12), RULES)

    assert (found.percent, found.latest_percent) == (75, 12.5)
    assert "SLOW_HEALING" in found.flags


@pytest.mark.parametrize(
    ("first", "second", "days", "question"),
    [(40, 400, 1, "tenfold_growth"), (40, 399, 1, ""), (400, 40, 7, "tenfold_fall"), (400, 40, 8, "")],
)
def test_an_area_that_jumps_tenfold_asks_about_units(first, second, days, question):
    before = AreaReading(DAY, first, "traced")
    after = AreaReading(date.fromordinal(DAY.toordinal() + days), second, "traced")

    assert area_question(before, after) == question


def lost(level, toes=()):
    event = LimbEvent(EventKind.AMPUTATION, EventDate(date(2024, 5, 3)), side="right", level=level, toes=toes)
    return limb_standing([event], wound().side, DAY)


@pytest.mark.parametrize(
    ("level", "toes", "region", "toe"),
    [
        (AmputationLevel.TOE, (1,), "forefoot", 1),
        (AmputationLevel.TRANSMETATARSAL, (), "forefoot", 2),
        (AmputationLevel.MIDFOOT, (), "forefoot", None),
        (AmputationLevel.SYME, (), "midfoot", None),
        (AmputationLevel.BELOW_KNEE, (), "heel", None),
    ],
)
def test_a_wound_where_nothing_is_left_is_refused_with_the_reason(level, toes, region, toe):
    with pytest.raises(InputError) as refused:
        check_place(Region(region), toe, lost(level, toes))

    assert refused.value.code == "wound.site_lost"
    assert "3 May 2024" in refused.value.limit


@pytest.mark.parametrize(
    ("level", "toes", "region", "toe"),
    [
        (AmputationLevel.TOE, (1,), "forefoot", 2),
        (AmputationLevel.TRANSMETATARSAL, (), "forefoot", None),
        (AmputationLevel.BELOW_KNEE, (), "leg", None),
    ],
)
def test_a_wound_of_what_is_left_is_taken(level, toes, region, toe):
    assert check_place(Region(region), toe, lost(level, toes)) is None


@given(WOUNDS, FACTS)
@settings(max_examples=80, deadline=None)
def test_every_grade_lies_within_its_bounds_and_comes_back_from_json(seen, facts):
    grades = (
        wound_grade(seen),
        wifi_infection(seen.infection),
        iwgdf_infection(seen.infection),
        sinbad(seen, facts),
        foot_risk(facts),
    )

    assert all(grade.at_least <= grade.at_most for grade in grades)
    assert all(grade.possible == (grade.number,) for grade in grades if grade.number is not None)
    assert tuple(Grade.from_json(grade.to_json()) for grade in grades) == grades


@given(
    SIGNS,
    st.sampled_from(["swelling", "tenderness", "warmth", "pus", "deeper", "osteomyelitis"]),
    st.sampled_from(["yes", "no"]),
    st.sampled_from([iwgdf_infection, wifi_infection]),
)
@settings(max_examples=120, deadline=None)
def test_an_answer_to_what_was_unknown_never_leaves_the_range_it_had(seen, name, known, grade):
    answered, open_still = grade(_with(seen, name, known)), grade(_with(seen, name, "unknown"))

    assert set(answered.possible) <= set(open_still.possible)


def _with(seen, name, answer):
    values = {field: getattr(seen, field) for field in InfectionSigns.__slots__}
    return InfectionSigns(**{**values, name: answer})
