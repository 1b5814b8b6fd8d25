"""What holds for EVERY exam (clinical reference, end of section 9; rounding 1.4)."""

import json
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import (
    FIRST_LEFT,
    FIRST_RIGHT,
    FIRST_UNKNOWN,
    NO,
    UNKNOWN,
    YES,
    Beyond,
    Context,
    Interpretation,
    Interval,
    MeasuredExam,
    MeasuredLimb,
    NotStated,
    Outcome,
    Side,
    Site,
    conclusion_draft,
    interpret,
    interpret_many,
    limb_sentence,
    load_criteria,
    noise,
    pressure,
    read_table,
)
from exams.hemodynamics.bands import BANDS, index_band
from exams.hemodynamics.columns import CODE_OF
from exams.hemodynamics.exact import index_hundredths
from exams.hemodynamics.many_intervals import pressure_intervals, ratio_intervals
from tests import strategies
from tests.hemodynamics.readings import read

quick = settings(max_examples=50, deadline=None)


def test_every_pressure_from_0_to_300_over_every_arm_from_40_to_260_is_rounded_half_up():
    """Against long division: whole hundredths, and one more where twice the rest reaches the arm."""
    sites, arms = (grid.ravel() for grid in np.meshgrid(np.arange(301), np.arange(40, 261)))

    found = index_hundredths(sites, arms)

    whole, rest = np.divmod(100 * sites, arms)
    assert np.array_equal(found, whole + (2 * rest >= arms))


@pytest.mark.parametrize("name", ["acc-aha-2024", "aha-2012", "iwgdf-2023", "older-laboratory"])
def test_every_index_from_0_to_6_has_exactly_one_band_and_bands_only_rise(name):
    bands = load_criteria(name).index_bands["ankle_brachial_index"]

    found = [BANDS[place] for place in index_band(np.arange(601), bands)]

    holding = [[b.code for b in bands if b.lo <= i and (b.hi is None or i <= b.hi)] for i in range(601)]
    assert [[code] for code in found] == holding
    assert [code for place, code in enumerate(found) if code not in found[:place]] == [b.code for b in bands]


@given(st.integers(1, 300), st.integers(1, 300), st.integers(1, 50), st.integers(50, 300))
@quick
def test_raising_an_ankle_pressure_never_lowers_the_index(dorsalis, tibial, more, arm):
    lower = read(f"arm {arm}, dp {dorsalis}, pt {tibial}").of("ankle_brachial_index", Side.RIGHT)
    raised = read(f"arm {arm}, dp {min(dorsalis + more, 300)}, pt {tibial}").of(
        "ankle_brachial_index", Side.RIGHT
    )

    assert raised.value >= lower.value


@given(st.integers(50, 300), st.integers(50, 300), st.integers(1, 300), st.integers(1, 300))
@quick
def test_a_second_arm_with_a_lower_pressure_changes_neither_index_nor_band(arm, other, ankle, toe):
    lower, higher = sorted((arm, other))
    one = read(f"arm {higher}, dp {ankle}, toe {toe}")
    both = read(f"arm {higher}, dp {ankle}, toe {toe}", f"arm {lower}")

    for measure in ("ankle_brachial_index", "toe_brachial_index"):
        first, second = one.of(measure, Side.RIGHT), both.of(measure, Side.RIGHT)
        assert (first.value, first.band) == (second.value, second.band)


@given(strategies.exams, strategies.contexts, strategies.criteria_names)
@quick
def test_swapping_right_and_left_mirrors_every_finding(exam, context, name):
    criteria = load_criteria(name if name != "population-survey" else "acc-aha-2024")
    found = interpret(exam, criteria, context)

    other = interpret(mirrored_exam(exam), criteria, replace(context, right=context.left, left=context.right))

    for side in Side:
        mine = [(f.measure, f.value, f.band, f.flags, f.interval) for f in found.on(side)]
        theirs = [(f.measure, f.value, f.band, f.flags, f.interval) for f in other.on(side.other)]
        assert mine == theirs
    assert found.of("arm_used").value == other.of("arm_used").value


