"""The healing outlook: the rule table, urgency by criteria, likelihood ratios, Wilson intervals.

Source: clinical reference 4.1, 4.2, 8.3 and 10. The expected urgency limits stand in its table of 4.1.
"""

from decimal import Decimal

import pytest

from exams.hemodynamics import (
    NotStated,
    OutcomeCounts,
    OutlookWord,
    load_criteria,
    read_criteria,
    wilson_interval,
)
from tests.hemodynamics.wound_words import CRITERIA, answered, areas

MONOPHASIC = {"dorsalis_pedis": {"phasicity": "monophasic"}}
ABSENT = {"posterior_tibial": {"direction": "absent"}}
MULTIPHASIC = {"dorsalis_pedis": {"phasicity": "multiphasic"}}
# At day 28 of 78; the exam is of day 68.
SLOW = areas((0, 4.0), (28, 3.0))
GOOD = areas((0, 4.0), (28, 1.0))


@pytest.mark.parametrize(
    ("readings", "how", "word"),
    [
        ("toe 29", {}, "unlikely"),
        ("toe 30", {}, "uncertain"),
        ("toe 54", {}, "uncertain"),
        ("toe 54.5", {}, "uncertain"),
        ("toe 55", {}, "likely"),
        ("", {"oxygen": 29}, "unlikely"),
        ("", {"oxygen": 30}, "uncertain"),
        ("", {"oxygen": 39}, "uncertain"),
        ("", {"oxygen": 40}, "likely"),
        ("toe 70", {"oxygen": 35}, "uncertain"),
        ("toe 40", {"oxygen": 60}, "uncertain"),
        ("dp 49", {}, "unlikely"),
        ("dp 49, toe 80", {}, "unlikely"),
        ("dp 50", {}, "cannot_say"),
        ("arm 150, dp 59, toe 60", {}, "unlikely"),
        ("arm 150, dp 60, toe 60", {}, "likely"),
        ("toe no_signal", {}, "unlikely"),
        ("toe not_occludable", {}, "cannot_say"),
        ("", {}, "cannot_say"),
        ("arm 100, toe 70", {"areas": SLOW}, "uncertain"),
        ("arm 100, toe 70", {"areas": GOOD}, "likely"),
        ("arm 100, toe 70", {}, "likely"),
        ("arm 100, toe 71", {"areas": SLOW}, "likely"),
        ("toe 60", {"waveforms": MONOPHASIC}, "unlikely"),
        ("toe 60", {"waveforms": ABSENT}, "unlikely"),
        ("toe 60", {"waveforms": {**ABSENT, **MULTIPHASIC}}, "likely"),
    ],
)
def test_the_sentence_follows_the_rule_table(readings, how, word):
    assert answered(readings, **how).word == word


@pytest.mark.parametrize(
    ("name", "readings", "how", "word"),
    [
        # ankle < 50, index < 0.40, toe < 30, oxygen < 30, monophasic or absent pedal waveform
        ("iwgdf-2023", "arm 200, dp 78", {}, "unlikely"),
        ("iwgdf-2023", "arm 200, dp 79", {}, "cannot_say"),
        ("iwgdf-2023", "", {"oxygen": 29}, "unlikely"),
        ("iwgdf-2023", "toe 60", {"waveforms": MONOPHASIC}, "unlikely"),
        # ankle < 50, index < 0.50, toe < 30, oxygen < 25, no waveform
        ("aha-2012", "arm 200, dp 98", {}, "unlikely"),
        ("aha-2012", "arm 200, dp 99", {}, "cannot_say"),
        ("aha-2012", "", {"oxygen": 25}, "uncertain"),
        ("aha-2012", "", {"oxygen": 24}, "unlikely"),
        ("aha-2012", "toe 60", {"waveforms": MONOPHASIC}, "likely"),
        # ankle < 50, toe < 30 and nothing else
        ("older-laboratory", "arm 200, dp 60", {}, "cannot_say"),
        ("older-laboratory", "dp 49", {}, "unlikely"),
        ("older-laboratory", "toe 29", {}, "unlikely"),
        ("older-laboratory", "", {"oxygen": 10}, "uncertain"),
    ],
)
def test_urgency_is_that_of_the_chosen_criteria(name, readings, how, word):
    assert answered(readings, criteria=load_criteria(name), **how).word == word


def test_every_urgency_rule_names_its_number_its_limit_and_its_source():
    rules = {rule.name: rule for rule in answered("arm 150, dp 60, toe 28").rules}

    assert (rules["toe"].holds, rules["toe"].shown) == ("yes", "toe 28 mmHg on 10 Mar 2026")
    assert rules["toe"].limit == "toe pressure below 30 mmHg"
    assert rules["index"].limit == "ankle-brachial index below 0.40"
    assert (rules["index"].holds, rules["oxygen"].holds) == ("no", "unknown")
    assert all(rule.source in CRITERIA.sources and rule.status for rule in rules.values())


