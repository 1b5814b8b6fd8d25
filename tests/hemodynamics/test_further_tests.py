"""The further tests: what is refused, what is void, and what is said (clinical reference 5)."""

from decimal import Decimal

import pytest

from exams.hemodynamics import (
    CategoryEvidence,
    EnteredCategory,
    Exercise,
    ExercisedLimb,
    Fontaine,
    FurtherTests,
    InputError,
    Modifier,
    NotStated,
    Outcome,
    Oxygen,
    Phasicity,
    Pressures,
    Resistance,
    Segment,
    SegmentalLimb,
    Side,
    Site,
    SiteReading,
    Waveform,
    category_finding,
    exercise_findings,
    interpret_further,
    is_flat_or_barely_pulsatile,
    load_criteria,
    oxygen_findings,
    pressure,
    pulse_volume_finding,
    read_criteria,
    reasons_not_to_exercise,
    segmental_findings,
    waveform_finding,
    waveform_of_word,
)

CRITERIA = load_criteria("acc-aha-2024")
RIGHT, LEFT = Side.RIGHT, Side.LEFT
REST = Pressures(pressure(130), pressure(130))
NO_SIGNAL = SiteReading(Outcome.NO_SIGNAL)
OPEN = SiteReading(Outcome.NOT_OCCLUDABLE, 500)


def after(seconds, ankle, arm=130, **how):
    return Pressures(
        ankle if isinstance(ankle, SiteReading) else pressure(ankle), pressure(arm), seconds=seconds, **how
    )


def exercised(*readings, rest=REST, **how):
    found = exercise_findings(ExercisedLimb(RIGHT, rest, readings, **how), CRITERIA)
    return {finding.measure: finding for finding in found}


def legs(right, left, cuffs=4, stiff=()):
    sets = {3: ("thigh", "calf", "ankle"), 4: ("high_thigh", "low_thigh", "calf", "ankle")}
    return [
        SegmentalLimb(side, cuffs, dict(zip(map(Segment, sets[cuffs]), readings, strict=False)),
                      calcified=side in stiff)
        for side, readings in ((RIGHT, right), (LEFT, left))
    ]  # fmt: skip


def mmhg(*values):
    return [pressure(value) for value in values]


def segmental(*sides, arm=140):
    return {(one.limb, one.measure): one for one in segmental_findings(*sides, pressure(arm), CRITERIA)}


# After exercise


@pytest.mark.parametrize("times", [(60, 60), (60, 30)])
def test_times_out_of_order_are_refused_at_their_reading(times):
    with pytest.raises(InputError) as refused:
        exercised(*(after(second, 100) for second in times))

    assert (refused.value.code, refused.value.field) == ("exercise.times_out_of_order", "after.2")


def test_a_symptom_after_the_end_is_refused():
    with pytest.raises(InputError) as refused:
        Exercise("treadmill", duration_s=180, symptom="calf pain", symptom_at_s=200)

    assert refused.value.code == "exercise.symptom_after_end"


def test_recovery_is_the_first_time_the_index_is_back_at_rest():
    found = exercised(after(50, 90), after(120, 110), after(240, 130), after(360, 131))

    assert (found["recovery_time"].value, found["recovery_time"].band) == (240, "SLOW")


def test_recovery_within_three_minutes_is_prompt_and_none_is_said():
    assert exercised(after(50, 90), after(180, 130))["recovery_time"].band == "PROMPT"
    assert exercised(after(50, 90), after(300, 120))["recovery_time"].shown == "not back at rest after 5 min"


def test_without_a_fall_that_counts_there_is_nothing_to_recover_from():
    found = exercised(after(50, 129), after(600, 130))

    assert found["exercise_test"].band == "NEGATIVE"
    assert (found["recovery_time"].shown, found["recovery_time"].band) == ("no fall that counts", "")


def test_a_rise_after_exercise_is_told_as_one():
    found = exercised(after(50, 142))

    assert found["exercise_ankle_fall"].shown == "none: 12 mmHg higher"


def test_a_first_reading_after_a_minute_is_flagged():
    assert exercised(after(61, 90))["post_exercise_index"].flags == ("LATE_FIRST_READING",)


@pytest.mark.parametrize(
    ("readings", "how", "why"),
    [
        ((after(50, 90),), {"stiff_ankle": True}, "too stiff"),
        ((after(50, OPEN),), {}, "too stiff"),
        ((after(50, NO_SIGNAL),), {}, "no signal at the ankle after exercise"),
        ((after(50, 90, artery=Site.DORSALIS_PEDIS),), {}, "another artery or arm"),
        ((after(50, 90, arm_side=LEFT),), {}, "another artery or arm"),
        ((after(50, 90),), {"rest": Pressures(NO_SIGNAL, pressure(130))}, "missing at rest"),
        ((), {}, "nothing was measured"),
    ],
)
def test_what_makes_the_fall_void_is_said_for_every_finding(readings, how, why):
    found = exercised(*readings, **how)

    assert len(found) == 5
    assert all(isinstance(one.value, NotStated) and why in one.value.reason for one in found.values())
    assert all(one.band == "" for one in found.values())


