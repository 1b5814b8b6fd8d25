"""Programs: each acts for the person who lent it some of their own abilities, and never opens more."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError
from django.urls import reverse

from access import clock, queries, tokens
from access.models import AccessToken, Membership, TrailRow
from access.people import person_for
from access.permissions import allowed, require
from access.roles import Role
from tests.people import person


@pytest.fixture
def added(measurer):
    """A program of the measurer's that may read patients and write exams, and its token."""
    scopes = ["exams.write", "patients.read"]
    return tokens.add_program(name="Ward list", scopes=scopes, days=90, by=measurer)


def acting(added):
    return tokens.whose(added[1]).person


def test_a_program_opens_what_its_person_opens_as_far_as_its_scopes_reach(added, clinic):
    program = acting(added)

    assert (program.name, program.clinic, program.roles) == ("Ward list", clinic, {"measurer"})
    assert [allowed(program, one) for one in ("see patient", "measure")] == [True, True]
    assert [allowed(program, one) for one in ("see exam", "make report", "manage staff")] == [False] * 3


def test_a_scope_of_a_right_that_its_person_has_not_opens_nothing(wound_nurse):
    _, token = tokens.add_program(name="Ward list", scopes=["exams.write"], days=9, by=wound_nurse)

    program = tokens.whose(token).person

    assert [allowed(program, one) for one in ("book exam", "measure")] == [True, False]


def test_nobody_lends_what_none_of_their_roles_opens(wound_nurse):
    with pytest.raises(ValidationError, match=r"cannot lend “measures.read”"):
        tokens.add_program(name="Ward list", scopes=["measures.read"], days=9, by=wound_nurse)


def test_whoever_has_nothing_to_lend_adds_no_program(educator, system_administrator):
    for one in (educator, system_administrator):
        with pytest.raises(PermissionDenied):
            tokens.add_program(name="Ward list", scopes=["jobs.read"], days=9, by=one)


def test_a_program_cannot_make_another(added):
    with pytest.raises(PermissionDenied):
        tokens.add_program(name="Its child", scopes=["patients.read"], days=9, by=acting(added))


def test_a_role_that_ends_takes_from_the_program_what_it_opened(added, measurer):
    Membership.objects.filter(user=measurer.user).update(ended_at=clock.now(), ended_by=measurer.user)

    assert tokens.whose(added[1]).fault == "nobody_behind"


def test_in_another_clinic_its_person_lends_it_nothing(clinic, other_clinic, added, measurer):
    Membership.objects.filter(user=measurer.user).update(clinic=other_clinic)

    assert person_for(added[0]).roles == frozenset()


@pytest.mark.parametrize("fault", ["expired", "revoked"])
def test_a_token_that_is_over_opens_nothing_for_a_job_that_still_runs(added, measurer, fault):
    if fault == "revoked":
        tokens.revoke_program_token(queries.program(measurer, added[0].pk), by=measurer)
    with clock.at(clock.now() + timedelta(days=91 if fault == "expired" else 0)):
        assert tokens.whose(added[1]).fault == fault
        with pytest.raises(PermissionDenied):
            require(person_for(added[0]), "see patient")


def test_only_the_person_it_acts_for_gives_it_a_new_token(added, measurer, clinic):
    colleague = person("Cora Colleague", clinic, Role.MEASURER)
    with pytest.raises(ValidationError, match="acts for Mina Measurer"):
        tokens.renew_program_token(queries.program(colleague, added[0].pk), days=9, by=colleague)

    second = tokens.renew_program_token(queries.program(measurer, added[0].pk), days=9, by=measurer)

    assert tokens.whose(added[1]).fault == "revoked"
    assert tokens.whose(second).person.within == acting((added[0], second)).within
    assert allowed(tokens.whose(second).person, "see patient")


def test_a_colleague_may_stop_it_and_the_trail_says_who(added, wound_nurse):
    tokens.revoke_program_token(queries.program(wound_nurse, added[0].pk), by=wound_nurse)

    assert tokens.whose(added[1]).fault == "revoked"
    assert list(TrailRow.objects.order_by("pk").values_list("action", "user__full_name")) == [
        ("program added", "Mina Measurer"),
        ("program token made", "Mina Measurer"),
        ("program token revoked", "Wanda Woundnurse"),
    ]


def test_the_database_keeps_scopes_and_clinic_together(added):
    with pytest.raises(IntegrityError):
        AccessToken.objects.update(clinic=None)


def test_the_page_offers_only_what_can_be_lent_and_shows_the_token_once(client_as, wound_nurse):
    client = client_as(wound_nurse)
    offered = client.get(reverse("access:add_program")).content.decode()
    assert ("referrals.write" in offered, "measures.read" in offered) == (True, False)

    typed = {"name": "Ward list", "scopes": ["patients.read"], "days": "30"}
    shown = client.post(reverse("access:add_program"), typed)

    token = shown.context["token"]
    assert token in shown.content.decode()
    listed = client.get(reverse("access:programs")).content.decode()
    assert ("Ward list" in listed, token in listed) == (True, False)


def test_what_is_missing_is_said_at_its_field(client_as, wound_nurse):
    answer = client_as(wound_nurse).post(reverse("access:add_program"), {"name": "", "days": "0"})

    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"name", "scopes", "days"}
