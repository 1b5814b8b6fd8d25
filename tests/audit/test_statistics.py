"""Intervals, medians and working days, against statsmodels, numpy and counting by hand."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.audit.calendar import Period, Span, periods_of, working_days, year_of
from reports.audit.statistics import (
    Share,
    design_effect,
    difference_of,
    mean_and_sd_of,
    quartiles_of,
    share_of,
)

# statsmodels 0.15.0, proportion_confint(met, of, method="wilson").
WILSON = [
    (18, 20, 0.6989663547715127, 0.9721335187862318),
    (45, 60, 0.6276792992295218, 0.8422347746994333),
    (0, 12, 0.0, 0.24249400665524096),
    (7, 7, 0.6456695649333125, 1.0),
    (1, 1000, 0.00017654637062607765, 0.005642558597957937),
    (333, 1000, 0.3044779033483562, 0.3628002339858192),
]
# statsmodels 0.15.0, confint_proportions_2indep(..., method="newcomb", compare="diff", correction=False),
# first less second. The first is Newcombe's own example (Stat Med 1998;17:873-890: 0.0524 to 0.3339).
NEWCOMBE = [
    (56, 70, 48, 80, 0.05243147240236498, 0.33387265403690614),
    (9, 10, 3, 10, 0.1705227239345029, 0.809017973535488),
    (10, 10, 0, 20, 0.6790860371419145, 1.0),
    (0, 12, 5, 30, -0.33564350506416035, 0.09315724524174021),
]
# statsmodels 0.15.0, OLS of 0 and 1 on a constant, cov_type="cluster": (met, of) of each patient.
CLUSTERS = [(1, 3), (0, 1), (2, 2), (1, 1), (0, 4), (3, 5), (2, 2)]


@pytest.mark.parametrize(("met", "of", "low", "high"), WILSON)
def test_an_interval_is_wilsons(met, of, low, high):
    found = share_of(met, of)

    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-9)


def test_the_anchors_of_the_reference_are_met():
    """workflow.md 5, but for its 24.3: the upper limit of 0/12 is 24.249 % here and in statsmodels."""
    shown = [
        [round(100 * part, 1) for part in (one.share, one.low, one.high)]
        for one in (share_of(18, 20), share_of(45, 60), share_of(0, 12))
    ]

    assert shown == [[90.0, 69.9, 97.2], [75.0, 62.8, 84.2], [0.0, 0.0, 24.2]]


@pytest.mark.parametrize(("met", "of", "met_2", "of_2", "low", "high"), NEWCOMBE)
def test_a_difference_is_newcombes(met, of, met_2, of_2, low, high):
    found = difference_of(share_of(met_2, of_2), share_of(met, of))

    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-9)


def test_patients_counted_more_than_once_widen_the_interval_as_clusters_do():
    sums = sums_of(CLUSTERS)

    deff = design_effect(**sums)

    assert deff == pytest.approx(1.8148148148148129, rel=1e-9)
    found = share_of(sums["met"], sums["of"], deff)
    assert (found.low, found.high) == pytest.approx((0.2358128914451338, 0.7641871085548662), rel=1e-9)


def test_patients_counted_once_widen_nothing_but_for_the_factor_of_few_patients():
    assert design_effect(**sums_of([(1, 1)] * 5 + [(0, 1)] * 15)) == pytest.approx(20 / 19)


def test_where_all_are_met_the_units_of_one_patient_count_as_one_at_the_worst():
    assert design_effect(**sums_of([(4, 4)] * 3)) == 4


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=12))
def test_an_interval_is_never_narrowed_and_holds_its_share(parts):
    clusters = [(met, met + rest) for met, rest in parts if met + rest]
    if not clusters:
        return
    sums = sums_of(clusters)
    deff = design_effect(**sums)
    plain, wide = share_of(sums["met"], sums["of"]), share_of(sums["met"], sums["of"], deff)

    assert deff >= 1
    assert wide.low <= plain.low + 1e-12
    assert wide.high >= plain.high - 1e-12
    assert wide.low - 1e-12 <= wide.share <= wide.high + 1e-12


def test_a_share_of_nothing_is_not_stated():
    assert share_of(0, 0) is None
    assert quartiles_of({}) is None
    assert mean_and_sd_of({3.0: 1}) is None


@given(st.lists(st.integers(0, 40), min_size=1, max_size=60))
def test_quartiles_of_counts_are_those_of_the_values(values):
    found = quartiles_of({float(one): values.count(one) for one in values})

    assert (found.first, found.median, found.third) == pytest.approx(
        tuple(np.quantile(values, [0.25, 0.5, 0.75]))
    )


def test_mean_and_spread_of_counts_are_those_of_the_values():
    assert mean_and_sd_of({-1.0: 2, 0.5: 1, 2.0: 3}) == pytest.approx(
        (np.mean([-1, -1, 0.5, 2, 2, 2]), np.std([-1, -1, 0.5, 2, 2, 2], ddof=1))
    )


def test_the_difference_of_two_equal_shares_straddles_zero():
    one = Share(0.5, 0.4, 0.6)

    assert difference_of(one, one).low < 0 < difference_of(one, one).high


def test_working_days_leave_out_weekends_and_holidays():
    friday, monday = date(2026, 4, 3), date(2026, 4, 6)  # Easter

    assert working_days(date(2026, 4, 2), date(2026, 4, 7), {friday, monday}) == 1
    assert working_days(date(2026, 4, 10), date(2026, 4, 13), set()) == 1
    assert working_days(date(2026, 4, 10), date(2026, 4, 10), set()) == 0


def test_an_audit_year_has_twelve_months_and_four_quarters_without_a_gap():
    year = year_of(date(2026, 3, 31), 4)

    periods = periods_of(year)

    assert year == Period(date(2025, 4, 1), Span.YEAR)
    assert [one.end for one in periods[:11]] == [one.first for one in periods[1:12]]
    assert (periods[0].first, periods[11].end, periods[15].end) == (year.first, year.end, year.end)
    assert [one.words for one in periods[12:14]] == ["Apr 2025 to Jun 2025", "Jul 2025 to Sep 2025"]


def sums_of(clusters):
    return {
        "met": sum(met for met, _ in clusters),
        "of": sum(of for _, of in clusters),
        "people": len(clusters),
        "met_met": sum(met * met for met, _ in clusters),
        "met_of": sum(met * of for met, of in clusters),
        "of_of": sum(of * of for _, of in clusters),
    }
