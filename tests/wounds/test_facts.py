"""Gangrene and an open wound are said once: by a wound note, or as a fact of the limb that it takes up."""

import pytest
from django.urls import reverse

from exams.patients.models import LimbFact
from exams.patients.services import record_limb_fact
from exams.wounds.models import Wound
from exams.wounds.queries import outlook_for
from tests.wounds.make import assess, days_ago, wound

pytestmark = pytest.mark.django_db


def standing(patient, kind):
    return list(LimbFact.objects.filter(patient=patient, kind=kind, replaced_by=None, withdrawn_at=None))


def by_hand(by, patient, kind, side="right"):
    return record_limb_fact(
        patient=patient, side=side, kind=kind, started_on=days_ago(9), source="ward letter", by=by
    )


def test_gangrene_found_at_a_wound_is_a_fact_of_the_limb_until_no_wound_shows_it(wound_nurse, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole")
    assess(wound_nurse, first, ago=5, gangrene="digits")
    (fact,) = standing(patient, "gangrene")
    assess(wound_nurse, first, ago=3, gangrene="not_seen")
    assert standing(patient, "gangrene")[0].ended_on is None

    assess(wound_nurse, first, ago=1, gangrene="none")

    (fact,) = standing(patient, "gangrene")
    assert (fact.source, fact.started_on, fact.ended_on) == ("wound notes", days_ago(5), days_ago(1))


def test_gangrene_that_somebody_recorded_stays_theirs_to_end(wound_nurse, measurer, patient):
    by_hand(measurer, patient, "gangrene")
    first = wound(wound_nurse, patient)

    assess(wound_nurse, first, ago=3, gangrene="digits")
    assess(wound_nurse, first, gangrene="none")

    (fact,) = standing(patient, "gangrene")
    assert (fact.source, fact.ended_on) == ("ward letter", None)


def test_an_open_wound_on_record_is_offered_and_taken_up_by_its_note(
    client_as, wound_nurse, measurer, patient
):
    fact = by_hand(measurer, patient, "open_wound")
    browser, new = client_as(wound_nurse), reverse("wounds:new", args=[patient.pk])
    leads_to = f'href="{new}?fact={fact.pk}"'
    for name, args in (("patient", [patient.pk]), ("outlook", [patient.pk, "right"])):
        assert leads_to in browser.get(reverse(f"wounds:{name}", args=args)).content.decode()
    typed = {"place": "left:heel_back", "cause": "pressure", "began_on": "today", "fact": str(fact.pk)}
    refused = browser.post(new, typed)
    assert refused.status_code == 422
    assert "is of the RIGHT limb" in refused.content.decode()

    browser.post(new, {**typed, "place": "right:heel_back"})

    (stands,) = standing(patient, "open_wound")
    assert Wound.objects.get().fact == stands
    assert (stands.replaces, stands.source) == (fact, "wound notes")
    assert not outlook_for(wound_nurse, patient, "right").loose
