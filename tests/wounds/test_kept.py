"""What is kept of an outlook: the same as if it were made now, after whatever changed the record."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from exams.patients.queries import today_in
from exams.patients.services import change_patient, record_limb_fact
from exams.wounds.models import Episode, KeptOutlook
from exams.wounds.plain import plain, read_back
from exams.wounds.queries import outlook_criteria, outlook_for
from exams.wounds.queries.foot import FootOutlook, foot_now
from exams.wounds.queries.keeping import differing_feet, keep_now, made_now, mark_changed
from exams.wounds.queries.outlook import read_of
from exams.wounds.services import close_wound, judge_beyond_salvage, withdraw_assessment
from tests.build import whole_exam
from tests.wounds.make import assess, days_ago, wound

pytestmark = pytest.mark.django_db


def sees_what_stands(by, patient):
    """Whether the page says what would be made of the record now, and keeps just that."""
    shown = outlook_for(by, patient, "right").foot
    made, kept = made_now(patient, outlook_criteria(patient.clinic)), KeptOutlook.objects.get()
    told = plain(replace(shown, answer=replace(shown.answer, own_outcomes=())))
    return (told, kept.left, kept.made_of) == (made["right"], made["left"], kept.mark)


def test_every_act_on_the_record_is_seen_by_the_next_look(wound_nurse, measurer, reporter, patient):
    first = wound(wound_nurse, patient)
    assert sees_what_stands(wound_nurse, patient)
    assess(wound_nurse, first, ago=3)
    assert sees_what_stands(wound_nurse, patient)
    worse = assess(wound_nurse, first, depth="tendon")
    assert sees_what_stands(wound_nurse, patient)
    whole_exam(measurer, patient, right_hallux=24)
    assert sees_what_stands(wound_nurse, patient)
    fact = {"side": "right", "kind": "gangrene", "started_on": days_ago(1), "source": "seen"}
    record_limb_fact(patient=patient, by=measurer, **fact)
    assert sees_what_stands(wound_nurse, patient)
    foot = {"episode": Episode.objects.get(), "side": "right"}
    judge_beyond_salvage(**foot, holds=True, because="no vessel", by=reporter)
    assert sees_what_stands(wound_nurse, patient)
    withdraw_assessment(assessment=worse, reason="other foot", by=wound_nurse)
    assert sees_what_stands(wound_nurse, patient)
    close_wound(wound=first, status="healed", closed_on=days_ago(0), by=wound_nurse)
    assert sees_what_stands(wound_nurse, patient)


def test_a_second_look_reads_nothing_of_the_record(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35)
    assess(wound_nurse, wound(wound_nurse, patient))
    outlook_for(wound_nurse, patient, "right")

    with CaptureQueriesContext(connection) as asked:
        outlook_for(wound_nurse, patient, "left")

    # The criteria in force, what is kept, and the clinic's own outcomes where there is something to compare.
    assert len(asked) <= 3


def test_what_was_kept_on_another_day_is_made_again(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=60, at=clock.now() - timedelta(days=30))
    outlook_for(wound_nurse, patient, "right")
    today = KeptOutlook.objects.get()
    KeptOutlook.objects.update(
        made_by=today.made_by.replace(str(today_in(patient.clinic)), "2020-01-01"), right=[]
    )

    assert outlook_for(wound_nurse, patient, "right").answer.on == today_in(patient.clinic)
    assert KeptOutlook.objects.get().made_by == today.made_by


def test_a_change_of_the_person_counts_too(wound_nurse, measurer, patient):
    before = outlook_for(wound_nurse, patient, "right").foot.risk

    change_patient(patient=patient, revision=patient.revision, neuropathy="yes", by=measurer)
    patient.refresh_from_db()

    assert outlook_for(wound_nurse, patient, "right").foot.risk != before


def test_what_is_read_back_is_what_was_written(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35)
    assess(wound_nurse, wound(wound_nurse, patient, began=50), ago=40, length_mm=30)
    made = foot_now(read_of(patient, today_in(patient.clinic)), "right", outlook_criteria(patient.clinic))

    assert read_back(FootOutlook, plain(made)) == made


def test_what_counts_as_kept_and_is_not_what_stands_is_named_and_made_again(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35)
    outlook_for(wound_nurse, patient, "right")
    assert differing_feet(patient) == []
    KeptOutlook.objects.update(left=KeptOutlook.objects.get().right)

    assert differing_feet(patient) == ["left"]
    mark_changed([patient.pk])
    keep_now(patient)
    assert differing_feet(patient) == []
