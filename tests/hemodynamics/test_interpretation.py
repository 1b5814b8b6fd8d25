"""Urgency (clinical reference 4.1), conditions (6), and the words a nurse reads."""

from decimal import Decimal

import pytest

from exams.hemodynamics import (
    Conditions,
    Context,
    LimbFacts,
    NotStated,
    Side,
    Site,
    compare_criteria,
    conclusion_draft,
    limb_sentence,
    load_criteria,
)
from exams.hemodynamics.bands import PATTERNS
from exams.hemodynamics.flags import FLAG_MEASURES
from exams.hemodynamics.words import PATTERN_WORDS
from tests.hemodynamics.readings import band, exam, read, wound


def test_the_same_values_are_severe_without_a_wound_and_urgent_with_one():
    assert band(read("toe 28"), "urgency", "right") == "SEVERE_ISCHAEMIA"
    assert band(read("toe 28", context=wound()), "urgency", "right") == "URGENT_VASCULAR"
    rest_pain = Context(right=LimbFacts(rest_pain=True))
    assert band(read("toe 28", context=rest_pain), "urgency", "right") == "URGENT_VASCULAR"


def test_severe_ischaemia_says_who_and_by_when():
    assert read("toe 28").of("urgency", Side.RIGHT).sentence == (
        "RIGHT: severe ischaemia, toe pressure 28 mmHg (below 30). "
        "Tell the vascular team within one working day."
    )


def test_infection_with_any_sign_of_arterial_disease_is_an_emergency():
    infected = Context(right=LimbFacts(foot_infection=True))

    assert (
        band(read("arm 100, dp 80", context=infected), "urgency", "right")
        == "INFECTION_WITH_ARTERIAL_DISEASE"
    )
    assert read("arm 100, dp 110, pt 108, toe 90", context=infected).of("urgency", Side.RIGHT) is None


def test_a_wound_on_the_other_foot_does_not_make_this_one_urgent():
    assert band(read("toe 28", context=wound("left")), "urgency", "right") == "SEVERE_ISCHAEMIA"


def test_every_urgent_fact_of_a_limb_is_named_once_in_one_finding():
    found = read("arm 150, dp 40, pt 38, toe 20", context=wound())

    assert [finding.limb for finding in found.urgent] == [Side.RIGHT]
    assert found.urgent[0].sentence == (
        "RIGHT: URGENT, toe pressure 20 mmHg (below 30), ankle pressure 40 mmHg (below 50) and "
        "ankle-brachial index 0.27 (below 0.40) with an open wound. Tell the vascular team now."
    )


def test_urgency_uses_the_lower_of_measured_and_corrected():
    hanging = Conditions(position="sitting", heart_to_site_cm=Decimal(-60))
    raised = Conditions(position="foot_raised", heart_to_site_cm=Decimal(12))

    below = read("toe 76", conditions=hanging, context=wound())
    above = read("toe 28", conditions=raised, context=wound())

    assert band(below, "urgency", "right") == "URGENT_VASCULAR"
    assert "76 mmHg (29.4 at heart level)" in below.of("urgency", Side.RIGHT).sentence
    assert band(above, "urgency", "right") == "URGENT_VASCULAR"


def test_an_ordinary_reading_lying_flat_is_never_corrected():
    flat = Conditions(position="supine", heart_to_site_cm=Decimal(12))

    found = read("toe 52", conditions=flat)

    assert found.of("toe_pressure", Side.RIGHT).shown == "52 mmHg"
    assert found.of("position").sentence == "Lying flat: the height typed for the foot is kept but not used."


def test_sitting_without_a_height_is_provisional_and_says_what_to_record():
    found = read("toe 52", conditions=Conditions(position="sitting"))

    assert "PROVISIONAL" in found.of("toe_pressure", Side.RIGHT).flags
    assert "HEIGHT_NOT_RECORDED" in found.of("position").flags


@pytest.mark.parametrize(
    ("minutes", "flags"),
    [
        (None, ("REST_NOT_RECORDED",)),
        (4, ("REST_UNDER_5",)),
        (5, ("REST_UNDER_10",)),
        (9, ("REST_UNDER_10",)),
        (10, ()),
    ],
)
def test_rest_is_remarked_below_10_minutes_and_marked_below_5(minutes, flags):
    assert read("toe 52", conditions=Conditions(rest_minutes=minutes)).of("rest").flags == flags


def test_rest_that_was_typed_in_says_so():
    found = read(conditions=Conditions(rest_minutes=12, rest_typed=True)).of("rest")

    assert found.shown == "12 minutes (as typed)"
    assert found.flags == ("REST_TYPED",)


@pytest.mark.parametrize(
    ("toe", "asked"), [(49, False), (50, True), (25, True), (35, True), (41, False), (75, False)]
)
def test_a_cold_toe_is_warmed_again_only_where_10_mmhg_could_cross_a_band(toe, asked):
    found = read(f"toe {toe}", right_toe_celsius=26).of("toe_skin_temperature", Side.RIGHT)

    assert "COLD_TOE" in found.flags
    assert ("WARM_AND_REPEAT" in found.flags) is asked


