"""Somebody who holds rounded sums, of several measures, counts and clinics, works no small number out."""

import math
from collections import Counter
from datetime import date
from itertools import product

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, milp

from access.models import Clinic
from reports.audit.calendar import Period, Span, months_later
from reports.audit.definitions import measures
from reports.audit.disclosure import SmallNumbers
from reports.audit.figures import families, figures_of
from reports.audit.models import Count
from reports.audit.queries.figures import guarded
from reports.audit.tally import Tally

RULE = SmallNumbers()
YEAR = Period(date(2026, 4, 1), Span.YEAR)
ALDER, LOCK = Clinic(pk=1, name="Alder House"), Clinic(pk=2, name="Lock Street")
MONTHS = [Period(months_later(YEAR.first, number), Span.MONTH) for number in range(3)]
SPRING = Period(YEAR.first, Span.QUARTER)
AFTER_SPRING = date(2026, 7, 1)


def each_once(met, rest, unknown=0, values=()):
    """What was counted of people who are counted once each."""
    return Tally(
        met,
        rest,
        unknown,
        met + rest,
        met,
        rest,
        unknown,
        met,
        met + rest,
        met,
        met,
        met + rest,
        Counter(values),
    )


def shown_of(told, today=AFTER_SPRING, before=()):
    """Figures as somebody without a care role sees them, of measures by clinic and months' tallies."""
    tallies = {}
    for name, of_clinics in told.items():
        tallies[measures()[name]] = {
            clinic: {(period, ""): one for period, one in with_sums(months).items()}
            for clinic, months in of_clinics.items()
        }
    count = Count(year_first=YEAR.first, threshold=RULE.threshold, base=RULE.base)
    rows = figures_of(tallies, YEAR, today, count, before)
    return rows, {
        (row.measure, row.clinic, row.span, row.first): guarded(row, RULE, row.clinic) for row in rows
    }


def with_sums(months):
    whole = {**dict(zip(MONTHS, months, strict=False))}
    for span in (SPRING, YEAR):
        whole[span] = sum(months[1:], months[0])
    return whole


# ---- measures that share numbers

numbers = st.integers(0, 30) | st.integers(0, 9)


@settings(max_examples=8, deadline=None)
@given(st.lists(st.tuples(numbers, numbers, numbers, numbers), min_size=3, max_size=3))
def test_two_measures_of_the_same_exams_do_not_tell_how_many_are_not_known(months):
    """Met, not met and not known of one (P01) add up to the denominator of the other (P04)."""
    rested = [each_once(met, rest, unknown) for met, rest, unknown, _ in months]
    armed = [each_once(min(both, sum(one)), sum(one) - min(both, sum(one))) for *one, both in months]
    _, shown = shown_of({"P01": {ALDER: rested}, "P04": {ALDER: armed}})

    for number, month in enumerate(MONTHS):
        if 1 <= rested[number].unknown <= 7:
            assert shown["P01", ALDER, "month", month.first].unknown is None
            low, high = unknown_of(shown, number)
            assert min(high, 7) - max(low, 1) + 1 >= 4


def unknown_of(shown, wanted):
    """The least and the most that may be unknown in a month, from all denominators of both measures."""
    rows, low, high = [], [], []
    spans = [("month", number, [number]) for number in range(3)]
    spans += [("quarter", 0, [0, 1, 2]), ("year", 0, [0, 1, 2])]
    for name, kinds in (("P01", (0,)), ("P04", (0, 1))):
        for span, first, inside in spans:
            for whose in (ALDER, None):
                of = shown[name, whose, span, months_later(YEAR.first, first)].of
                if of is not None:
                    places = [(number, kind) for number in inside for kind in kinds]
                    rows.append([place in places for place in product(range(3), (0, 1))])
                    least, most = RULE.range_of(of)
                    low.append(least)
                    high.append(most)
    row = np.array([place == (wanted, 1) for place in product(range(3), (0, 1))], dtype=float)
    bounds = LinearConstraint(np.array(rows, dtype=float), low, high) if rows else ()
    ends = [milp(sign * row, constraints=bounds, integrality=np.ones(6)) for sign in (1, -1)]
    return round(ends[0].fun), round(-ends[1].fun) if ends[1].success else 1000


