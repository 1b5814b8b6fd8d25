"""Dates as people type them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exams.patients.typed_date import NotADate, date_within, read_date, written


@pytest.mark.parametrize(
    "typed",
    [
        "1 Mar 1950",
        "01 march 1950",
        "1st March, 1950",
        "Mar 1, 1950",
        "1/3/1950",
        "01.03.1950",
        "01-03-1950",
        "1 3 1950",
        "1950-03-01",
        "1950/3/1",
        " 1mar1950 ",
    ],
)
def test_a_day_is_read_however_it_is_written(typed):
    assert read_date(typed) == date(1950, 3, 1)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("31/04/2020", "There is no day “31/04/2020”"),
        ("29 Feb 2023", "There is no day"),
        ("1/3/50", "with four figures"),
        ("soon", "is not a date we can read"),
        ("", "is not a date we can read"),
        ("12 Mur 1950", "There is no day"),
        ("0/0/0000", "There is no day"),
    ],
)
def test_what_is_no_date_is_refused_with_the_way_to_write_one(typed, words):
    with pytest.raises(NotADate) as refused:
        read_date(typed)

    assert words in str(refused.value)
    assert "25 Nov 2026" in str(refused.value)


@given(st.dates())
def test_a_date_as_shown_can_be_typed_back(day):
    padded = f"{day.day:02d}/{day.month:02d}/{day.year:04d}"

    assert read_date(padded) == read_date(day.isoformat()) == day


@given(st.dates(min_value=date(1000, 1, 1)))
def test_the_written_date_is_read_back(day):
    assert read_date(written(day)) == day


@given(st.text())
def test_any_text_is_a_date_or_a_plain_refusal(text):
    try:
        read = read_date(text)
    except NotADate:
        return
    assert read_date(read.isoformat()) == read


def test_a_birth_date_is_found_inside_a_search():
    assert date_within("Marsh 1 Mar 1950") == (date(1950, 3, 1), "1 mar 1950", "marsh  ")


def test_figures_of_an_identifier_are_no_date():
    assert date_within("943 476 5919") == (None, "", "943 476 5919")


@given(st.text())
def test_any_text_can_be_searched_for_a_date(text):
    day, typed, rest = date_within(text)

    assert (day is None) == (typed == "")
    assert rest == text or day is not None
