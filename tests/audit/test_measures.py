"""Every counted measure on a small cohort, counted by hand; `cohort.py` tells it."""

from datetime import date, timedelta
from unittest import mock

from django.test import TestCase

from access import clock
from exams.followup.models import Referral
from exams.patients.models import LimbFact
from exams.visits.models import AgreementRepeat, Exam, Preparation
from reports.audit.calendar import Period, Span
from reports.audit.counted import ALL
from reports.audit.definitions import FIRST_TWELVE, measures
from reports.audit.tally import Tally, tally
from tests.audit.cohort import NOW, Cohort, answer_to_arms, noon, whole_sheet
from tests.build import new_patient
from tests.people import cast_of

YEAR = Period(date(2026, 4, 1), Span.YEAR)
SUMMER_BANK_HOLIDAY = date(2026, 8, 31)

# Measure: met, of, unknown, patients in the denominator.
BY_HAND = {
    # Rests of 12, 8, 10, 15 and 11 minutes; Eli's is not known.
    "P01": (4, 5, 1, 4),
    # Ada 1, Cal (RIGHT toe only), Dot (LEFT only) and Eli have each foot's; Bea none, Ada 2 one of two.
    "P02": (4, 6, 0, 5),
    # Ada LEFT was left cold, Eli RIGHT read again; Bea's two and Ada's second LEFT have no temperature.
    "P03": (1, 2, 3, 2),
    "P04": (6, 6, 0, 5),
    # Ada 2 was repeated, Cal was not.
    "P05": (1, 2, 0, 2),
    # Ten toes answered (two of twelve did not); Ada 1 and Eli read one twice.
    "P06": (2, 10, 0, 5),
    # All sites have a value or a reason: 6 exams of 2 arms, 4 ankle arteries, 2 toes.
    "P08": (0, 48, 0, 5),
    # Bea LEFT and Dot RIGHT, of twelve ankles.
    "P10": (2, 12, 0, 5),
    # Bea's toe answered, Dot's did not.
    "P11": (1, 2, 0, 2),
    # Cal LEFT (no toe) and Eli RIGHT (toe).
    "P12": (1, 2, 0, 2),
    # Ada: 10 April, ten days before her assessment. Cal: none on the LEFT. Eli: 14 days not over.
    "P13": (1, 2, 1, 2),
    # Four marked, one of them refused; one not marked.
    "P14": (1, 4, 1, 1),
    "P15": (1, 4, 1, 1),
    # Half and one mmHg are within a beat of 2.5, six are not.
    "P16": (1, 3, 0, 1),
    "P18": (2, 6, 0, 2 + 3),
    # Three booked exams are over: one missed, one silent; six took place.
    "T08": (1, 7, 1, 5),
    # Ada's first (Friday to Tuesday) and Cal's (Wednesday to Friday); the rest late, or by a measurer only.
    "T02": (2, 6, 0, 5),
    # Eli, 18 days after; Cal was never treated.
    "T06": (1, 1, 1, 1),
    "T05": (1, 1, 1, 1),
    "T07": (3, 3, 0, 3),
    "C01": (1, 1, 0, 1),
    "C02": (1, 1, 0, 1),
    "C03": (0, 1, 0, 1),
    "C04": (0, 1, 0, 1),
    "O01": (1, 2, 1, 2),
    "O02": (0, 1, 0, 1),
    # Ada's half year ended on 20 October: a toe only. Cal lost the leg on 1 August.
    "O03": (1, 2, 0, 2),
    "O04": (1, 2, 0, 2),
    # Cal died; Eli's half year is not over.
    "O05": (1, 2, 1, 2),
    # Eli, treated on 15 September, 39 days after.
    "O06": (1, 1, 0, 1),
    # Ada after 25 days; Dot and Eli RIGHT never; Eli LEFT not over; Bea's day is not known.
    "O07": (1, 3, 2, 3),
    # Due by yesterday: Ada in time, Bea late, Dot forgotten; Cal had died.
    "O08": (2, 3, 0, 3),
    # Eli RIGHT: treated after the exam.
    "O09": (1, 1, 0, 1),
    # Six people registered, one record merged away.
    "D01": (1, 6, 0, 6),
    "D02": (1, 6, 0, 5),
    # Dot's on the same day, Cal's on the third working day.
    "D04": (1, 2, 0, 2),
    # Two measurers, one of them in a study.
    "Q02": (1, 2, 0, 2),
}


