"""Queries that Django writes once: they answer what the same query answers when it is written anew."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.db.models import CharField, DateTimeField, IntegerField

from access.prepared import Given, Prepared, every_column, stored
from exams.visits.models import Exam, Reading
from tests.build import booked_exam, exam_with

pressures = Prepared(
    lambda: Reading.objects.filter(
        exam_id__in=Given("exams", IntegerField(), 3), site=Given("site", CharField())
    ).order_by("pk"),
    "exam_id",
    "pressure_mmhg",
    "withdrawn",
    "entered_by__full_name",
)
booked = Prepared(
    lambda: Exam.objects.filter(booked_for__lt=Given("until", DateTimeField())).order_by("pk"), "pk"
)
whole = Prepared(lambda: Exam.objects.filter(pk=Given("exam", IntegerField())), *every_column(Exam))


def test_it_answers_other_values_each_time_in_one_query(measurer, django_assert_num_queries):
    first = exam_with(measurer, right_hallux=48)
    second = exam_with(measurer, right_hallux=61)

    with django_assert_num_queries(2):
        one = pressures.rows(exams=[first.pk], site="toe_1")
        both = pressures.rows(exams=[first.pk, second.pk], site="toe_1")

    assert one == [(first.pk, Decimal("48.0"), False, measurer.name)]
    assert [pressure for _, pressure, *_ in both] == [48, 61]


def test_it_sees_what_was_written_since(measurer):
    exam = exam_with(measurer, right_hallux=48)
    before = pressures.rows(exams=[exam.pk], site="toe_1")

    Reading.objects.filter(exam=exam, site="toe_1").update(pressure_mmhg=84)

    assert [row[1] for row in before] == [48]
    assert [row[1] for row in pressures.rows(exams=[exam.pk], site="toe_1")] == [84]


def test_a_moment_is_given_and_taken_as_django_does(measurer):
    exam = booked_exam(measurer)

    [row] = whole.rows(exam=exam.pk)

    assert booked.rows(until=datetime(1990, 1, 1, tzinfo=UTC)) == []
    assert [number for (number,) in booked.rows(until=datetime(2990, 1, 1, tzinfo=UTC))] == [exam.pk]
    assert dict(zip(every_column(Exam), row, strict=True)) == {
        name: getattr(exam, name) for name in every_column(Exam)
    }


def test_a_row_is_one_of_the_table_and_is_saved_as_such(measurer, django_assert_num_queries):
    exam = booked_exam(measurer)
    [row] = whole.rows(exam=exam.pk)

    same = stored(Exam, zip(every_column(Exam), row, strict=True), patient=exam.patient)
    same.referrer = "Dr Ashby"
    with django_assert_num_queries(1):
        same.save(update_fields=["referrer"])

    exam.refresh_from_db()
    assert (same, same.patient, exam.referrer) == (exam, exam.patient, "Dr Ashby")


def test_a_column_that_was_not_read_is_read_when_it_is_asked_for(measurer, django_assert_num_queries):
    exam = booked_exam(measurer)

    known = stored(Exam, {"id": exam.pk})

    with django_assert_num_queries(1):
        assert known.exam_type == exam.exam_type


def test_a_value_that_is_not_given_is_an_error():
    with pytest.raises(KeyError):
        booked.rows()