@given(strategies.exams, strategies.contexts, strategies.criteria_names)
@settings(max_examples=100, deadline=None)
def test_any_exam_that_can_be_recorded_is_interpreted_without_a_gap(exam, context, name):
    found = interpret(exam, load_criteria(name), context)

    for finding in found.findings:
        assert isinstance(finding.value, NotStated) or finding.value.is_finite()
        assert finding.shown
        assert finding.source in load_criteria(name).sources
        assert finding.status
        assert finding.rule
        if isinstance(finding.interval, Interval):
            assert 0 <= finding.interval.low <= finding.interval.high
            assert finding.interval.sd > 0
            assert all(0 <= beyond.probability <= 1 for beyond in finding.interval.beyond)
        assert "nan" not in f"{finding.shown} {finding.sentence}".lower().split()
    for side in Side:
        assert limb_sentence(found, side).startswith(f"{side.word}: ")
        for measure in (
            "ankle_brachial_index",
            "toe_brachial_index",
            "ankle_pressure",
            "toe_pressure",
            "pattern",
        ):
            assert found.of(measure, side) is not None
    assert "excluded" not in conclusion_draft(found)
    assert Interpretation.from_json(json.loads(json.dumps(found.to_json()))) == found


@given(strategies.exams, strategies.contexts)
@quick
def test_no_sentence_is_said_twice(exam, context):
    found = interpret(exam, load_criteria("acc-aha-2024"), context)

    sentences = [finding.sentence for finding in found.findings if finding.sentence]
    assert len(sentences) == len(set(sentences))


@given(strategies.exams, strategies.contexts)
@quick
def test_interpreting_twice_gives_the_same_to_the_last_digit(exam, context):
    criteria = load_criteria("acc-aha-2024")

    assert interpret(exam, criteria, context) == interpret(exam, criteria, context)


@given(strategies.exams, strategies.answers, strategies.criteria_names)
@settings(max_examples=100, deadline=None)
def test_one_exam_and_a_table_of_one_row_say_the_same(exam, answer, name):
    criteria = load_criteria(name)
    plain = as_table_can_hold(exam)
    found = interpret(plain, criteria, Context(diabetes=answer, kidney_disease="no"))

    table = table_of(plain, answer, criteria)

    for side, limb in ((Side.RIGHT, table.right), (Side.LEFT, table.left)):
        ankle, toe = (found.of(f"{site}_brachial_index", side) for site in ("ankle", "toe"))
        assert in_hundredths(ankle) == limb.ankle_brachial_hundredths[0]
        assert ankle.band == limb.ankle_brachial_band[0]
        assert in_hundredths(toe) == limb.toe_brachial_hundredths[0]
        assert toe.band == limb.toe_brachial_band[0]
        assert found.of("toe_pressure", side).band == limb.toe_band[0]
        assert found.of("ankle_pressure", side).band == limb.ankle_band[0]
        assert found.of("pattern", side).band == limb.pattern[0]
        said = {*found.flags(side), *found.flags(None)}
        assert set(filter(None, limb.flags[0].split(";"))) <= said


@given(st.integers(1, 290), st.integers(1, 10))
@quick
def test_raising_the_toe_pressure_never_worsens_its_band(toe, more):
    order = ["WIFI_3", "WIFI_2", "WIFI_1", "WIFI_0"]

    bands = [read(f"toe {mmhg}").of("toe_pressure", Side.RIGHT).band for mmhg in (toe, toe + more)]

    assert order.index(bands[0]) <= order.index(bands[1])


@given(st.integers(60, 250), st.integers(60, 250), st.integers(90, 200), st.integers(90, 200))
@settings(max_examples=25, deadline=None)
def test_the_interval_of_the_highest_of_two_agrees_with_simulation(dorsalis, tibial, right, left):
    """The quadrature against 200,000 draws; the loose tolerance is the noise of the draws."""
    found = read(f"arm {right}, dp {dorsalis}, pt {tibial}", f"arm {left}").of(
        "ankle_brachial_index", Side.RIGHT
    )
    draw = np.random.default_rng(7).normal
    ankle = np.maximum(draw(dorsalis, 4.4, 200_000), draw(tibial, 4.4, 200_000))
    arm = np.maximum(draw(right, 4.7, 200_000), draw(left, 4.7, 200_000))

    low, high = np.quantile(ankle / arm, [0.025, 0.975])

    assert float(found.interval.low) == pytest.approx(low, abs=0.012)
    assert float(found.interval.high) == pytest.approx(high, abs=0.012)
    expected = float(np.mean(ankle / arm < 0.905))
    assert beyond(found.interval, "0.9").probability == pytest.approx(expected, abs=0.006)


def beyond(interval, limit) -> Beyond:
    return next(b for b in interval.beyond if b.limit == Decimal(limit) and b.operator == "<=")


def in_hundredths(finding):
    return -1 if isinstance(finding.value, NotStated) else int(finding.value * 100)


def mirrored_exam(exam):
    def mirrored(limb):
        return replace(limb, side=limb.side.other)

    return MeasuredExam(
        right=mirrored(exam.left),
        left=mirrored(exam.right),
        first_arm=None if exam.first_arm is None else exam.first_arm.other,
        conditions=exam.conditions,
        planned=frozenset((side.other, site) for side, site in exam.planned),
    )


