"""The statistics of a change against published examples (clinical reference 8) and scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from exams.hemodynamics import sd_within, theil_sen

WRIGHT = [
    (494, 490), (395, 397), (516, 512), (434, 401), (476, 470), (557, 611), (413, 415), (442, 431),
    (650, 638), (433, 429), (417, 420), (656, 633), (267, 275), (478, 492), (178, 165),
    (423, 372), (427, 421),
]  # fmt: skip
MINI = [
    (512, 525), (430, 415), (520, 508), (428, 444), (500, 500), (600, 625), (364, 460), (380, 390),
    (658, 642), (445, 432), (432, 420), (626, 605), (260, 227), (477, 467), (259, 268),
    (350, 370), (451, 443),
]  # fmt: skip


@pytest.mark.parametrize(
    ("pairs", "published_sd", "sd", "reference_change"),
    [(WRIGHT, 21.6, 15.306669, 42.427922), (MINI, 28.2, 19.910831, 55.190007)],
)
def test_the_sd_of_one_measurement_is_that_of_bland_and_altman(pairs, published_sd, sd, reference_change):
    """Bland JM, Altman DG. Lancet 1986;i:307-310: SD of the differences about 0, printed to 1 decimal."""
    found = sd_within(pairs)

    assert found == pytest.approx(sd, abs=1e-6)
    assert round(found * math.sqrt(2), 1) == published_sd
    assert 1.96 * math.sqrt(2) * found == pytest.approx(reference_change, abs=1e-6)


def test_sens_own_example_has_a_slope_of_4_from_26_sevenths_to_35_eighths():
    """Sen PK. J Am Stat Assoc 1968;63:1379-1389."""
    found = theil_sen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])

    assert found == pytest.approx((4.0, 26 / 7, 35 / 8))


def test_one_outlying_index_does_not_pull_the_slope():
    """Clinical reference 8.4: -0.0200 (-0.0750 to -0.0100); least squares would say -0.0368."""
    found = theil_sen([0, 1, 2, 3, 4, 5, 6], [0.92, 0.90, 0.91, 0.85, 0.84, 0.60, 0.80])

    assert found == pytest.approx((-0.02, -0.075, -0.01), abs=1e-9)


@given(
    st.lists(
        st.tuples(st.integers(0, 4000), st.integers(1, 200)),
        min_size=4,
        max_size=12,
        unique_by=lambda p: p[0],
    )
)
def test_every_slope_and_interval_is_that_of_scipy(points):
    days, values = ([float(one) for one in part] for part in zip(*points, strict=True))

    slope, low, high = theil_sen(days, values)

    theirs = theilslopes(values, days, 0.95)
    assert (slope, low, high) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))
