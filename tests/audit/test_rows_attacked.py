"""Somebody who holds pseudonymised rows, and knows about a patient what neighbours know, finds nobody."""

import csv
import io
import zipfile
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import NamedTuple

import pyarrow.parquet as pq
import pytest
from django.core.exceptions import ValidationError
from django.test import TestCase
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from access import clock
from exams.patients.models import LimbFact, Patient
from exams.visits.models import Exam, Result
from reports.audit.calendar import Period, Span
from reports.audit.export_rows import ANY, Kind, Visit, alike
from reports.audit.pseudonyms import Pseudonyms
from reports.audit.services import ask_for_rows, decide, write_export
from tests.build import new_patient
from tests.people import cast_of

YEAR = Period(date(2026, 4, 1), Span.YEAR)
BOTH, LEFT_ONLY, RIGHT_ONLY = ("right", "left"), ("left",), ("right",)
KNOWN = ("age_band", "sex", "amputation", "ulcer", "diabetes")


class Somebody(NamedTuple):
    """What a neighbour knows: about how old, days of the visits and what for, which leg is gone."""

    born: date = date(1962, 6, 1)
    days: tuple[date, ...] = (date(2026, 4, 20),)
    exam_type: str = "full"
    legs: tuple[str, ...] = BOTH
    diabetes: str = "yes"


CROWD = [Somebody(days=(date(2026, 4 + number % 3, 7),)) for number in range(24)]
LOST = [Somebody(legs=LEFT_ONLY), *[Somebody(legs=RIGHT_ONLY)] * 4]
OFTEN = [
    Somebody(days=tuple(date(2026, 4, day) for day in (2, 9, 16, 23, 30))),
    *[Somebody(days=(date(2026, 4, 3), date(2026, 6, 3 + number))) for number in range(5)],
    Somebody(days=(date(2026, 4, 3), date(2026, 9, 20))),
]
ODD = [Somebody(diabetes="no"), Somebody(exam_type="toe_only"), Somebody(born=date(1931, 1, 1))]


