"""No count of 1 to 7 can be worked out from what is shown, whatever is added or subtracted."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import LinearConstraint, milp

from reports.audit.disclosure import Cell, SmallNumbers, hidden_of

RULE = SmallNumbers()


def table(counts, clinics, months):
    """A measure's lattice as it is counted: met and rest of each clinic and month, and all their sums.

    ``counts`` has (met, rest) in the order of clinics, then months.
    """
    base = dict(zip(product(range(clinics), range(months)), counts, strict=True))
    cells = []
    groups = [(c,) for c in range(clinics)] + [tuple(range(clinics))]
    spans = [(m,) for m in range(months)] + [tuple(range(months))]
    for group, span in product(dict.fromkeys(groups), dict.fromkeys(spans)):
        places = list(product(group, span))
        met, rest = (sum(base[place][kind] for place in places) for kind in (0, 1))
        met_parts = frozenset(("met", *place) for place in places)
        rest_parts = frozenset(("rest", *place) for place in places)
        small = RULE.is_small(rest)
        cells += [
            Cell(("met", group, span), met, met_parts, must_hide=small),
            Cell(("rest", group, span), rest, rest_parts, can_show=False),
            Cell(("of", group, span), met + rest, met_parts | rest_parts),
        ]
    return cells


counts = st.tuples(st.integers(0, 30), st.integers(0, 30)) | st.tuples(st.integers(0, 9), st.integers(0, 9))


@settings(max_examples=25, deadline=None)
@given(st.data(), st.integers(1, 3), st.integers(1, 4))
def test_no_sum_or_difference_gives_a_small_count_away(data, clinics, months):
    some = data.draw(st.lists(counts, min_size=clinics * months, max_size=clinics * months))
    cells = table(some, clinics, months)

    hidden = hidden_of(cells, RULE)

    for cell in cells:
        if RULE.is_small(cell.number):
            assert cell.key in hidden
            low, high = what_an_attacker_knows(cells, hidden, cell)
            assert min(high, 7) - max(low, 1) >= 4, "five numbers it may be"


def what_an_attacker_knows(cells, hidden, wanted):
    """The least and the most a cell may be, in whole numbers: another solver than the one that hides."""
    parts = sorted(set().union(*(cell.parts for cell in cells)))
    rows, low, high = [], [], []
    for cell in cells:
        if cell.key not in hidden:
            rows.append([part in cell.parts for part in parts])
            first, last = RULE.range_of(RULE.rounded(cell.number))
            low.append(first)
            high.append(last)
    row = np.array([part in wanted.parts for part in parts], dtype=float)
    constraints = [LinearConstraint(np.array(rows, dtype=float), low, high)] if rows else []
    whole = np.ones(len(parts))
    bounds = (np.zeros(len(parts)), np.full(len(parts), 5000.0))
    ends = [milp(sign * row, constraints=constraints, integrality=whole, bounds=bounds) for sign in (1, -1)]
    assert all(end.success for end in ends)
    return round(ends[0].fun), round(-ends[1].fun)


def test_a_hidden_month_cannot_be_had_by_subtracting_the_others_from_the_quarter():
    cells = table([(7, 0), (42, 0), (52, 0)], 1, 3)  # shown they would be 40 and 50, of 100

    hidden = hidden_of(cells, RULE)

    quarter, months = ("met", (0,), (0, 1, 2)), [("met", (0,), (m,)) for m in range(3)]
    assert months[0] in hidden
    assert hidden & {quarter, months[1], months[2]}


def test_whoever_knows_the_own_clinic_exactly_cannot_subtract_it_from_all():
    cells = table([(38, 0), (6, 0)], 2, 1)  # all: 44, shown as 45, so the other clinic would be 5 or more
    own = {("met", 0, 0): 38, ("rest", 0, 0): 0}

    assert ("met", (0, 1), (0,)) not in hidden_of(cells, RULE)
    assert ("met", (0, 1), (0,)) in hidden_of(cells, RULE, [own])


def test_many_units_of_few_people_are_hidden_and_cannot_be_worked_out():
    cells = [
        Cell("one", 24, frozenset({"a"}), of_few=True),
        Cell("other", 60, frozenset({"b"})),
        Cell("both", 84, frozenset({"a", "b"})),
    ]

    assert len(hidden_of(cells, RULE) & {"other", "both"}) == 1


def test_a_part_whose_rest_is_small_is_hidden_and_its_whole_is_shown():
    cells = table([(38, 2)], 1, 1)

    hidden = hidden_of(cells, RULE)

    assert ("met", (0,), (0,)) in hidden
    assert ("of", (0,), (0,)) not in hidden


def test_zero_and_large_counts_are_shown():
    cells = table([(0, 40), (60, 30)], 1, 2)

    assert {key[0] for key in hidden_of(cells, RULE)} == {"rest"}


@pytest.mark.parametrize(
    ("number", "shown", "may_be"), [(0, 0, (0, 0)), (8, 10, (8, 12)), (12, 10, (8, 12)), (13, 15, (13, 17))]
)
def test_a_count_is_rounded_to_the_nearest_five(number, shown, may_be):
    assert RULE.rounded(number) == shown
    assert RULE.range_of(shown) == may_be