def test_warming_that_could_cross_the_limit_of_the_toe_index_is_asked_for():
    found = read("arm 100, toe 65", right_toe_celsius=26).of("toe_skin_temperature", Side.RIGHT)

    assert "WARM_AND_REPEAT" in found.flags


def test_a_toe_of_30_degrees_is_not_cold_and_a_missing_temperature_is_named():
    assert read("toe 50", right_toe_celsius=30).of("toe_skin_temperature", Side.RIGHT).flags == ()
    assert read("toe 50").of("toe_skin_temperature", Side.RIGHT).flags == ("TEMP_NOT_RECORDED",)
    assert read("dp 50").of("toe_skin_temperature", Side.RIGHT) is None


def test_tobacco_caffeine_and_a_cold_room_are_remarked():
    recent = Conditions(tobacco_hours=Decimal("1.5"), caffeine_hours=Decimal(2), room_celsius=Decimal(18))

    found = read(conditions=recent)

    assert found.of("tobacco").flags == ("TOBACCO",)
    assert found.of("caffeine").flags == ()
    assert found.of("room_temperature").flags == ("ROOM_COLD",)


def test_planned_sites_that_were_never_tried_are_named_once():
    planned = [(Side.RIGHT, Site.TOE_1), (Side.LEFT, Site.DORSALIS_PEDIS), (Side.RIGHT, Site.ARM)]

    assert read("arm 120", planned=planned).of("not_measured").sentence == (
        "Planned but not measured: RIGHT hallux and LEFT dorsalis pedis."
    )
    assert read(planned=planned).of("not_measured") is None


@pytest.mark.parametrize(
    "context", [Context(diabetes="yes"), Context(diabetes="no", kidney_disease="yes"), Context()]
)
@pytest.mark.parametrize(
    "ankle", ["dp 110, pt 108", "dp 160, pt 150", "dp not_occludable, pt not_occludable"]
)
def test_without_a_toe_disease_is_never_called_ruled_out_in_diabetes_or_kidney_disease(ankle, context):
    draft = conclusion_draft(read(f"arm 100, {ankle}", context=context))

    assert "excluded" not in draft
    assert "arterial disease cannot be ruled out" in draft


def test_a_stiff_ankle_sends_to_the_toe_in_the_words_agreed():
    words = (
        "Ankle pressure not reliable here. A normal or high index does not rule out disease; "
        "use toe measurement."
    )

    found = read("arm 100, dp 160, pt 150, toe 60")

    assert words in found.of("ankle_brachial_index", Side.RIGHT).sentence
    assert words in conclusion_draft(found)


def test_the_draft_names_right_then_left_then_what_limits_them():
    found = read(
        "arm 142, dp 120, pt 128, toe 98", "dp 118, pt 110, toe 104", conditions=Conditions(rest_minutes=12)
    )

    right, left, limits = conclusion_draft(found).split("\n")

    assert right.startswith("RIGHT: arterial disease; ankle and toe agree. Ankle-brachial index 0.90 (95 %")
    assert left.startswith("LEFT: ")
    assert (right.count("RIGHT"), left.count("LEFT")) == (1, 1)
    assert limits == "RIGHT arm used; one arm only: the index may read high."


def test_a_limb_in_one_sentence():
    found = read("arm 138, dp 120, pt 128, toe 98", "arm 142")

    assert limb_sentence(found, Side.RIGHT) == (
        "RIGHT: arterial disease; ankle and toe agree (ankle-brachial index 0.90, mildly reduced; "
        "toe-brachial index 0.69, reduced; toe pressure 98 mmHg)."
    )
    assert limb_sentence(found, Side.LEFT) == "LEFT: not measured."


def test_an_index_close_to_a_limit_says_so():
    assert read("arm 140, dp 126, pt 90").of("ankle_brachial_index", Side.RIGHT).sentence == (
        "RIGHT ankle-brachial index 0.90: mildly reduced. Close to a limit: a repeat may read borderline."
    )
    assert "Close" not in read("arm 140, dp 112, pt 90").of("ankle_brachial_index", Side.RIGHT).sentence


def test_an_empty_exam_says_nothing_and_claims_nothing():
    found = read()

    assert [f.sentence for f in found.findings if f.limb is not None and f.sentence] == []
    assert found.of("ankle_brachial_index", Side.RIGHT).value == NotStated("ankle pressure not measured")
    assert found.of("arm_used").sentence == ""


def test_a_finding_names_its_rule_source_status_and_inputs():
    found = read("arm 138, dp 120, pt 128", "arm 142").of("ankle_brachial_index", Side.RIGHT)

    assert found.rule == (
        "acc-aha-2024 version 2: higher ankle artery over higher arm; mildly reduced: 0.71 to 0.90"
    )
    assert (found.source, found.status) == ("PRACTICE", "common practice, from memory")
    assert [(item.role, item.site, item.shown) for item in found.inputs] == [
        ("numerator", "higher ankle artery", "128 mmHg"),
        ("denominator", "higher arm", "142 mmHg"),
        ("site", "dorsalis_pedis", "120 mmHg"),
        ("site", "posterior_tibial", "128 mmHg"),
        ("arm", "arm", "138 mmHg"),
        ("arm", "arm", "142 mmHg"),
    ]