def as_table_can_hold(exam):
    """The exam with at most two readings a site, the hallux alone, and no conditions."""

    def plain(limb):
        return MeasuredLimb(
            limb.side,
            arm=limb.arm[:2],
            ankle={site: readings[:2] for site, readings in limb.ankle.items()},
            toes={site: readings[:2] for site, readings in limb.toes.items() if site is Site.TOE_1},
        )

    return MeasuredExam(right=plain(exam.right), left=plain(exam.left), first_arm=exam.first_arm)


def table_of(exam, answer, criteria):
    codes, halves = {}, {}

    def put(name, readings):
        for column, reading in zip((name, f"{name}_repeat"), readings, strict=False):
            codes[column] = np.array([CODE_OF[reading.outcome]], np.int8)
            halves[column] = np.array([reading.half_mmhg or 0], np.int64)

    names = {"dp": Site.DORSALIS_PEDIS, "pt": Site.POSTERIOR_TIBIAL, "peroneal": Site.PERONEAL}
    for side in Side:
        limb = exam.limb(side)
        put(f"arm_{side}", limb.arm)
        put(f"{side}_toe", limb.toes.get(Site.TOE_1, ()))
        for name, site in names.items():
            put(f"{side}_{name}", limb.ankle.get(site, ()))
    first = {None: FIRST_UNKNOWN, Side.RIGHT: FIRST_RIGHT, Side.LEFT: FIRST_LEFT}[exam.first_arm]
    diabetes = {"yes": YES, "no": NO, "unknown": UNKNOWN}[answer]
    return read_table(
        codes,
        halves,
        first_arm=np.array([first], np.int8),
        diabetes=np.array([diabetes], np.int8),
        kidney_disease=np.array([NO], np.int8),
        criteria=criteria,
    )


def test_a_pressure_object_and_its_words_are_the_same():
    assert read("dp 120.5") == read("dp 120.5")
    assert pressure("120.5").half_mmhg == 241
    assert pressure(120).outcome is Outcome.PRESSURE


@given(st.lists(st.tuples(strategies.exams, strategies.contexts), max_size=6), strategies.criteria_names)
@quick
def test_exams_read_side_by_side_give_what_each_gives_alone(cases, name):
    criteria = load_criteria(name)
    exams, contexts = [exam for exam, _ in cases], [context for _, context in cases]

    found = list(interpret_many(exams, criteria, contexts))

    assert found == [interpret(exam, criteria, context) for exam, context in cases]


readings_with_noise = st.lists(
    st.builds(
        noise.Reading,
        st.integers(2, 600).map(lambda half: half / 2),
        st.sampled_from([0.5, 3.3, 4.7, 9.0, 20.0]),
    ),
    min_size=1,
    max_size=3,
).map(tuple)
combined = st.builds(noise.Combined, st.sampled_from(["higher", "lower", "mean"]), readings_with_noise)


@given(st.lists(st.tuples(combined, combined), max_size=8))
@quick
def test_intervals_computed_side_by_side_are_those_computed_alone(pairs):
    """Equal, not only near: a finding made with others must be the one that the sheet would make."""
    criteria = load_criteria("acc-aha-2024")
    indices, pressures = criteria.index_bands["ankle_brachial_index"], criteria.pressure_bands["toe_pressure"]
    sites = [site for site, _ in pairs]

    ratios = ratio_intervals(pairs, indices)

    assert ratios == {pair: noise.ratio_interval(*pair, indices) for pair in pairs}
    assert pressure_intervals(sites, pressures) == {
        site: noise.pressure_interval(site, pressures) for site in sites
    }


@given(combined)
@quick
def test_the_ends_of_an_interval_are_those_that_halving_finds(site):
    """Also where one reading is far surer than the other, and the share is no straight line of its score."""
    mean = max(one.mmhg for one in site.readings)
    sd = max(one.sd_mmhg for one in site.readings)

    def share_below(values):
        return noise._cumulative(site, values)

    low, high = np.full(2, mean - noise.REACH_SD * sd), np.full(2, mean + noise.REACH_SD * sd)
    for _ in range(noise.HALVINGS):
        middle = (low + high) / 2
        below = share_below(middle) < np.array([noise.TAIL, 1 - noise.TAIL])
        low, high = np.where(below, middle, low), np.where(below, high, middle)

    assert noise._limits(share_below, mean, sd) == pytest.approx(tuple(low), abs=1e-5 * sd)
