"""Finding a person by any part of what is known of them."""

import unicodedata
from datetime import date

import pytest
from django.core.exceptions import PermissionDenied
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exams.patients import queries, services
from tests.patients.make import register

# A letter of many scripts, so that a name is never made of signs alone.
NAMES = st.text(alphabet=st.characters(categories=["L", "Mn"]), min_size=1, max_size=20).filter(
    lambda text: unicodedata.category(text[0])[0] == "L"
)


def found(person, text):
    return list(queries.patients_matching(person, text).patients)


@pytest.mark.parametrize(
    "typed",
    [
        "o'brien",
        "OBRIEN",
        "zoë o’brien",
        "brien zoe",
        "ZOE",
        "rien",
        "FN 0042-17",
        "fn004217",
        "0042 zoe",
        "1 Mar 1950",
        "01/03/1950",
        "1950-03-01",
        "brien 1 Mar 1950",
    ],
)
def test_a_person_is_found_by_any_part_in_any_order(measurer, typed):
    zoe = register(measurer, "O'Brien-Sample", "Zoë", identifiers=[("Alder House", "FN-0042 17")])

    assert found(measurer, typed) == [zoe]


@pytest.mark.parametrize(
    "typed", ["obrian", "0043", "2 Mar 1950", "zoe 2 Mar 1950", "%", "_", "\\", "'", "\x00", ""]
)
def test_what_does_not_match_finds_nobody(measurer, typed):
    register(measurer, "O'Brien-Sample", "Zoë", identifiers=[("Alder House", "FN-0042 17")])

    assert found(measurer, typed) == []


def test_an_identifier_that_looks_like_a_date_is_found_too(measurer):
    by_number = register(measurer, identifiers=[("Alder House", "1210 1950 88")])
    by_birth = register(measurer, "Otherwise", "Una", birth_date=date(1950, 10, 12))

    assert found(measurer, "12 10 1950") == [by_number, by_birth]


def test_a_withdrawn_identifier_finds_nobody(measurer):
    patient = register(measurer, identifiers=[("Alder House", "77001")])
    services.withdraw_identifier(
        identifier=patient.identifiers.get(), reason="figures of the next bed", by=measurer
    )

    assert found(measurer, "77001") == []


def test_the_other_clinic_is_never_searched(measurer, outsider):
    register(measurer, "Fenwick-Sample", "Iris")
    theirs = register(outsider, "Fenwick-Sample", "Iris")

    assert found(outsider, "iris") == [theirs]


def test_a_search_of_many_shows_fifty_and_says_there_are_more(measurer):
    for number in range(51):
        register(measurer, f"Sample{number:03d}", "Ned", duplicate_reason="another person")

    cut = queries.patients_matching(measurer, "ned")

    assert len(cut.patients) == queries.MOST_SHOWN
    assert cut.more


def test_a_search_costs_two_queries_however_many_are_found(measurer, django_assert_num_queries):
    for number in range(5):
        register(measurer, f"Sample{number}", "Ned", identifiers=[("Alder House", f"N{number}")],
                 duplicate_reason="another person")  # fmt: skip

    with django_assert_num_queries(2):
        shown = queries.patients_matching(measurer, "ned sample 1 Mar 1950").patients
        assert [len(one.identifiers_in_use) for one in shown] == [1] * 5


def test_whoever_may_not_find_patients_may_not_search(administrator):
    with pytest.raises(PermissionDenied):
        queries.patients_matching(administrator, "iris")


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(family=NAMES, first=NAMES, data=st.data())
def test_any_words_of_a_name_in_any_order_accent_and_case_find_the_person(
    measurer, outsider, family, first, data
):
    patient = register(measurer, family, first, duplicate_reason="an invented crowd")
    tokens = data.draw(st.permutations([family, first]))
    typed = unicodedata.normalize(data.draw(st.sampled_from(["NFC", "NFD"])), " ".join(tokens))
    typed = data.draw(st.sampled_from([str.lower, str.upper, str.title, str]))(typed)

    assert (
        patient in queries.patients_matching(measurer, typed).patients or len(typed) > queries.LONGEST_SEARCH
    )
    assert patient not in queries.patients_matching(outsider, typed).patients


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(typed=st.text(max_size=300))
def test_no_search_text_fails(measurer, typed):
    assert queries.patients_matching(measurer, typed).patients == ()
