"""Criteria files: whole when shipped, refused in plain words when not."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import (
    CriteriaError,
    InputError,
    criteria_names,
    criteria_versions,
    load_criteria,
    read_criteria,
)

SHIPPED = criteria_names()
TEXT = load_criteria("acc-aha-2024").text


def problems_of(text):
    with pytest.raises(CriteriaError) as refused:
        read_criteria(text)
    return refused.value.problems


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_criteria_are_whole_and_every_source_they_name_is_used(name):
    criteria = load_criteria(name)

    used = set(re.findall(r'source = "(\w+)"', criteria.text))
    without_a_limit = {"KIM20", "KYTE23"}  # the terms of waveforms; a doubt about exercise
    assert used | without_a_limit == set(criteria.sources)
    assert len(criteria.content_hash) == 64
    assert criteria_versions(name)[-1] == criteria.version


def test_the_hash_changes_with_any_byte():
    assert read_criteria(TEXT + "\n").content_hash != load_criteria("acc-aha-2024").content_hash
    assert read_criteria(TEXT).content_hash == load_criteria("acc-aha-2024").content_hash


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        (
            "lo = 91\nhi = 99",
            "lo = 92\nhi = 99",
            "gap between ABNORMAL_MILD (to 90) and BORDERLINE (from 92)",
        ),
        ("lo = 91\nhi = 99", "lo = 90\nhi = 99", "bands ABNORMAL_MILD and BORDERLINE overlap"),
        ("lo = 91\nhi = 99", "lo = 91\nhi = 98", "gap between BORDERLINE (to 98) and NORMAL (from 100)"),
        (
            "lo = 91\nhi = 99",
            "lo = 91.5\nhi = 99",
            "'lo' of ankle_brachial_index band 4 must be a whole number",
        ),
        ("lo = 91\nhi = 99", "lo = 91", "bands BORDERLINE and NORMAL overlap"),
        ("limit = 47", "limit = 0", "'limit' of noise.arm_sd_tenths_mmhg must be above 0"),
        (
            "urgent_abi_hundredths = {",
            "# {",
            "Urgency rule 'iwgdf2023' needs 'thresholds.urgent_abi_hundredths'",
        ),
        (
            'rule = "iwgdf2023"',
            'rule = "pressures_only"',
            "Urgency rule 'pressures_only' must not have 'thresholds.urgent_abi_hundredths'",
        ),
        ("lo = 0\nhi = 40", "lo = 1\nhi = 40", "the lowest band must start at 0, not 1"),
        ("lo = 141\n", "lo = 141\nhi = 300\n", "the highest band must be open upwards"),
        (
            'code = "BORDERLINE"',
            'code = "MIDDLING"',
            "Code 'MIDDLING' of ankle_brachial_index band 4 is not known",
        ),
        ('code = "BORDERLINE"', 'code = "NORMAL"', "a band code is used twice"),
        (
            'limit = 30, source = "SAWKA92"',
            "limit = 30",
            "'source' of thresholds.toe_cold_celsius is missing",
        ),
        (
            'rule = "higher", source = "ACC16"',
            'rule = "any", source = "ACC16"',
            "Rule 'any' of choices.ankle",
        ),
        ('source = "SAWKA92", status', 'source = "NOBODY", status', "Source 'NOBODY' of thresholds.toe_cold"),
        (
            'gradient_mmhg = { operator = ">"',
            'gradient_mmhg = { operator = "="',
            "Operator '=' of thresholds.grad",
        ),
        (
            'gradient_mmhg = { operator = ">", limit = 70',
            'gradient_mmhg = { operator = ">", limit = 7.5',
            "7.5",
        ),
        ("toe_wound_mmhg", "toe_wounds_mmhg", "Unknown threshold 'thresholds.toe_wounds_mmhg'"),
        ("[noise]", "[noises]", "Unknown key 'noises'"),
        ("limit_mmhg = 40", "limit_mmhg = 25", "toe_pressure: each limit must be above the one before it"),
        ('name = "acc-aha-2024"', 'name = "ACC AHA"', "must be small letters"),
        ('version = "2"', "version = 2", "'version' of criteria is missing or not text"),
        ("lo = 0\n", "lo = \n", "not valid TOML"),
        ("hi = 40", "hi = 1000000000000000000000", "must be a whole number from 0 to 100000"),
        ("[outlook.limits]", "[outlook.limit]", "The table [outlook.limits] is missing"),
        ("reading_age_days", "reading_days", "Unknown threshold 'outlook.limits.reading_days'"),
        (
            'likely_toe_mmhg = { operator = ">=", limit = 55',
            'likely_toe_mmhg = { operator = ">=", limit = 25',
            "The limit of urgent_toe_mmhg must not be above that of likely_toe_mmhg",
        ),
        ("[further]", "[farther]", "Unknown key 'farther'"),
        ("exercise_recovery_s", "recovery_s", "Unknown threshold 'further.recovery_s'"),
        (
            'oxygen_wifi_3_mmhg = { operator = "<", limit = 30',
            'oxygen_wifi_3_mmhg = { operator = "<", limit = 45',
            "'further.oxygen_wifi_3_mmhg' must not lie above",
        ),
        ("\nKIM20 = ", "\nKIM21 = ", "Source 'KIM20', which further tests name"),
        ('"monophasic_or_absent"', '"flat"', "Rule 'flat' of outlook.choices.waveform is not known"),
    ],
)
def test_a_fault_in_criteria_is_named(old, new, problem):
    assert old in TEXT

    found = problems_of(TEXT.replace(old, new, 1))

    assert any(problem in sentence for sentence in found), found


RATIO = """
[[outlook.ratios]]
test = "toe_mmhg"
operator = ">="
limit = 30
ratio_hundredths = 300
source = "OURS"
status = "supplied by the clinic"
"""


def test_no_likelihood_ratio_is_shipped_and_a_clinic_may_supply_one():
    assert all(load_criteria(name).outlook.ratios == () for name in SHIPPED if load_criteria(name).outlook)

    (ratio,) = read_criteria(TEXT + RATIO).outlook.ratios
    assert (ratio.test, ratio.when.words, ratio.hundredths) == ("toe_mmhg", "30 or more", 300)


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("toe_mmhg", "pulse", "Test 'pulse' of outlook.ratios 1 may be toe_mmhg"),
        ('">="', '"="', "Operator '=' of outlook.ratios 1"),
        ("= 300", "= 0", "'ratio_hundredths' of outlook.ratios 1 must be above 0"),
        ("OURS", "NOBODY", "Source 'NOBODY' of outlook.ratios 1 is not listed"),
    ],
)
def test_a_fault_in_a_likelihood_ratio_is_named(old, new, problem):
    assert any(problem in sentence for sentence in problems_of(TEXT + RATIO.replace(old, new, 1)))


def test_criteria_from_before_the_outlook_are_still_read_and_have_none():
    assert load_criteria("acc-aha-2024", "1").outlook is None


def test_criteria_from_before_they_had_limits_of_further_tests_keep_those_of_then():
    """Frozen: reports carry the hash of version 1, and were read with these."""
    first, second = load_criteria("acc-aha-2024", "1"), load_criteria("acc-aha-2024", "2")

    assert "[further]" not in first.text
    assert first.further == second.further
    assert {limit.source for limit in first.further.values()} <= set(first.sources)
    assert first.content_hash.startswith("b65c9b4e")


def test_every_fault_is_named_at_once():
    broken = TEXT.replace("lo = 91\nhi = 99", "lo = 92\nhi = 99").replace("toe_wound_mmhg", "toe_mmhg")

    assert len(problems_of(broken)) == 3


@pytest.mark.parametrize(
    "text", ["", "name = 'x'", "[sources]\nA = 1", "choices = 3\nthresholds = []\nnoise = 1"]
)
def test_criteria_that_are_hardly_there_are_refused_without_a_crash(text):
    assert problems_of(text)


SPOILT_LINES = ["", "lo = -1", "hi = 9", "[", "a = [[1]]", "code = 3", "operator = 5", "[thresholds]"]


@given(st.integers(0, TEXT.count("\n") - 1), st.sampled_from(SPOILT_LINES))
@settings(max_examples=60, deadline=None)
def test_any_line_spoilt_is_read_or_refused_with_reasons(place, line):
    lines = TEXT.split("\n")
    lines[place] = line

    reasons = reasons_against("\n".join(lines))

    assert all(reason.endswith(".") for reason in reasons)


def reasons_against(text):
    try:
        read_criteria(text)
    except CriteriaError as refused:
        return refused.problems or ("refused without a reason",)
    return ()


def test_unknown_criteria_are_refused_with_the_names_there_are():
    with pytest.raises(InputError) as name_refused:
        load_criteria("nobody-1900")
    with pytest.raises(InputError) as version_refused:
        load_criteria("acc-aha-2024", "99")

    assert name_refused.value.limit == SHIPPED
    assert version_refused.value.limit == ("1", "2")


@pytest.mark.parametrize("name", ["../acc-aha-2024", "acc-aha-2024@1", "", "*"])
def test_a_name_is_never_a_path_or_a_pattern(name):
    with pytest.raises(InputError):
        load_criteria(name)
