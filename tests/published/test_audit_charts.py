"""The rules of run chart and funnel plot against published examples and tables."""

import pytest
from scipy.stats import binom

from reports.audit.charts import (
    Point,
    centre_of,
    fewest_crossings,
    funnel_limits,
    limits_of,
    longest_run,
    runs_of,
)

# Montgomery DC, Introduction to Statistical Quality Control, example of the p chart: cans of orange juice
# concentrate, 30 samples of 50 (from memory; the printed total of 347 is checked).
CANS = [
    12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22,
    8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6,
]  # fmt: skip


def test_the_limits_of_a_share_are_those_of_the_published_example():
    """Printed there: centre 0.2313, limits 0.0524 and 0.4102, samples 15 and 23 outside."""
    points = [Point(one, 50) for one in CANS]

    centre = centre_of(points)
    low, high = limits_of(centre, 50)

    assert sum(CANS) == 347
    assert (round(centre, 4), round(low, 4), round(high, 4)) == (0.2313, 0.0524, 0.4102)
    outside = [number for number, one in enumerate(points, start=1) if not low <= one.share <= high]
    assert outside == [15, 23]


# Anhøj J, Olesen AV. PLoS ONE 2014;9:e113825, table of critical values, as far as it is quoted: points off
# the line, longest run that chance explains, fewest crossings.
CRITICAL = [
    (10, 6, 2), (11, 6, 2), (12, 7, 3), (13, 7, 3), (14, 7, 4), (15, 7, 4), (16, 7, 4), (17, 7, 5),
    (18, 7, 5), (19, 7, 6), (20, 7, 6), (21, 7, 6), (22, 7, 7), (23, 8, 7), (24, 8, 8),
]  # fmt: skip


@pytest.mark.parametrize(("useful", "run", "crossings"), CRITICAL)
def test_the_limits_of_runs_are_those_of_the_published_table(useful, run, crossings):
    assert (longest_run(useful), fewest_crossings(useful)) == (run, crossings)


def test_the_fewest_crossings_are_the_lower_tail_of_even_chances():
    assert [fewest_crossings(n) for n in range(2, 120)] == [
        int(binom.ppf(0.05, n - 1, 0.5)) for n in range(2, 120)
    ]


def test_points_on_the_line_do_not_count_and_a_long_run_is_a_shift():
    found = runs_of([5, 5, 3, 7, 8, 9, 8, 7, 9, 8, 7, 3, 2], centre=5)

    assert (found.useful, found.longest, found.crossings) == (11, 8, 2)
    assert found.shift
    assert not found.too_few_crossings


@pytest.mark.parametrize("size", [20, 35, 143, 2000])
@pytest.mark.parametrize("target", [0.02, 0.12, 0.5, 0.93])
@pytest.mark.parametrize("level", [0.95, 0.998])
def test_funnel_limits_are_the_interpolated_binomial_quantiles(size, target, level):
    """Spiegelhalter DJ. Stat Med 2005;24:1185-1202, appendix A.1.1: (r - a)/n, a from two tails.

    The rule was read in a public worked program (Wicklin R, The DO Loop, 23 Nov 2011: adoptions), which
    prints a picture and no limit as a number: published here is the rule, and the numbers are scipy's.
    """
    tail = (1 - level) / 2

    low, high = funnel_limits(target, size, level)

    for chance, found in ((tail, low), (1 - tail, high)):
        count = binom.ppf(chance, size, target)
        over = binom.cdf(count, size, target) - chance
        part = over / (binom.cdf(count, size, target) - binom.cdf(count - 1, size, target))
        assert found == pytest.approx(min(1, max(0, (count - part) / size)), abs=1e-9)
