"""The outlook of a foot: which readings count, what it asks for, whom to call, what would change it."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import (
    Conditions,
    Context,
    EventDate,
    EventKind,
    FootFacts,
    InputError,
    LimbEvent,
    LimbFacts,
    NotStated,
    OutlookQuestion,
    OutlookWord,
    Precision,
    PressureExam,
    Urgency,
    compression,
    load_criteria,
    outlook,
    threatened_limb,
)
from tests.hemodynamics.readings import exam
from tests.hemodynamics.wound_words import (
    CRITERIA,
    DAY,
    NO_DIABETES,
    answered,
    areas,
    asked,
    signs,
    wound,
)

WORDS = list(OutlookWord)
URGENCIES = list(Urgency)
HAS_DIABETES = Context(diabetes="yes")
SEPSIS = signs(warmth="yes", pus="yes", temperature="38.6", heart_rate=110)
DEEP = signs(warmth="yes", pus="yes", deeper="yes")
MILD = signs(warmth="yes", pus="yes")
SLOW = areas((0, 4.0), (28, 3.0))


def procedure(on, precision=Precision.DAY):
    return LimbEvent(EventKind.REVASCULARISATION, EventDate(on, precision), side="right")


def changes(found, **wanted):
    return [
        one.sentence
        for one in found.would_change
        if all(getattr(one, name) == value for name, value in wanted.items())
    ]


def test_the_sentence_says_the_reading_its_day_and_the_limit_it_passed():
    assert answered("toe 28").sentence == (
        "RIGHT, as far as blood flow goes: unlikely to heal without more blood flow: "
        "toe 28 mmHg on 10 Mar 2026 (toe pressure below 30 mmHg)."
    )
    assert answered("toe 61").sentence == (
        "RIGHT, as far as blood flow goes: likely to heal: toe pressure 61 mmHg on 10 Mar 2026."
    )


def test_it_never_speaks_for_one_person():
    assert answered("toe 61").cautions[0] == (
        "Decision support, not a prediction for one person: look at the foot."
    )


@pytest.mark.parametrize(("days", "word"), [(90, "likely"), (91, "cannot_say")])
def test_a_toe_pressure_counts_for_90_days(days, word):
    found = answered("toe 70", days_ago=days)

    assert found.word == word
    assert bool(found.readings[0].why_not) is (word == "cannot_say")


def test_an_old_urgent_reading_still_counts_and_asks_to_measure_again():
    found = answered("toe 25", days_ago=200)

    assert found.word == "unlikely"
    assert any("measure again" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("event", "word"),
    [
        (procedure(date(2026, 3, 9)), "uncertain"),
        (procedure(date(2026, 3, 10)), "cannot_say"),  # that very day: not surely after
        (procedure(date(2026, 3, 1), Precision.MONTH), "cannot_say"),
        (procedure(date(2026, 2, 1), Precision.MONTH), "uncertain"),
    ],
)
def test_a_reading_counts_only_from_surely_after_the_last_procedure(event, word):
    assert answered("toe 45", last_procedure=event).word == word


def test_an_urgent_reading_from_before_the_procedure_is_told_and_not_used():
    found = answered("dp 40, toe 20", last_procedure=procedure(date(2026, 3, 15)))

    assert found.word == "cannot_say"
    assert "from after the last procedure (15 Mar 2026)" in found.sentence
    assert {one.measure for one in found.readings if one.why_not} == {"toe pressure", "ankle pressure"}


def test_the_newest_answer_of_each_kind_counts_whatever_exam_it_is_from():
    newer = PressureExam(DAY - timedelta(5), exam("toe 65"))
    older = PressureExam(DAY - timedelta(50), exam("dp 45, toe 20"))

    found = outlook(OutlookQuestion("right", DAY, (older, newer), context=NO_DIABETES), CRITERIA)

    rules = {rule.name: rule.holds for rule in found.rules}
    assert (rules["toe"], rules["ankle"]) == ("no", "yes")
    assert "ankle 45 mmHg on 29 Jan 2026" in found.sentence


@pytest.mark.parametrize(
    "readings",
    ["arm 100, dp 150, pt 150", "dp not_occludable, pt 150", "dp not_occludable, pt not_occludable"],
)
def test_an_ankle_that_may_not_reassure_leaves_its_rule_unknown_and_not_false(readings):
    rules = {rule.name: rule.holds for rule in answered(f"{readings}, toe 60").rules}

    assert rules["ankle"] == "unknown"


def test_a_foot_below_the_heart_is_read_by_the_lower_value():
    sitting = Conditions(position="sitting", heart_to_site_cm=-50)

    # 50 cm below the heart adds 38.8 mmHg to a pressure.
    assert answered("toe 93", conditions=sitting).word == "uncertain"
    assert answered("toe 94", conditions=sitting).word == "likely"


@pytest.mark.parametrize(
    ("infection", "gangrene", "readings", "urgency"),
    [
        (signs(), "none", "toe 70", Urgency.ONE_WORKING_DAY),
        (signs(), "none", "toe 28", Urgency.AT_ONCE),
        (SEPSIS, "none", "toe 70", Urgency.AT_ONCE),
        (DEEP, "none", "toe 70", Urgency.AT_ONCE),
        (signs(osteomyelitis="yes"), "none", "toe 70", Urgency.AT_ONCE),
        (signs(), "digits", "toe 70", Urgency.AT_ONCE),
        (MILD, "none", "toe 70", Urgency.ONE_WORKING_DAY),
        (MILD, "none", "toe 58", Urgency.AT_ONCE),  # infection with a sign of arterial disease
    ],
)
def test_how_soon_a_referral_should_go(infection, gangrene, readings, urgency):
    found = answered(readings, wounds=[wound(infection=infection, gangrene=gangrene)])

    assert found.referral.urgency is urgency
    assert found.referral.reasons


def test_what_cannot_wait_stands_first_in_the_action_whatever_the_sentence_says():
    found = answered("toe 70", wounds=[wound(infection=SEPSIS)])

    assert found.word == "likely"
    assert found.action.startswith("Call acute services and the multidisciplinary foot team at once.")


@pytest.mark.parametrize(
    ("readings", "urgency"),
    [("toe 28", Urgency.ONE_WORKING_DAY), ("toe no_signal", Urgency.AT_ONCE), ("toe 70", Urgency.NONE)],
)
def test_without_a_wound_a_severe_value_goes_within_a_day_and_no_signal_at_once(readings, urgency):
    found = answered(readings, wounds=[])

    assert found.referral.urgency is urgency
    assert any("No open wound" in caution for caution in found.cautions)


@pytest.mark.parametrize(
    ("facts", "urgency"),
    [
        ({"sensation_lost": "yes", "past_ulcer": "yes"}, Urgency.TWO_TO_FOUR_WEEKS),
        ({"sensation_lost": "yes", "deformity": "yes"}, Urgency.SIX_TO_EIGHT_WEEKS),
        ({"sensation_lost": "yes"}, Urgency.NONE),
    ],
)
def test_a_foot_at_risk_without_a_wound_goes_to_foot_protection(facts, urgency):
    foot = FootFacts(**{**dict.fromkeys(FootFacts.__slots__, "no"), **facts})

    assert answered("toe 70", wounds=[], foot=foot).referral.urgency is urgency


def test_gangrene_on_record_goes_to_acute_services_at_once_without_a_wound_note():
    gangrene = Context(diabetes="no", kidney_disease="no", right=LimbFacts(gangrene=True))

    found = answered("toe 70", wounds=[], context=gangrene)

    assert found.action.startswith(
        "Call acute services, the vascular team and the multidisciplinary foot team at once."
    )
    assert found.stage.wound.possible == (2, 3)
    assert found.stage.missing == ("assess the gangrene: how far does it go",)


def test_an_ulcer_with_ischaemia_goes_to_acute_services_too():
    assert answered("toe 28").action.startswith("Call the vascular team and acute services at once.")


@pytest.mark.parametrize(
    ("wounds", "not_assessed", "fact", "grades"),
    [
        ([], 0, False, (0,)),
        ([], 0, True, (1, 2, 3)),
        ([], 1, True, (1, 2, 3)),
        ([wound(deepest="tendon")], 1, True, (2, 3)),
        ([wound(deepest="tendon")], 0, True, (2,)),
    ],
)
def test_a_wound_that_nobody_assessed_is_never_read_as_no_wound(wounds, not_assessed, fact, grades):
    context = Context(diabetes="no", kidney_disease="no", right=LimbFacts(open_wound=fact))

    found = answered("toe 70", wounds=wounds, not_assessed=not_assessed, context=context)

    assert found.stage.wound.possible == grades
    assert found.stage.infection.possible == ((0,) if grades in [(0,), (2,)] else (0, 1, 2, 3))
    assert any("is not assessed" in one for one in found.cautions) is (grades not in [(0,), (2,)])


def test_an_infection_on_record_is_not_read_as_none_where_no_wound_shows_it():
    context = Context(diabetes="no", kidney_disease="no", right=LimbFacts(foot_infection=True))

    assert answered("toe 70", wounds=[], context=context).stage.infection.possible == (1, 2, 3)
    assert answered("toe 70", wounds=[wound(infection=MILD)], context=context).stage.infection.possible == (
        1,
    )


def test_no_signal_where_flow_was_found_before_is_an_emergency():
    before = Context(
        diabetes="no", kidney_disease="no", right=LimbFacts(open_wound=True, had_signal_before=True)
    )

    found = answered("dp no_signal, pt no_signal", context=before)

    assert {rule.name for rule in found.rules if rule.holds == "yes"} == {"no_signal", "acute"}
    assert found.referral.reasons[0].startswith("Possible acute ischaemia")


def test_a_slow_wound_asks_for_imaging_whatever_the_toe_says():
    found = answered("arm 100, toe 80", areas=SLOW, in_care_since=date(2026, 1, 1))

    assert found.word == "likely"
    assert "imaging" in found.action
    assert found.courses[0][1].flags == ("SLOW_HEALING", "IMAGE_REGARDLESS")


def test_the_nearest_toe_that_would_move_the_sentence_is_named():
    found = answered("toe 35")

    assert changes(found, measure="toe pressure", change="sentence") == [
        "A toe pressure of 55 mmHg or more would read “likely to heal”.",
        "A toe pressure of 29 mmHg or less would read “unlikely to heal without more blood flow”.",
    ]
    assert changes(found, measure="toe pressure", change="stage") == [
        "A toe pressure of 40 mmHg or more would make it WIfI stage 1.",
        "A toe pressure of 29 mmHg or less would make it WIfI stage 3.",
    ]
    assert changes(found, measure="toe pressure", change="urgency") == [
        "A toe pressure of 29 mmHg or less would make the referral “at once”."
    ]


def test_a_missing_toe_is_named_as_the_test_that_would_tell_more():
    (said,) = changes(answered(""), by="test", measure="toe pressure", change="sentence")

    assert said == (
        "A toe pressure measured now would tell more (29 mmHg or less: unlikely to heal without more blood "
        "flow; 30 to 54 mmHg: healing uncertain; 55 mmHg or more: likely to heal)."
    )


@pytest.mark.parametrize(
    ("toe", "celsius", "asks"),
    [
        ("50", "26", True),
        ("45", "26", True),
        ("44", "26", False),
        ("50", "30", False),
        ("28", "26", True),
        ("no_signal", "26", True),
    ],
)
def test_a_warm_repeat_is_asked_for_only_where_it_could_move_the_sentence(toe, celsius, asks):
    found = answered(f"toe {toe}", toe_celsius=celsius)

    assert ("Warm the room" in found.action) is asks
    assert found.cold is (celsius == "26")
    assert ("(the toe was cold)" in found.sentence) is (celsius == "26")


def test_an_unlikely_foot_does_not_wait_for_the_warm_repeat():
    assert "do not wait for it" in answered("toe 28", toe_celsius="26").action


def test_two_urgent_readings_are_not_undone_by_one():
    found = answered("dp 45, toe 20")

    assert changes(found, change="sentence") == [
        "No single reading would change the sentence: more than one rule asks for more blood flow."
    ]


def test_an_ankle_alone_suffices_and_is_named_as_what_would_change_it():
    found = answered("dp 45, toe 60")

    assert found.word == "unlikely"
    assert changes(found, measure="ankle pressure", change="sentence") == [
        "An ankle pressure of 50 mmHg or more would read “likely to heal”."
    ]


@pytest.mark.parametrize(
    ("readings", "context", "caution", "words"),
    [
        ("dp 59, toe 70", NO_DIABETES, "yes", "ankle pressure 59 mmHg is below 60"),
        ("dp 90, toe 29", NO_DIABETES, "yes", "toe pressure 29 mmHg is below 30"),
        ("arm 140, dp 69, toe 40", NO_DIABETES, "yes", "ankle-brachial index 0.49 is below 0.50"),
        ("toe no_signal", NO_DIABETES, "yes", "a toe gives no signal"),
        ("dp 60, toe 30", NO_DIABETES, "no", "this is not a yes"),
        ("arm 140, dp 120", NO_DIABETES, "no", "this is not a yes"),
        ("arm 140, dp 120", HAS_DIABETES, "unknown", "measure the toe pressure before compressing"),
        ("arm 100, dp not_occludable, pt not_occludable", NO_DIABETES, "unknown", "cannot tell"),
        ("", NO_DIABETES, "unknown", "cannot tell"),
    ],
)
def test_the_compression_line_warns_or_defers_and_never_says_yes(readings, context, caution, words):
    found = compression(asked(readings, context=context), CRITERIA)

    assert found.caution == caution
    assert words in found.sentence
    assert found.sentence.endswith("The local protocol and the person responsible decide.")


def test_old_pressures_never_say_that_no_caution_is_met():
    assert compression(asked("dp 110, toe 70", days_ago=120), CRITERIA).caution == "unknown"


def test_an_old_toe_beside_a_new_ankle_does_not_reassure_with_diabetes():
    old = PressureExam(DAY - timedelta(120), exam("toe 70"))
    new = PressureExam(DAY, exam("arm 140, dp 130"))

    question = OutlookQuestion("right", DAY, (old, new), context=HAS_DIABETES)

    assert compression(question, CRITERIA).caution == "unknown"


def test_the_left_foot_is_read_as_the_right_one():
    right = answered("arm 150, dp 60, toe 28")
    left = answered("arm 150", "dp 60, toe 28", side="left")

    assert left.sentence == right.sentence.replace("RIGHT", "LEFT")
    assert [one.sentence for one in left.would_change] == [one.sentence for one in right.would_change]


def test_criteria_from_before_the_outlook_are_refused_by_name():
    with pytest.raises(InputError) as refused:
        outlook(asked("toe 40"), load_criteria("acc-aha-2024", "1"))

    assert refused.value.code == "criteria.no_outlook"


def test_a_wound_of_the_other_side_is_refused():
    with pytest.raises(InputError, match=r"wound\.other_side"):
        asked("toe 40", wounds=[wound(side="left")])


def test_stage_5_stands_beside_the_sentence_as_a_clinicians_word():
    found = answered("toe 35", stage_by_clinician=5)

    assert found.stage.stage == 5
    assert any("unsalvageable" in caution for caution in found.cautions)


TOES = st.integers(1, 150)
ANKLES = st.one_of(st.none(), st.integers(20, 200))
INFECTIONS = st.sampled_from([signs(), MILD, DEEP, SEPSIS])
CONTEXTS = st.sampled_from([NO_DIABETES, HAS_DIABETES, Context()])


def readings_of(toe, ankle, arm=140):
    return f"arm {arm}, toe {toe}" + (f", dp {ankle}" if ankle else "")


@given(TOES, TOES, ANKLES, INFECTIONS, CONTEXTS)
@settings(max_examples=25, deadline=None)
def test_raising_the_toe_never_worsens_sentence_stage_or_urgency(one, other, ankle, infection, context):
    low, high = (
        answered(readings_of(toe, ankle), wounds=[wound(infection=infection)], context=context)
        for toe in sorted((one, other))
    )

    assert WORDS.index(high.word) >= WORDS.index(low.word)
    assert max(high.stage.possible) <= max(low.stage.possible)
    assert URGENCIES.index(high.referral.urgency) >= URGENCIES.index(low.referral.urgency)


@given(TOES, st.integers(20, 200), st.integers(20, 200), CONTEXTS)
@settings(max_examples=25, deadline=None)
def test_raising_the_ankle_never_worsens_the_sentence(toe, one, other, context):
    low, high = (answered(readings_of(toe, ankle), context=context) for ankle in sorted((one, other)))

    assert WORDS.index(high.word) >= WORDS.index(low.word)


@given(TOES, ANKLES, CONTEXTS)
@settings(max_examples=20, deadline=None)
def test_every_reading_said_to_change_the_sentence_does_so_when_asked_again(toe, ankle, context):
    found = answered(readings_of(toe, ankle), context=context)
    said = [one for one in found.would_change if one.by == "reading" and one.measure == "toe pressure"]

    again = {one: answered(readings_of(one.mmhg, ankle), context=context) for one in said}

    assert all(
        again[one].word.words == one.then and one.now == found.word.words
        for one in said
        if one.change == "sentence"
    )
    assert all(again[one].referral.urgency.words == one.then for one in said if one.change == "urgency")


@given(st.dates(date(2025, 1, 1), DAY), TOES)
@settings(max_examples=20, deadline=None)
def test_no_reading_reassures_that_is_not_surely_after_the_procedure(day, toe):
    found = answered(readings_of(toe, 120), last_procedure=procedure(DAY - timedelta(10)), days_ago=10)
    earlier = answered(readings_of(toe, 120), last_procedure=procedure(DAY), days_ago=(DAY - day).days)

    assert found.word == earlier.word == OutlookWord.CANNOT_SAY


def test_the_stage_alone_is_that_of_the_outlook():
    question = asked("arm 150, dp 70, pt 66, toe 35")

    assert threatened_limb(question, CRITERIA) == outlook(question, CRITERIA).stage
    assert isinstance(outlook(question, CRITERIA).post_test, NotStated)
    assert outlook(question, CRITERIA).readings[0].age_days == 10
