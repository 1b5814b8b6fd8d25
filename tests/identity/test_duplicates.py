"""Perhaps the same person: found by the database, the likeliest first, with the reasons in words."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from exams.identity.duplicates import duplicates
from exams.identity.services import say_different
from tests.build import new_patient
from tests.identity.make import merge, two_records
from tests.patients.make import register


def pairs(person):
    return [({pair.one.pk, pair.other.pk}, pair.reasons) for pair in duplicates(person).pairs]


@pytest.mark.parametrize(
    ("differs", "reasons"),
    [
        ({}, ("the same name", "the same birth date")),
        (
            {"family_name": "Ïris", "given_name": "fenwick sample"},
            ("the same names changed about", "the same birth date"),
        ),
        ({"given_name": "Irsi"}, ("a name one slip away", "the same birth date")),
        ({"given_name": "Anna"}, ("one name in common", "the same birth date")),
        (
            {"birth_date": date(1950, 1, 3)},
            ("the same name", "the same birth date with day and month changed about"),
        ),
        (
            {"family_name": "Fenwick", "birth_date": date(1951, 3, 1), "telephone": "+44 1632 960001"},
            ("one name in common", "the same telephone"),
        ),
        (
            {"family_name": "Other", "given_name": "Name", "birth_date": date(1970, 1, 1),
             "identifiers": [("Alder  House clinic", "fn-42")]},
            ("the same identifier",),
        ),
    ],
)  # fmt: skip
def test_a_pair_is_found_with_its_reasons(measurer, reporter, differs, reasons):
    one = register(measurer, telephone="01632 960001", identifiers=[("Alder House", "FN 42")])
    other = register(measurer, duplicate_reason="not seen", **differs)

    assert pairs(reporter) == [({one.pk, other.pk}, reasons)]


def test_people_who_share_only_a_birth_date_or_another_clinic_are_no_pair(measurer, reporter, outsider):
    register(measurer)
    register(measurer, "Teasel", "Bo")
    register(outsider)

    assert pairs(reporter) == []


def test_the_likeliest_pair_comes_first(measurer, reporter):
    two_records(measurer)
    register(measurer, "Teasel", "Bo", telephone="01632 960555", birth_date=date(1940, 2, 2))
    of_another = {"telephone": "01632 960555", "duplicate_reason": "not seen"}
    register(measurer, "Teasel", "Bertram", birth_date=date(1941, 2, 2), **of_another)

    scores = [pair.score for pair in duplicates(reporter).pairs]
    assert scores == sorted(scores, reverse=True)
    assert len(scores) == 2


def test_a_merged_pair_and_one_said_to_be_two_people_are_offered_no_more(measurer, reporter):
    one, other = two_records(measurer)
    third = register(measurer, given_name="Irisa", duplicate_reason="not seen")
    say_different(one=third, other=one, because="twins", by=reporter)
    say_different(one=third, other=other, because="twins", by=reporter)
    merge(one, other, reporter)

    found = duplicates(reporter)

    assert found.pairs == ()
    assert [(said.one, said.other, said.because) for said in found.different] == [(one, third, "twins")]


def test_whoever_may_not_correct_identity_gets_no_list(measurer):
    with pytest.raises(PermissionDenied):
        duplicates(measurer)


def test_the_page_costs_the_same_for_few_and_many(measurer, reporter, client_as):
    two_records(measurer)
    page, client = reverse("identity:duplicates"), client_as(reporter)
    client.get(page)
    with CaptureQueriesContext(connection) as few:
        client.get(page)
    for number in range(10):
        # Days that are no months, so that no two pairs can be taken for one.
        same = {
            "family_name": f"Twofold{'abcdefghij'[number]}",
            "given_name": "Anna",
            "birth_date": date(1950, 1, 13 + number),
        }
        new_patient(measurer, **same)
        new_patient(measurer, **same, duplicate_reason="x")
    with CaptureQueriesContext(connection) as many:
        client.get(page)

    assert len(many) == len(few)