def test_a_fall_in_per_cent_alone_says_that_healthy_people_have_it_too():
    assert "healthy young adults" in exercised(after(50, 104, 140))["exercise_test"].sentence


def test_what_speaks_against_the_test_is_named():
    assert reasons_not_to_exercise() == ()
    assert reasons_not_to_exercise(plantar_ulcer=True, rest_pain=True) == (
        "an ulcer under the foot", "pain at rest"
    )  # fmt: skip


# Along the leg


@pytest.mark.parametrize(
    "right", [legs(mmhg(180, 170, 120, 80), [], stiff=[RIGHT])[0], legs([*mmhg(180, 170, 120), OPEN], [])[0]]
)
def test_no_gradient_comes_from_a_calcified_limb(right):
    found = segmental(right, legs([], mmhg(180, 170, 160, 150))[1])

    of_right = [one for (limb, _), one in found.items() if limb is RIGHT]
    assert len(of_right) == 4
    assert all(isinstance(one.value, NotStated) and "pulse-volume" in one.value.reason for one in of_right)
    assert all(isinstance(one.value, NotStated) for (limb, _), one in found.items() if limb is None)
    assert found[LEFT, "gradient_calf_ankle"].value == 10


@pytest.mark.parametrize(
    ("cuffs", "thigh", "band"),
    [
        (4, 168, "NORMAL"),
        (4, 166, "LOW"),
        (4, 112, "LOW"),
        (4, 111, "VERY_LOW"),
        (3, 140, "NORMAL"),
        (3, 111, "LOW"),
    ],
)
def test_a_wide_thigh_cuff_reads_lower_than_a_narrow_one(cuffs, thigh, band):
    found = segmental(*legs(mmhg(thigh), mmhg(180), cuffs))

    assert found[RIGHT, "thigh_index"].band == band


def test_a_narrow_thigh_cuff_less_than_20_above_the_arm_is_flagged():
    found = segmental(*legs(mmhg(159), mmhg(160)))

    assert found[RIGHT, "thigh_index"].flags == ("THIGH_NEAR_ARM",)
    assert found[LEFT, "thigh_index"].flags == ()


def test_one_low_thigh_points_to_its_iliac_artery():
    assert segmental(*legs(mmhg(118), mmhg(172)))[RIGHT, "inflow_pattern"].band == "ILIAC"


def test_sides_more_than_20_apart_are_told_and_20_are_not():
    found = segmental(*legs(mmhg(180, 170), mmhg(160, 149)))

    assert found[None, "side_difference_high_thigh"].band == "NORMAL"
    assert found[None, "side_difference_low_thigh"].sentence == "Low thigh 21 mmHg lower on the LEFT."


def test_cuffs_of_two_sets_are_refused():
    with pytest.raises(InputError) as wrong_cuff:
        SegmentalLimb(RIGHT, 3, {Segment.HIGH_THIGH: pressure(180)})
    with pytest.raises(InputError) as two_sets:
        segmental(legs([], [], 3)[0], legs([], [], 4)[1])

    assert wrong_cuff.value.code == "segments.wrong_cuff"
    assert two_sets.value.code == "segments.cuff_sets_differ"


# Waveforms and pulse volume


@pytest.mark.parametrize(
    ("word", "crosses_zero", "words"),
    [
        ("Triphasic", None, "multiphasic, high resistance"),
        ("biphasic", True, "multiphasic, high resistance"),
        ("biphasic", False, "monophasic"),
        ("monophasic, dampened", None, "monophasic, low resistance, prolonged upstroke"),
        ("absent", None, "absent"),
    ],
)
def test_an_older_word_becomes_the_consensus_terms_and_is_kept(word, crosses_zero, words):
    found = waveform_of_word(word, crosses_zero=crosses_zero)

    assert (found.words, found.own_word) == (words, word)


def test_biphasic_alone_asks_and_an_unknown_word_is_not_guessed():
    assert waveform_of_word("biphasic") == NotStated("Does it cross the zero line?")
    assert isinstance(waveform_of_word("swooshy"), NotStated)


def test_only_multiphasic_of_high_resistance_is_normal():
    normal = waveform_finding(RIGHT, "posterior_tibial", waveform_of_word("triphasic"), CRITERIA)
    low = Waveform(None, Phasicity.MONOPHASIC, Resistance.LOW)
    dull = waveform_finding(RIGHT, "posterior_tibial", low, CRITERIA)
    half_said = waveform_finding(RIGHT, "posterior_tibial", Waveform(None, Phasicity.MONOPHASIC), CRITERIA)

    assert [one.band for one in (normal, dull, half_said)] == ["NORMAL", "NOT_NORMAL", "NOT_ASSESSED"]
    assert "(measurer: triphasic)" in normal.sentence


def test_a_waveform_that_contradicts_itself_is_refused():
    with pytest.raises(InputError) as absent:
        Waveform("absent", Phasicity.MONOPHASIC)
    with pytest.raises(InputError) as upstrokes:
        Waveform(modifiers=frozenset({Modifier.RAPID_UPSTROKE, Modifier.PROLONGED_UPSTROKE}))

    assert absent.value.code == "waveform.absent_has_a_shape"
    assert upstrokes.value.code == "waveform.two_upstrokes"