class Attacked(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here = cast_of("Alder House")
        cls.people = stored(cls.here, [*CROWD, *LOST, *OFTEN, *ODD])

    def test_whoever_knows_all_that_a_neighbour_knows_is_left_with_five_people(self):
        export, rows = self.rows_on(date(2026, 11, 25))
        told = by_person(rows)
        names = Pseudonyms.of(export.salt)

        fits = {
            patient: [name for name, shown in told.items() if may_be(shown, somebody)]
            for patient, somebody in self.people.items()
            if names.name("person", patient) in told
        }
        assert min(map(len, fits.values())) >= 5
        assert len(fits) >= len(CROWD), "not by telling of nobody"

    def test_a_leg_that_is_gone_does_not_single_out_by_what_was_not_measured(self):
        _, rows = self.rows_on(date(2026, 11, 25))

        gone = Counter((row["right_toe_pressure"] == "", row["left_toe_pressure"] == "") for row in rows)
        assert min(gone.values()) >= 5

    def test_a_file_of_yesterday_and_one_of_today_do_not_show_who_came_today(self):
        _, before = self.rows_on(date(2026, 8, 19))
        stored(self.here, [Somebody(days=(date(2026, 8, 19),))])
        _, after = self.rows_on(date(2026, 8, 20))

        assert values_of(before) == values_of(after)

    def test_whoever_is_new_in_a_file_made_a_quarter_later_is_one_of_five(self):
        stored(self.here, [Somebody(days=(date(2026, 7, 7),))] * 5)
        stored(self.here, [Somebody(born=date(1971, 1, 1), days=(date(2026, 8, 7),))])
        _, before = self.rows_on(date(2026, 7, 2))
        _, after = self.rows_on(date(2026, 10, 2))

        # Linked by the exact pressures, which every invented person has for themselves.
        new = {values for values in values_of(after) if values not in values_of(before)}
        first_rows = [shown[0] for shown in by_person(after).values() if cells(shown[0]) in new]
        kinds = Counter(tuple(row[name] for name in KNOWN) for row in first_rows)
        assert kinds
        assert min(kinds.values()) >= 5

    def test_two_files_linked_by_the_exact_pressures_tell_no_more_than_one(self):
        """They can be linked so: nothing less than wrong pressures would stop that."""
        first, second = (by_pressures(self.rows_on(date(2026, 11, 25))[1]) for _ in range(2))

        assert first == second

    def test_no_quarter_over_means_no_rows_and_says_so(self):
        with at(date(2026, 6, 30)), pytest.raises(ValidationError, match="No quarter of that audit year"):
            self.asked()

    def test_no_form_of_the_file_says_who_made_it_or_in_which_order_the_records_stand(self):
        _, csv_rows = self.rows_on(date(2026, 11, 25))
        book = load_workbook(io.BytesIO(self.table_on(date(2026, 11, 25), "xlsx"))).properties
        parquet = pq.read_schema(io.BytesIO(self.table_on(date(2026, 11, 25), "parquet")))

        assert (book.creator, book.lastModifiedBy, book.title) == ("openpyxl", None, None)
        assert parquet.metadata is None
        people = [row["person"] for row in csv_rows]
        assert people == sorted(people)

    def test_who_measured_a_few_people_only_has_no_pseudonym(self):
        Exam.objects.filter(patient__in=list(self.people)[:4]).update(measured_by=self.here.reporter.user)

        _, rows = self.rows_on(date(2026, 11, 25))
        assert len({row["measurer"] for row in rows} - {""}) == 1
        assert "" in {row["measurer"] for row in rows}

    def asked(self, form="csv"):
        said = {"year": YEAR, "form": form, "purpose": "a question", "legal_basis": "approval 7"}
        return ask_for_rows(by=self.here.administrator, **said)

    def written_on(self, day, form):
        with at(day):
            export = decide(export=self.asked(form), approve=True, because="agreed", by=self.here.reporter)
            return write_export(export=export, by=self.here.reporter)

    def table_on(self, day, form):
        return inside(self.written_on(day, form), f"exams.{form}")

    def rows_on(self, day):
        export = self.written_on(day, "csv")
        return export, list(csv.DictReader(io.StringIO(inside(export, "exams.csv").decode())))


def inside(export, name):
    with export.file.open("rb") as file:
        return zipfile.ZipFile(io.BytesIO(file.read())).read(name)


def at(day):
    return clock.at(datetime.combine(day, time(12), UTC))


def stored(here, people):
    """Rows of invented people with pressures of their own, each by its number."""
    one = new_patient(here.measurer)
    columns = {field.attname: getattr(one, field.attname) for field in Patient._meta.concrete_fields}
    del columns["id"]
    patients = Patient.objects.bulk_create(
        Patient(**{**columns, "birth_date": some.born, "diabetes": some.diabetes}) for some in people
    )
    known = dict(zip(patients, people, strict=True))
    exams = Exam.objects.bulk_create(
        _exam(here, patient, some, day) for patient, some in known.items() for day in some.days
    )
    Result.objects.bulk_create(_result(exam, side) for exam in exams for side in known[exam.patient].legs)
    LimbFact.objects.bulk_create(
        LimbFact(
            patient=patient,
            side=side,
            kind="amputation",
            level="below_knee",
            started_on=date(2020, 1, 1),
            source="seen",
            entered_at=clock.now(),
            entered_by=here.measurer.user,
        )
        for patient, some in known.items()
        for side in set(BOTH) - set(some.legs)
    )
    return {patient.pk: some for patient, some in known.items()}


def _exam(here, patient, some, day):
    moment = datetime.combine(day, time(9), UTC)
    return Exam(
        clinic=here.clinic,
        patient=patient,
        exam_type=some.exam_type,
        state="measured",
        booked_for=moment,
        indication="other",
        measured_at=moment,
        measured_by=here.measurer.user,
        created_at=moment,
        created_by=here.measurer.user,
    )


def _result(exam, side):
    return Result(
        exam=exam,
        limb=side,
        measure="toe_pressure",
        criteria="c",
        criteria_version="1",
        criteria_hash="0",
        value=exam.pk,  # so that every exam has a pressure of its own
        band="b",
        finding={},
        computed_at=exam.measured_at,
    )


def by_person(rows):
    found = {}
    for row in rows:
        found.setdefault(row["person"], []).append(row)
    return found


def may_be(shown, somebody):
    """Whether these rows of one pseudonym may be somebody's, of whom the neighbour knows all of that."""
    first = somebody.days[0]
    age = (first - somebody.born).days // 365.25
    low, _, high = shown[0]["age_band"].partition("-")
    wide = {ANY: (0, 200), "90+": (90, 200), "under 50": (0, 49), "70 and over": (70, 200)}
    least, most = wide.get(shown[0]["age_band"]) or (int(low), int(high))
    lost = {"*", "some", "below_knee"} if somebody.legs != BOTH else {"*", "none"}
    if not least <= age <= most or shown[0]["amputation"] not in lost:
        return False
    if shown[0]["diabetes"] not in (ANY, somebody.diabetes) or len(shown) > len(somebody.days):
        return False
    if len(shown) > 1 and len(shown) != len(somebody.days):
        return False
    return all(_visit_may_be(row, somebody, day) for row, day in zip(shown, somebody.days, strict=False))


def _visit_may_be(row, somebody, day):
    quarter = str((day - somebody.days[0]).days // 91)
    legs = tuple(side for side in BOTH if row[f"{side}_toe_pressure"])
    return (
        row["quarters_after_first"] in ("", quarter)
        and row["exam_type"] in (ANY, somebody.exam_type)
        and legs == somebody.legs
    )


def cells(row):
    return row["right_toe_pressure"], row["left_toe_pressure"]


def values_of(rows):
    return {cells(row) for row in rows}


def by_pressures(rows):
    """Rows by what was measured, without the pseudonyms."""
    return {cells(row): {name: row[name] for name in row if name not in PSEUDONYMS} for row in rows}


PSEUDONYMS = ("person", "exam", "measurer")

visits = st.lists(
    st.builds(Visit, st.just(0), st.sampled_from(["full", "toe_only"]), st.sampled_from(["xx", "x-"])),
    min_size=1,
    max_size=2,
).map(tuple)
kinds = st.builds(
    Kind,
    st.sampled_from(["60-64", "65-69", "90+"]),
    st.sampled_from(["female", "male"]),
    st.sampled_from(["none", "toe"]),
    st.just("no"),
    st.sampled_from(["yes", "no"]),
    visits,
    st.integers(0, 1),
)


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(kinds, st.integers(1, 6), max_size=25))
def test_everybody_released_has_four_others_of_whom_the_same_is_told(sizes):
    released = alike(sizes, 5)

    together = Counter()
    for kind, told in released.items():
        together[told] += sizes[kind]
    assert all(many >= 5 for many in together.values())


@settings(max_examples=40, deadline=None)
@given(st.dictionaries(kinds, st.integers(1, 6), max_size=25), st.data())
def test_more_visits_of_a_later_export_never_change_how_widely_somebody_is_told(sizes, data):
    before = alike(sizes, 5)
    came_again = data.draw(st.sampled_from(sorted(sizes, key=str))) if sizes else None
    after = alike(
        {
            replace(kind, visits=kind.visits + (AGAIN if kind == came_again else ())): many
            for kind, many in sizes.items()
        },
        5,
    )

    widths = [sorted((one.first_visit() for one in told.values()), key=str) for told in (before, after)]
    assert widths[0] == widths[1]


AGAIN = (Visit(1, "full", "xx"),) * 2