def test_two_equal_repeats_still_have_an_interval():
    once, twice = (read(f"arm 140, toe {toe}").of("toe_pressure", Side.RIGHT) for toe in ("60", "60->60"))

    assert once.interval.sd == Decimal("4.00")
    assert twice.interval.sd == Decimal("2.83")


def test_a_clinics_own_noise_never_narrows_an_interval():
    smaller = Context(reading_sd_mmhg={("toe", "two_cuffs"): Decimal(1)})

    assert read("toe 60", context=smaller).of("toe_pressure", Side.RIGHT).interval.sd == Decimal("4.00")


def test_the_same_exam_under_two_criteria_is_one_call():
    both = tuple(load_criteria(name) for name in ("acc-aha-2024", "older-laboratory"))

    found = compare_criteria(exam("arm 100, toe 66"), both, Context())

    assert [one.criteria_name for one in found] == ["acc-aha-2024", "older-laboratory"]
    assert [band(one, "toe_brachial_index", "right") for one in found] == ["ABNORMAL", "NORMAL"]


def test_every_pattern_has_words_and_every_flag_a_place():
    assert set(PATTERN_WORDS) == set(PATTERNS)
    assert all(measure or flag == "REPEATS_APART" for flag, measure in FLAG_MEASURES.items())


@pytest.mark.parametrize(("fact", "words"), [("open_wound", "an open wound"), ("gangrene", "gangrene")])
def test_a_wound_or_gangrene_with_a_normal_ankle_and_no_toe_asks_for_the_toe(fact, words):
    """ACC16: a normal or borderline index with a wound or gangrene asks for it (clinical reference 2.2)."""
    known = {"diabetes": "no", "kidney_disease": "no"}

    found = read("arm 100, dp 110, pt 105", context=Context(**known, right=LimbFacts(**{fact: True})))

    assert found.of("pattern", Side.RIGHT).sentence == (
        f"RIGHT: the ankle alone may mislead with {words}: arterial disease cannot be ruled out; "
        "measure the toe."
    )


def test_gangrene_makes_a_low_toe_urgent_as_an_open_wound_does():
    """Clinical reference 4.1: urgent if a foot ulcer or gangrene is recorded."""
    found = read("arm 140, toe 28", context=Context(right=LimbFacts(gangrene=True)))

    assert found.of("urgency", Side.RIGHT).sentence == (
        "RIGHT: URGENT, toe pressure 28 mmHg (below 30) with gangrene. Tell the vascular team now."
    )


@pytest.mark.parametrize("arm", ["arm 100, ", ""])
def test_a_foot_that_gave_nothing_says_so_and_no_more(arm):
    found = read(f"{arm}dp not_done:dressing, pt not_done:dressing, toe not_done:dressing")

    assert limb_sentence(found, Side.RIGHT) == "RIGHT: no pressure of the foot could be obtained."
    assert "single pressures" not in conclusion_draft(found)


def test_a_toe_only_exam_is_read_by_the_toe():
    low, normal = read("arm 100, toe 60"), read("arm 100, toe 80")

    assert low.of("pattern", Side.RIGHT).band == normal.of("pattern", Side.RIGHT).band == "NO_INDEX"
    assert limb_sentence(low, Side.RIGHT).startswith(
        "RIGHT: arterial disease by the toe; the ankle was not measured (toe-brachial index 0.60, reduced"
    )
    assert "no sign of arterial disease in the toe at rest" in limb_sentence(normal, Side.RIGHT)


def test_a_missing_arm_is_said_once():
    found = read("dp 110, toe 60")

    said = [f.sentence for f in found.findings if "no arm pressure" in f.sentence.lower()]
    assert said == ["No arm pressure: no index can be made; ankle and toe pressures still count."]


def test_too_short_a_rest_travels_with_the_index():
    found = read("arm 100, dp 90", conditions=Conditions(rest_minutes=4))

    assert "REST_UNDER_5" in found.of("ankle_brachial_index", Side.RIGHT).flags


def test_plain_words_name_a_side_as_well():
    found = read("arm 100, dp 90")

    assert found.of("pattern", "right") is found.of("pattern", Side.RIGHT)
    assert limb_sentence(found, "right") == limb_sentence(found, Side.RIGHT)
    assert exam("arm 100", first_arm="left").first_arm is Side.LEFT


def test_an_index_that_is_urgent_only_at_heart_level_says_so():
    hanging = Conditions(position="sitting", heart_to_site_cm=Decimal(-60))

    found = read("arm 150, dp 100, pt 100", conditions=hanging)

    assert found.of("ankle_brachial_index", Side.RIGHT).shown == "0.67"
    assert found.of("urgency", Side.RIGHT).sentence == (
        "RIGHT: severe ischaemia, ankle-brachial index 0.36 at heart level (below 0.40). "
        "Tell the vascular team within one working day."
    )
