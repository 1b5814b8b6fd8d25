"""How people write pressures, dates and words in tables; and what a heading names."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exams.visits.models import Outcome
from reports.exchange.cells import Read, Trouble, read_day, read_index, read_pressure
from reports.exchange.columns import field_of, suggested
from reports.exchange.words import NO_SIGNAL, NOT_OCCLUDABLE, REASONS, TWO_MEANINGS, key


def reading(text, site="toe_1", unit="mmhg"):
    found = read_pressure(text, site, unit)
    assert isinstance(found, Read), found
    value = found.value
    return None if value is None else (str(value.outcome), value.pressure_mmhg, str(value.reason))


def trouble(text, site="toe_1", unit="mmhg"):
    found = read_pressure(text, site, unit)
    assert isinstance(found, Trouble), found
    return found


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("84", ("pressure", Decimal(84), "")),
        (" 84,5 ", ("pressure", Decimal("84.5"), "")),
        ("84 mmHg", ("pressure", Decimal(84), "")),
        ("11,2 kPa", ("pressure", Decimal(84), "")),
        (">255", ("not_occludable", Decimal(255), "")),
        (">33 kPa", ("not_occludable", Decimal("247.5"), "")),
        (">33,3 kPa", ("not_occludable", Decimal(250), "")),
        ("over 250", ("not_occludable", Decimal(250), "")),
        ("not_occludable_at_240", ("not_occludable", Decimal(240), "")),
        ("NC", ("not_occludable", None, "")),
        ("Non-compressible", ("not_occludable", None, "")),
        ("No signal", ("no_signal", None, "")),
        ("BKA", ("not_obtained", None, "amputated")),
        ("ulcer", ("not_obtained", None, "wound_under_cuff")),
        ("not done", ("not_obtained", None, "other")),
        ("", None),
        ("-", None),
        ("n/a", None),
    ],
)
def test_a_pressure_as_it_is_written_in_tables(text, expected):
    assert reading(text) == expected


@pytest.mark.parametrize(
    ("text", "site", "unit", "reason", "suggestion"),
    [
        ("1200", "arm", "mmhg", "Arm pressure 1200 is not possible.", "Did you mean 120?"),
        ("84.3", "toe_1", "mmhg", "finer than whole or half mmHg", "Write 84.5."),
        ("0", "toe_1", "mmhg", "0 is not a pressure.", "no signal"),
        ("NP", "toe_1", "mmhg", "“NP” has two meanings: no pulse, or not performed?", "Words of this table"),
        (
            "brisk",
            "toe_1",
            "mmhg",
            "“brisk” is neither a pressure nor a word known here",
            "Words of this table",
        ),
        ("45", "arm", "kpa", "45 kPa is 337.5 mmHg: not possible here", "its unit"),
        ("146", "toe_1", "kpa", "146 kPa is 1095 mmHg: not possible here", "If it is mmHg write “146 mmHg”"),
        (">255", "toe_1", "kpa", ">255 kPa is 1912.5 mmHg: not possible here", "write “>255 mmHg”"),
        ("0", "toe_1", "kpa", "0 is not a pressure.", "no signal"),
        ("9,6?", "toe_1", "kpa", "“9,6?” is a pressure with a sign of doubt", "Write 9,6 if"),
    ],
)
def test_a_doubtful_cell_says_why_and_what_to_do(text, site, unit, reason, suggestion):
    found = trouble(text, site, unit)

    assert found.reason == reason
    assert suggestion in found.suggestion


def test_no_word_has_two_meanings_in_the_tables_of_words():
    listed = [
        key(word) for words in (NOT_OCCLUDABLE, NO_SIGNAL, *REASONS.values(), TWO_MEANINGS) for word in words
    ]

    assert sorted(listed) == sorted(set(listed))


@given(st.integers(2, 600))
def test_a_pressure_in_kpa_comes_back_within_half_a_mmhg(halves):
    kpa = f"{halves / 2 / 7.50062:.3f}"

    found = reading(kpa, "toe_1", "kpa")

    assert found is not None
    assert abs(found[1] - Decimal(halves) / 2) <= Decimal("0.5")


@given(st.text(max_size=30))
def test_any_text_is_read_or_explained(text):
    found = read_pressure(text, "toe_1", "mmhg")

    assert isinstance(found, Read) or (found.reason and found.suggestion)
    assert not isinstance(found, Read) or found.value is None or found.value.outcome in Outcome.values


@pytest.mark.parametrize(
    ("text", "order", "expected"),
    [
        ("14 May 2019", "dmy", date(2019, 5, 14)),
        ("2019-05-14", "mdy", date(2019, 5, 14)),
        ("2019-05-14 10:30", "dmy", date(2019, 5, 14)),
        ("03/04/2019", "dmy", date(2019, 4, 3)),
        ("03/04/2019", "mdy", date(2019, 3, 4)),
    ],
)
def test_a_date_is_read_in_the_order_that_was_said(text, order, expected):
    assert read_day(text, order) == expected


def test_a_year_of_two_figures_is_asked():
    found = read_day("03/04/19", "dmy")

    assert "two different years" in found.reason


@pytest.mark.parametrize(
    ("text", "hundredths"), [("0.85", 85), ("0,85", 85), ("85 %", 85), ("85", 85), ("1.4", 140)]
)
def test_an_index_is_read_as_ratio_or_percentage(text, hundredths):
    assert read_index(text) == hundredths


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        ("Rt DP (mmHg)", "right.dorsalis_pedis.1"),
        ("LPTA", "left.posterior_tibial.1"),
        ("Left great toe", "left.toe_1.1"),
        ("R 2nd toe", "right.toe_2.1"),
        ("R DP repeat", "right.dorsalis_pedis.2"),
        ("L ABPI", "left.abi"),
        ("Hosp. No.", "identifier"),
        ("D.O.B.", "birth_date"),
        ("R toe 2", ""),  # the second toe, or the toe a second time?
        ("AT right", ""),
        ("Colour", ""),
    ],
)
def test_a_heading_names_its_field_or_none(heading, name):
    assert field_of(heading) == name


def test_a_heading_twice_is_a_second_reading():
    assert suggested(["R toe", "R toe"]) == ("right.toe_1.1", "right.toe_1.2")