def test_published_evidence_carries_ranges_citations_and_honest_status():
    found = answered("dp 45, toe 50").evidence
    applies = {(one.test, one.condition, one.points) for one in found if one.applies == "yes"}

    assert ("toe pressure", "45 mmHg or more", (25, None)) in applies
    assert ("ankle pressure", "below 70 mmHg", (25, 25)) in applies
    assert ("ankle pressure and index", "ankle below 50 mmHg or index below 0.5", (40, 40)) in applies
    background = next(one for one in found if one.test == "background")
    assert background.statement.startswith("18 to 61 % healed and 3 to 19 % had a major amputation")
    assert {one.status for one in found} >= {"confirmed in the primary text", "from memory, not confirmed"}
    assert all("20" in one.citation or "PMC" in one.citation for one in found)


@pytest.mark.parametrize(
    ("before", "ratio_hundredths", "after"),
    [(50, 300, "75.0"), (40, 279, "65.0"), (60, 378, "85.0")],
)
def test_odds_are_updated_openly_by_the_ratio_the_criteria_supply(before, ratio_hundredths, after):
    """Implied by "+25 points" (derived in 4.2): 0.50 to 0.75 is 3.0, 0.40 to 0.65 2.79, 0.60 to 0.85 3.78."""
    ratio = f"""
[[outlook.ratios]]
test = "toe_mmhg"
operator = ">="
limit = 30
ratio_hundredths = {ratio_hundredths}
source = "OURS"
status = "supplied by the clinic"
"""
    criteria = read_criteria(CRITERIA.text + ratio)

    found = answered("toe 45", criteria=criteria, pre_test_percent=before).post_test

    assert found.post_test_percent == Decimal(after)
    assert str(before) in found.working


def test_without_a_ratio_in_the_criteria_there_is_no_chance_after_the_test():
    found = answered("toe 45", pre_test_percent=50).post_test

    assert isinstance(found, NotStated)
    assert "none is published that could be confirmed" in found.reason


@pytest.mark.parametrize(
    ("healed", "of", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.000000, 0.161125),
        (1, 29, 0.006113, 0.171755),
        (20, 20, 0.838875, 1.000000),
        (5, 10, 0.236593, 0.763407),
        (0, 10, 0.000000, 0.277533),
    ],
)
def test_the_wilson_interval_is_as_printed(healed, of, low, high):
    """Newcombe RG. Stat Med 1998;17:857-872, as recomputed in 8.3, to the six places printed there."""
    assert wilson_interval(healed, of) == pytest.approx((low, high), abs=5e-7)


# statsmodels 0.15.0, proportion_confint(healed, of, method="wilson")
STATSMODELS = [
    (81, 263, 0.2552885198782742, 0.36620957698280004),
    (15, 148, 0.06238639953073628, 0.16048724172330803),
    (0, 20, 0.0, 0.1611251580528194),
    (1, 29, 0.006113214292762667, 0.17175521879320294),
    (20, 20, 0.8388748419471804, 0.9999999999999999),
    (5, 10, 0.23659309051256394, 0.7634069094874361),
    (0, 10, 0.0, 0.27753279986288926),
    (1, 8, 0.022417491450056642, 0.47088818221285356),
    (7, 8, 0.5291118177871466, 0.9775825085499434),
    (3, 9, 0.1205838183869109, 0.6457978644196039),
    (12, 25, 0.30031285954112963, 0.6650148304964323),
    (40, 41, 0.8740493794422575, 0.9956814684310875),
    (999, 100000, 0.009392164345982406, 0.01062548127261123),
    (62000, 100000, 0.6169870436092609, 0.623003737243719),
    (1, 1, 0.2065493143772374, 1.0),
]


@pytest.mark.parametrize(("healed", "of", "low", "high"), STATSMODELS)
def test_the_wilson_interval_agrees_with_statsmodels(healed, of, low, high):
    # An end that is exactly 0 or 1 comes out of theirs with rounding dust.
    assert wilson_interval(healed, of) == pytest.approx((low, high), rel=1e-9, abs=1e-15)


def test_own_outcomes_show_share_and_interval_and_hide_few():
    counts = (OutcomeCounts(12, 15, 148, "toe 30-39 mmHg"), OutcomeCounts(24, 5, 7))

    shown, hidden = answered("toe 35", outcomes=counts).own_outcomes

    assert (shown.percent, shown.low, shown.high) == (Decimal("10.1"), Decimal("6.2"), Decimal("16.0"))
    assert (hidden.healed, hidden.of, hidden.low) == (None, None, None)
    assert isinstance(hidden.percent, NotStated)


@pytest.mark.parametrize(("of", "hidden"), [(7, True), (8, False)])
def test_own_outcomes_are_shown_from_8_episodes_on(of, hidden):
    (share,) = answered("toe 35", outcomes=(OutcomeCounts(12, 3, of),)).own_outcomes

    assert isinstance(share.percent, NotStated) is hidden


def test_the_four_words_are_in_order_from_the_worst():
    assert [word.value for word in OutlookWord] == ["unlikely", "cannot_say", "uncertain", "likely"]