class Counted(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.cast = cast_of("Alder House")
        cls.cohort = Cohort(cls.cast)
        elsewhere = cast_of("Lock Street")
        with clock.at(noon(5, 5)):
            whole_sheet(elsewhere.measurer, new_patient(elsewhere.measurer))

    def test_every_measure_of_shares_is_counted_as_by_hand(self):
        for name, expected in BY_HAND.items():
            with self.subTest(measure=name):
                found = self.of(name)
                assert (found.met, found.of, found.unknown, found.people) == expected

    def test_what_is_counted_by_hand_is_every_measure_that_is_counted(self):
        counted = {one.id for one in measures().values() if one.is_counted}

        assert counted == set(ALL) == {*BY_HAND, "P07", "P09", "P17"}

    def test_reasons_are_counted_by_code(self):
        found = self.tallied("P09")

        assert {code: one.met for (period, code), one in found.items() if period == YEAR} == {
            "wound_under_cuff": 1,
            "dressing_not_removed": 1,
        }

    def test_the_spread_of_two_toe_readings_is_in_mmhg(self):
        assert dict(self.of("P07").values) == {6.0: 1, 4.0: 1}

    def test_a_mark_less_its_suggestion_is_in_half_mmhg(self):
        assert dict(self.of("P17").values) == {0.5: 1, -1.0: 1, 6.0: 1}

    def test_a_referral_waits_in_working_days(self):
        found = tally(measures()["T05"], self.cast.clinic, YEAR, NOW, [SUMMER_BANK_HOLIDAY])

        assert dict(found[YEAR, ""].values) == {2.0: 1}
        assert dict(self.of("T05").values) == {3.0: 1}

    def test_a_referral_waits_for_the_first_treatment_of_its_limb_or_of_either(self):
        assert dict(self.of("T06").values) == {18.0: 1}

        Referral.objects.filter(patient=self.cohort.eli).update(side="left")

        assert dict(self.of("T06").values) == {75.0: 1}

    def test_a_treatment_of_a_day_not_known_or_before_the_referral_is_none(self):
        facts = LimbFact.objects.filter(patient=self.cohort.eli, kind="revascularisation")
        facts.filter(side="right").update(started_precision="month")
        facts.filter(side="left").update(started_on=date(2026, 8, 27))

        assert (self.of("T06").of, self.of("T06").unknown) == (0, 2)

    def test_a_report_is_not_late_before_its_second_working_day_is_over(self):
        friday = NOW.replace(month=11, day=27)
        with clock.at(friday):
            whole_sheet(self.cast.measurer, self.cohort.bea)

        for days, expected in ((0, (2, 6, 1)), (4, (2, 6, 1)), (5, (2, 7, 0))):
            found = self.of("T02", now=friday + timedelta(days=days))
            assert (found.met, found.of, found.unknown) == expected

    def test_holidays_are_no_working_days_for_a_report_or_a_sheet_of_paper(self):
        # Bea's report came on the third working day, Cal's sheet too.
        assert self.of("T02", holidays=[date(2026, 4, 21)]).met == 3
        assert self.of("D04", holidays=[date(2026, 5, 7), date(2026, 5, 8)]).met == 2

    def test_a_temperature_corrected_later_never_stood(self):
        cold = Preparation.objects.filter(exam=self.cohort.eli_1, item="right_toe_celsius", value="31")
        cold.update(replaced_because="digits swapped")

        assert (self.of("P03").met, self.of("P03").of) == (0, 1)

    def test_a_study_counts_for_a_year_and_a_withdrawn_pair_not_at_all(self):
        assert self.of("Q02", now=NOW.replace(year=2027, month=3)).met == 1
        AgreementRepeat.objects.update(
            withdrawn_at=NOW, withdrawn_by=self.cast.measurer.user, withdrawn_because="not laid again"
        )

        assert self.of("Q02").met == 0

    def test_an_ulcer_waits_in_days(self):
        assert dict(self.of("T07").values) == {12.0: 1, 2.0: 1, 10.0: 1}

    def test_months_and_quarters_are_halves_of_open_intervals_in_the_clinics_zone(self):
        found = self.tallied("P01")
        months = {period.words: (one.met, one.of) for (period, _), one in found.items() if period != YEAR}

        assert months == {
            "Apr 2026": (1, 2),
            "May 2026": (2, 2),
            "Jul 2026": (1, 1),
            "Aug 2026": (0, 0),
            "Apr 2026 to Jun 2026": (3, 4),
            "Jul 2026 to Sep 2026": (1, 1),
        }

    def test_a_patient_of_two_exams_is_one_cluster(self):
        found = self.of("P01")

        # Ada counts twice, met twice; Bea, Cal and Dot once.
        assert (found.met_met, found.met_of, found.of_of) == (4 + 1 + 1, 4 + 1 + 1, 4 + 1 + 1 + 1)

    def test_where_only_some_patients_are_looked_at_one_by_one_all_units_are_counted(self):
        whole = self.tallied("P06")
        for patient in (self.cohort.ada, self.cohort.bea, self.cohort.cal, self.cohort.dot):
            only = f"CASE WHEN patient = {patient.pk} THEN patient END"
            with (
                mock.patch("reports.audit.tally.UNITS_ONE_BY_ONE", 4),
                mock.patch("reports.audit.tally._LOOKED_AT", only),
            ):
                every = self.tallied("P06")
                with mock.patch("reports.audit.tally.LEAST_PEOPLE", 0):
                    some = self.tallied("P06")

            assert counts_of(some) == counts_of(whole)
            assert some[YEAR, ""].people < whole[YEAR, ""].people
            assert every == whole, "too few people: all are looked at, also of a month of this patient alone"

    def test_every_measure_can_be_counted_of_a_year_in_which_nothing_was(self):
        before = Period(date(2020, 4, 1), Span.YEAR)

        found = {
            name: tally(measures()[name], self.cast.clinic, before, NOW).get((before, ""), Tally()).of
            for name in ALL
        }

        assert set(found.values()) == {0}

    def test_an_answer_to_the_remark_counts_as_acted_on(self):
        answer_to_arms(self.cohort.cal_1, self.cast.measurer.user)

        assert self.of("P05").met == 2

    def test_an_exam_entered_in_error_counts_nowhere(self):
        exam = self.cohort.dot_1
        exam.state, exam.closed_because = "in_error", "another person"
        exam.in_error_at, exam.in_error_by = NOW, self.cast.measurer.user
        exam.save()

        assert (self.of("D02").of, self.of("P10").met, self.of("P08").of) == (5, 1, 40)

    def test_an_exam_taken_in_with_a_table_says_nothing_of_how_this_clinic_measures(self):
        Exam.objects.filter(pk=self.cohort.bea_1.pk).update(imported_from="exams.csv, row 2")

        assert (self.of("D02").of, self.of("P10").met, self.of("T08").of) == (5, 1, 6)

    def test_a_site_without_a_value_or_a_reason_is_found(self):
        self.cohort.ada_1.readings.filter(side="left", site="toe_1").update(site="peroneal")

        assert self.of("P08").met == 1

    def test_each_of_the_first_twelve_is_counted(self):
        assert all(measures()[name].is_counted for name in FIRST_TWELVE)
        assert len(set(FIRST_TWELVE)) == 12
        assert len(measures()) == 53

    def tallied(self, name):
        return tally(measures()[name], self.cast.clinic, YEAR, NOW)

    def of(self, name, now=NOW, holidays=()):
        found = tally(measures()[name], self.cast.clinic, YEAR, now, holidays)
        return found.get((YEAR, ""), Tally())


def counts_of(found):
    return {key: (one.met, one.unmet, one.unknown) for key, one in found.items()}


def test_no_definition_sends_its_reader_to_a_file_of_ours():
    assert [one.id for one in measures().values() if ".md" in one.why] == []