def test_a_pulse_volume_category_is_chosen_never_computed():
    found = pulse_volume_finding(LEFT, "forefoot", 5, CRITERIA)

    assert (found.band, found.flags) == ("FLAT", ("FLAT_PULSE_VOLUME",))
    assert [is_flat_or_barely_pulsatile(category, CRITERIA) for category in (3, 4, 5)] == [False, True, True]
    with pytest.raises(InputError):
        pulse_volume_finding(LEFT, "calf", 6, CRITERIA)


# Oxygen


@pytest.mark.parametrize(
    ("foot", "chest", "band"),
    [(61, 100, "GOOD"), (60, 100, "DOUBTFUL"), (40, 100, "DOUBTFUL"), (39, 100, "POOR"), (0, 100, "POOR")],
)
def test_the_regional_index_is_banded_on_hundredths(foot, chest, band):
    assert oxygen_findings(Oxygen(RIGHT, "forefoot", foot, chest, "chest"), CRITERIA)[1].band == band


@pytest.mark.parametrize(
    ("half_mmhg", "band", "wifi"),
    [(59, "SEVERE", "WIFI_3"), (60, "REDUCED", "WIFI_2"), (80, "REDUCED", "WIFI_1"), (81, "NORMAL", "WIFI_1"),
     (119, "NORMAL", "WIFI_1"), (120, "NORMAL", "WIFI_0")],
)  # fmt: skip
def test_the_pressure_of_oxygen_is_banded_on_exact_halves(half_mmhg, band, wifi):
    found, _ = oxygen_findings(Oxygen(RIGHT, "forefoot", half_mmhg), CRITERIA)

    assert (found.band, found.flags) == (band, (wifi,))


def test_without_a_reference_there_is_no_index_and_swelling_is_said():
    tension, index = oxygen_findings(Oxygen(RIGHT, "forefoot", 56, oedema=True), CRITERIA)

    assert isinstance(index.value, NotStated)
    assert "swelling may make it read falsely low" in tension.sentence
    assert "FALSELY_LOW" in tension.flags


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"half_mmhg": 401}, "oxygen.out_of_range"),
        ({"half_mmhg": 50, "reference_half_mmhg": 100}, "oxygen.reference_site_missing"),
        ({"half_mmhg": 50, "probe_celsius": Decimal(50)}, "oxygen.out_of_range"),
    ],
)
def test_oxygen_that_cannot_be_is_refused(fields, code):
    with pytest.raises(InputError) as refused:
        Oxygen(RIGHT, "forefoot", **fields)

    assert refused.value.code == code


# Category and stage


@pytest.mark.parametrize(
    ("category", "stage", "walked", "fits"),
    [(1, "IIa", 200, True), (1, "IIa", 199, False), (2, "IIb", 200, True), (2, "IIb", 201, False),
     (2, "IIa", None, True), (4, "IV", None, False), (0, "IIa", None, False)],
)  # fmt: skip
def test_the_stage_is_checked_against_the_category_and_the_walk(category, stage, walked, fits):
    found = category_finding(RIGHT, category, CategoryEvidence(pain_free_m=walked), CRITERIA, Fontaine(stage))

    assert (found.band != "MISMATCH") is fits


def test_a_mismatch_says_what_was_measured():
    found = category_finding(RIGHT, 4, CategoryEvidence(ankle_mmhg=70), CRITERIA)

    assert found.sentence == (
        "RIGHT Rutherford category 4 (pain at rest) does not fit what was measured. "
        "At rest ankle 70 mmHg, not as low as this category asks."
    )


# All of an exam


def test_an_exam_is_read_whole_by_its_criteria_and_the_category_hears_the_other_tests():
    done = FurtherTests(
        exercised=(ExercisedLimb(RIGHT, REST, (after(30, 90),)),),
        pulse_volumes=((RIGHT, "forefoot", 5),),
        oxygen=(("forefoot", Oxygen(RIGHT, "forefoot", 56)),),
        categories=(EnteredCategory(RIGHT, 0, CategoryEvidence()),),
    )

    found = interpret_further(done, CRITERIA)

    assert "exercise test was positive" in found.of("rutherford_category", RIGHT).sentence
    assert "pulse volume flat" in found.of("rutherford_category", RIGHT).sentence
    assert found.of("forefoot_oxygen_pressure", RIGHT).band == "SEVERE"
    assert {one.source for one in found.findings} <= set(CRITERIA.sources)
    assert all(one.rule.startswith(CRITERIA.label) for one in found.findings)


def test_a_limit_of_the_criteria_decides_and_not_one_of_the_code():
    severe = 'oxygen_severe_mmhg = { operator = "<", limit = '
    stricter = read_criteria(CRITERIA.text.replace(f"{severe}30", f"{severe}20"))
    measured = Oxygen(RIGHT, "forefoot", 50)

    assert oxygen_findings(measured, CRITERIA)[0].band == "SEVERE"
    assert oxygen_findings(measured, stricter)[0].band == "REDUCED"
