"""A database of many exams is made of whole records: copies read as what the services would have stored."""

from dataclasses import replace
from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import TestCase

from access import clock
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, HandOver, Preparation, Reading, Result
from exams.visits.services import differences
from reports.documents.models import Document
from vaslab.demo import tell
from vaslab.demo.archive import LETTERS, Archive, _below_patients
from vaslab.demo.invented import often_seen, one_of_each
from vaslab.demo.stories.arteries import WATERMINT

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


class Grown(TestCase):
    @classmethod
    def setUpTestData(cls):
        people = [one for one in one_of_each() if "hallux" in one.about or "RIGHT" in one.about]
        few = tuple(replace(one, visits=one.visits[-2:]) for one in people)
        under_way = replace(WATERMINT, visits=WATERMINT.visits[-1:])
        with clock.at(NOW):
            tell.tell_everything(NOW, lambda step: None, (*few, under_way))
        cls.told = Exam.objects.count()

    def test_a_copy_is_a_whole_record_under_a_name_and_number_of_its_own(self):
        Archive(whole=True).grow(60)

        connection.check_constraints()
        assert Exam.objects.count() >= 60
        newest = Exam.objects.latest("pk")
        made_from = Patient.objects.get(family_name=newest.patient.family_name[:-LETTERS])
        assert [one.words for one in newest.patient.limb_facts.order_by("pk")] == [
            one.words for one in made_from.limb_facts.order_by("pk")
        ]
        assert newest.patient.exams.count() == 2
        assert differences(newest) == []
        assert newest.results.exists()
        assert newest.booked_for < NOW
        for model, field in ((Patient, "name_key"), (Identifier, "value_key"), (Reading, "client_id")):
            said = list(model.objects.values_list(field, flat=True))
            assert len(set(said)) == len(said)

    def test_a_copy_is_found_by_the_name_and_number_it_has(self):
        Archive(whole=True).grow(30)

        patient = Patient.objects.latest("pk")
        number = patient.identifiers.get().value_key
        names = {patient.family_name.lower(), patient.given_name.lower()}
        assert {*names, number} <= set(patient.search_text.split())

    def test_nobody_waits_for_a_copy_and_nobody_under_way_is_copied(self):
        waiting = Exam.objects.filter(state="measured").count()

        Archive(whole=True).grow(60)

        assert Exam.objects.filter(state="measured").count() == waiting
        assert Patient.objects.filter(family_name__startswith="Watermint").count() == 1
        assert HandOver.objects.filter(closed_at=None).count() == 1

    def test_a_lean_copy_keeps_readings_and_a_few_findings(self):
        conditions, reports = Preparation.objects.count(), Document.objects.exclude(content={}).count()

        Archive(whole=False).grow(60)

        newest = Exam.objects.filter(state="reported").latest("pk")
        assert newest.readings.exists()
        assert set(newest.results.values_list("measure", flat=True)) <= {"toe_pressure", "toe_brachial_index"}
        assert Preparation.objects.count() == conditions
        assert Document.objects.exclude(content={}).count() == reports

    def test_it_grows_again_and_what_is_stored_afterwards_has_a_number_of_its_own(self):
        archive = Archive(whole=False)
        archive.grow(30)
        archive.grow(60)

        assert Exam.objects.count() >= 60
        exam = Exam.objects.earliest("pk")
        exam.pk = None
        exam.save(force_insert=True)
        assert exam.pk > Exam.objects.exclude(pk=exam.pk).latest("pk").pk

    def test_the_command_grows_what_is_there(self):
        said = StringIO()

        call_command("demo_archive", "--exams", "40", stdout=said)

        assert Exam.objects.count() >= 40
        assert f"{Exam.objects.count()} exams stand in the database" in said.getvalue()

    def test_copies_are_not_copied_again(self):
        Archive(whole=False).grow(30)
        before = Exam.objects.count()

        with pytest.raises(CommandError, match="begin with a new one"):
            call_command("demo_archive", "--exams", "60", stdout=StringIO())

        assert Exam.objects.count() == before


def test_every_table_that_hangs_on_a_patient_is_copied_after_what_it_points_to():
    order = [one.model for one in _below_patients()]

    assert order.index(Patient) < order.index(Exam) < order.index(Reading)
    assert {Result, Document, HandOver, Identifier} <= set(order)


def test_the_person_often_seen_has_two_hundred_exams():
    assert len(often_seen().visits) == 200
