"""A year is counted whole by a job; what must not be shown is marked with it."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.test import TestCase

from access import clock
from exams.patients.models import Patient
from exams.visits.models import Exam
from reports.audit.calendar import Period, Span, months_later
from reports.audit.models import Count, Figure
from reports.audit.services import ask_count, count_year, new_count
from tests.build import new_patient
from tests.people import cast_of

NOW = datetime(2026, 8, 20, 12, 0, tzinfo=UTC)
YEAR = Period(date(2026, 4, 1), Span.YEAR)


def many_exams(cast, per_month, *, rested=1.0, first=date(2026, 4, 1), months=4):
    """So many measured exams a month, each of somebody else; rows only, so that there can be many.

    ``rested``: the part that has ten minutes of rest; ``first``: any day of the first month.
    """
    clinic, user = cast.clinic, cast.measurer.user
    one = new_patient(cast.measurer)
    columns = {field.attname: getattr(one, field.attname) for field in Patient._meta.concrete_fields}
    del columns["id"]
    people = Patient.objects.bulk_create(
        Patient(**{**columns, "diabetes": "yes"}) for _ in range(per_month * months)
    )
    rows = []
    for number, patient in enumerate(people):
        month, place = divmod(number, per_month)
        begin = months_later(first.replace(day=1), month)
        at = datetime.combine(begin, time(9), UTC) + timedelta(days=1, hours=place)
        rest = timedelta(minutes=12 if place < rested * per_month else 3)
        rows.append(
            Exam(
                clinic=clinic,
                patient=patient,
                exam_type="toe_only",
                state="measured",
                booked_for=at,
                indication="other",
                lying_flat_at=at,
                first_inflation_at=at + rest,
                measured_at=at + timedelta(minutes=30),
                measured_by=user,
                created_at=at,
                created_by=user,
            )
        )
    Exam.objects.bulk_create(rows)


class ACount(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here, cls.there = cast_of("Alder House"), cast_of("Lock Street")
        many_exams(cls.here, 30, rested=0.7)
        many_exams(cls.there, 3)
        with clock.at(NOW):
            cls.count = count_year(count=new_count(YEAR, cls.here.administrator), by=cls.here.administrator)

    def test_every_period_that_has_begun_has_a_figure_of_each_clinic_and_of_all(self):
        rows = Figure.objects.filter(tally=self.count, measure="P01")

        assert {(row.clinic_id, row.span, row.first.month) for row in rows if row.span == "month"} == {
            (whose, "month", month)
            for whose in (self.here.clinic.pk, self.there.clinic.pk, None)
            for month in (4, 5, 6, 7, 8)
        }
        assert self.of(None, "year").met == self.of(self.here.clinic, "year").met + 12

    def test_a_figure_is_exact_and_says_what_is_hidden(self):
        here, there = self.of(self.here.clinic, "month"), self.of(self.there.clinic, "month")

        assert (here.met, here.of, here.met_hidden, here.of_hidden) == (21, 30, False, False)
        assert (there.met, there.of, there.met_hidden, there.of_hidden) == (3, 3, True, True)

    def test_the_small_clinic_cannot_be_had_by_taking_the_large_one_from_all(self):
        together, here = self.of(None, "month"), self.of(self.here.clinic, "month")
        shown = [not one.of_hidden for one in (together, here)]

        # 33 and 30 would be shown as 35 and 30: five or more.
        assert shown != [True, True]

    def test_counting_again_takes_the_place_of_a_count_that_nothing_rests_on(self):
        with clock.at(NOW):
            again = count_year(count=new_count(YEAR, self.here.administrator), by=self.here.administrator)

        assert list(Count.objects.filter(counted_at__isnull=False)) == [again]

    def test_a_count_is_asked_for_once_and_by_those_with_the_right(self):
        with clock.at(NOW):
            first = ask_count(year=YEAR, by=self.here.administrator)
            second = ask_count(year=YEAR, by=self.here.reporter)
            with pytest.raises(PermissionDenied):
                ask_count(year=YEAR, by=self.here.wound_nurse)

        assert first == second

    def of(self, clinic, span):
        return Figure.objects.filter(tally=self.count, measure="P01", clinic=clinic, span=span).order_by(
            "first"
        )[0]