def test_a_part_that_is_hidden_in_one_measure_is_no_denominator_in_another():
    """92 stiff ankles of 98: six others are hidden, and P11 would show them as 90 of 100."""
    stiff, with_toe = each_once(92, 6), each_once(60, 32)
    _, shown = shown_of({"P10": {ALDER: [stiff]}, "P11": {ALDER: [with_toe]}})

    first = ("month", MONTHS[0].first)
    assert shown["P10", ALDER, *first].met is None
    assert None in (shown["P10", ALDER, *first].of, shown["P11", ALDER, *first].of)


def test_measures_that_share_numbers_are_judged_together():
    together = [{one.id for one in some} for some in families(measures().values())]

    assert {"P10", "P11"} in together
    assert {"P01", "P04", "P18", "D02", "T02"} in together
    assert {"O01", "O02", "O05", "P13"} in together


# ---- means and medians


def test_the_mean_of_few_people_is_not_left_when_the_others_are_taken_off():
    """Of the quarter and two months; the third is of three people."""
    months = [
        each_once(20, 0, values=[1.0] * 20),
        each_once(30, 0, values=[2.0] * 30),
        each_once(3, 0, values=[9.0] * 3),
    ]
    _, shown = shown_of({"P17": {ALDER: months}})

    told = [shown["P17", ALDER, "month", month.first].values for month in MONTHS]
    assert told[2] is None
    assert None in (told[0], told[1], shown["P17", ALDER, "quarter", SPRING.first].values)


def test_the_mean_of_a_small_clinic_is_not_left_when_somebody_takes_the_own_off_from_all():
    own, small = each_once(20, 0, values=[1.0] * 20), each_once(4, 0, values=[9.0] * 4)
    _, shown = shown_of({"P17": {ALDER: [own], LOCK: [small]}})

    assert [shown["P17", whose, "month", MONTHS[0].first].values for whose in (LOCK, None)] == [None, None]


def test_the_decimals_of_a_quartile_do_not_tell_how_many_values_there_are():
    """Its quarters between two values are the number of values, less one, by four."""
    many = [each_once(of, 0, values=range(of)) for of in (18, 19, 20, 21, 22)]
    told = [shown_of({"T07": {ALDER: [one]}})[1]["T07", ALDER, "month", MONTHS[0].first] for one in many]

    assert {one.of for one in told} == {20}
    assert all(value == round(value) for one in told for value in one.values)


# ---- intervals


def test_the_width_of_an_interval_does_not_tell_the_denominator():
    """Where everybody is counted once the design effect is m/(m - 1), whatever m is."""
    shown = [
        shown_of({"P01": {ALDER: [each_once(9, of - 9)]}})[1]["P01", ALDER, "month", MONTHS[0].first].share
        for of in (18, 19, 20, 21, 22)
    ]

    assert len({(one.low, one.high) for one in shown}) == 1


def test_an_interval_stays_as_wide_as_repeated_patients_make_it():
    twice = Tally(20, 20, 0, 20, 10, 10, 0, 20, 40, 40, 40, 80)
    rows, shown = shown_of({"P06": {ALDER: [twice]}})

    assert shown["P06", ALDER, "month", MONTHS[0].first].share.deff == 2.0
    assert math.isclose(rows[0].deff, 2 * 20 / 19)


# ---- one count after the other


def test_a_period_that_still_runs_is_told_to_nobody_without_a_care_role():
    _, shown = shown_of({"P01": {ALDER: [each_once(20, 20)] * 3}}, today=date(2026, 6, 15))

    told = {(span, first): one.met for (_, whose, span, first), one in shown.items() if whose == ALDER}
    assert [told["month", month.first] for month in MONTHS] == [20, 20, None]
    assert told["quarter", SPRING.first] is told["year", YEAR.first] is None


@settings(max_examples=8, deadline=None)
@given(st.lists(st.tuples(numbers, numbers), min_size=3, max_size=3))
@example([(20, 2), (12, 0), (5, 0)])
@example([(9, 0), (5, 13), (20, 0)])
def test_what_a_later_count_shows_adds_nothing_to_what_an_earlier_one_showed(months):
    """Printed in June with two months, in July with three and the quarter: both are parts of one table."""
    tallies = [each_once(*one) for one in months]
    early, first = shown_of({"P01": {ALDER: [*tallies[:2], Tally()]}}, today=date(2026, 6, 20))
    _, later = shown_of({"P01": {ALDER: tallies}}, before=early)

    for key, one in first.items():
        for name in ("met", "of", "unknown"):
            if getattr(one, name) is not None:
                assert getattr(later[key], name) == getattr(one, name)
