"""May this person do that, here?"""

from types import SimpleNamespace

import pytest
from django.core.exceptions import PermissionDenied

from access import services
from access.models import Membership
from access.people import person_for
from access.permissions import NotHere, allowed, clinic_id_of, require
from tests.people import person


def test_the_role_that_allows_an_act_is_answered(measurer):
    assert require(measurer, "measure") == "measurer"


def test_without_a_granting_role_the_act_is_refused(wound_nurse):
    with pytest.raises(PermissionDenied):
        require(wound_nurse, "measure")


def test_nobody_signed_in_may_do_nothing(db):
    assert not allowed(None, "see today")


def test_a_misspelt_ability_is_an_error_not_a_refusal(measurer):
    with pytest.raises(LookupError, match="not an ability listed"):
        require(measurer, "mesure")


def test_a_thing_of_another_clinic_is_not_here(measurer, other_clinic):
    with pytest.raises(NotHere):
        require(measurer, "see patient", SimpleNamespace(clinic_id=other_clinic.pk))


@pytest.mark.parametrize("way", ["patient", "exam"])
def test_a_thing_leads_to_its_clinic_by_its_patient_or_exam(way):
    reading = SimpleNamespace(**{way: SimpleNamespace(clinic_id=7)})

    assert clinic_id_of(reading) == 7


def test_a_thing_that_leads_nowhere_is_an_error(measurer):
    with pytest.raises(TypeError, match="Nothing leads"):
        require(measurer, "see patient", SimpleNamespace())


def test_a_system_administrator_opens_no_clinical_content(system_administrator):
    clinical = ("find patients", "see patient", "see exam", "measure", "see report", "make report")

    assert not any(allowed(system_administrator, ability) for ability in clinical)


def test_an_administrator_opens_no_clinical_content(administrator):
    clinical = ("find patients", "see patient", "see exam", "measure", "see report", "make report")

    assert not any(allowed(administrator, ability) for ability in clinical)


def test_a_wound_nurse_changes_no_pressure(wound_nurse):
    assert not allowed(wound_nurse, "measure")
    assert not allowed(wound_nurse, "correct readings")


def test_a_reporter_changes_no_measured_value(reporter):
    assert not allowed(reporter, "measure")
    assert not allowed(reporter, "correct readings")


def test_roles_held_in_one_clinic_do_not_count_in_another(clinic, other_clinic):
    both = person("Bo Both", clinic, "measurer")
    Membership.objects.create(
        user=both.user, clinic=other_clinic, role="administrator", approved_at=both.user.created_at
    )

    assert person_for(both.user, clinic.pk).roles == {"measurer"}
    assert person_for(both.user, other_clinic.pk).roles == {"administrator"}


def test_a_clinic_where_no_role_is_held_cannot_be_acted_in(measurer, other_clinic, clinic):
    assert person_for(measurer.user, other_clinic.pk).clinic == clinic


def test_a_role_that_waits_or_has_ended_counts_for_nothing(measurer, system_administrator, clinic):
    waiting = services.grant_role(user=measurer.user, clinic=clinic, role="reporter", by=system_administrator)
    held = measurer.user.memberships.get(role="measurer")
    services.end_role(membership=held, by=system_administrator)

    assert not waiting.in_force
    assert person_for(measurer.user, clinic.pk).roles == frozenset()


def test_a_disabled_person_may_do_nothing_even_in_a_job_begun_before(measurer, system_administrator):
    services.disable_member(user=measurer.user, by=system_administrator)

    assert not allowed(person_for(measurer.user), "measure")
