"""Accounts, roles and clinics, and who may hand them out."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.management import CommandError, call_command
from django.db import IntegrityError
from django.urls import reverse

from access import clock, queries, services
from access.models import Membership, TrailRow, User
from access.people import person_for
from tests.people import person

PASSWORD = "a walk along the quiet fen"
NELL = {"email": "nell@fenmarsh.example", "full_name": "Nell Newcomer"}


@pytest.fixture
def newcomer(system_administrator):
    user, _ = services.add_member(**NELL, by=system_administrator)
    return user


@pytest.fixture
def waiting(newcomer, clinic, system_administrator):
    return services.grant_role(user=newcomer, clinic=clinic, role="measurer", by=system_administrator)


def test_a_new_member_cannot_sign_in_before_the_link_is_used(newcomer):
    assert not newcomer.has_usable_password()


def test_one_person_one_account_whatever_the_capitals(newcomer, system_administrator):
    with pytest.raises(ValidationError, match="Somebody already signs in with this email"):
        services.add_member(email="NELL@fenmarsh.example", full_name="Nell Again", by=system_administrator)


def test_the_link_sets_a_password_once(system_administrator):
    user, token = services.add_member(**NELL, by=system_administrator)
    services.set_password_by_link(token=token, password=PASSWORD)

    user.refresh_from_db()
    assert user.check_password(PASSWORD)
    with pytest.raises(ValidationError, match="used or is too old"):
        services.set_password_by_link(token=token, password="another walk along the fen")


def test_a_link_older_than_three_days_is_over(system_administrator):
    _, token = services.add_member(**NELL, by=system_administrator)

    with clock.at(clock.now() + timedelta(hours=73)), pytest.raises(ValidationError, match="too old"):
        services.set_password_by_link(token=token, password=PASSWORD)


def test_a_new_link_puts_the_earlier_one_out_of_use(newcomer, system_administrator):
    first = services.new_password_link(user=newcomer, by=system_administrator)
    services.new_password_link(user=newcomer, by=system_administrator)

    with pytest.raises(ValidationError, match="too old"):
        services.set_password_by_link(token=first, password=PASSWORD)


def test_the_token_is_not_stored(system_administrator):
    user, token = services.add_member(**NELL, by=system_administrator)

    assert token not in str(user.set_password_links.values())
    assert token not in str(TrailRow.objects.values())


@pytest.mark.parametrize("password", ["elevenchars", "1q2w3e4r5t6y"])
def test_a_short_or_common_password_is_refused_in_words(client, newcomer, system_administrator, password):
    token = services.new_password_link(user=newcomer, by=system_administrator)

    answer = client.post(
        reverse("access:first_password", args=[token]), {"password": password, "again": password}
    )

    assert answer.status_code == 422
    assert "This password is" in answer.content.decode()


def test_two_passwords_that_differ_are_refused_at_the_second(client, newcomer, system_administrator):
    token = services.new_password_link(user=newcomer, by=system_administrator)

    answer = client.post(
        reverse("access:first_password", args=[token]), {"password": PASSWORD, "again": "something else"}
    )

    assert answer.context["form"].errors["again"] == [
        "The two are not the same. Type the new password again in both places."
    ]


def test_a_used_link_shows_what_to_do(client, db):
    answer = client.get(reverse("access:first_password", args=["no-such-token"]))

    assert answer.status_code == 410
    assert "Ask your system administrator for another" in answer.content.decode()


@pytest.mark.parametrize("address", ["add_member", "add_clinic", "add_gateway"])
def test_what_is_left_empty_is_asked_for_at_its_field_in_our_words(client_as, system_administrator, address):
    answer = client_as(system_administrator).post(reverse(f"access:{address}"), {"name": ""})

    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "This field is required" not in shown
    assert shown.count('class="wrong"') == len(answer.context["form"].errors) > 0


def test_signing_in_without_a_word_asks_for_both_in_our_words(client, db):
    answer = client.post(reverse("account_login"), {"login": "", "password": ""})

    assert answer.context["form"].errors == {
        "login": ["Write your email."],
        "password": ["Write your password."],
    }


def test_no_role_is_granted_by_pressing_the_button_alone(client_as, system_administrator, newcomer, clinic):
    asked = reverse("access:grant_role", args=[newcomer.pk])

    answer = client_as(system_administrator).post(asked, {"role": "", "clinic": clinic.pk})

    assert "Choose the role to grant." in answer.content.decode()
    assert not newcomer.memberships.exists()


def test_no_role_of_a_disabled_account_waits_for_a_yes(
    waiting, newcomer, administrator, system_administrator
):
    services.disable_member(user=newcomer, by=system_administrator)

    assert not queries.roles_waiting(administrator).exists()


def test_a_clinical_role_waits_for_a_second_person(waiting, newcomer, clinic):
    assert not waiting.in_force
    assert person_for(newcomer, clinic.pk).roles == frozenset()


def test_the_second_persons_yes_puts_the_role_in_force(waiting, newcomer, clinic, administrator):
    services.approve_role(membership=waiting, by=administrator)

    assert person_for(newcomer, clinic.pk).roles == {"measurer"}


def test_whoever_granted_a_role_cannot_approve_it(waiting, system_administrator):
    with pytest.raises(PermissionDenied):
        services.approve_role(membership=waiting, by=system_administrator)


def test_nobody_approves_a_role_for_themselves(administrator, clinic, system_administrator):
    own = services.grant_role(
        user=administrator.user, clinic=clinic, role="reporter", by=system_administrator
    )

    with pytest.raises(PermissionDenied):
        services.approve_role(membership=own, by=administrator)


def test_an_administrator_approves_for_their_own_clinic_only(waiting, other_clinic):
    stranger = person("Ava Administrator", other_clinic, "administrator")

    with pytest.raises(PermissionDenied):
        services.approve_role(membership=waiting, by=stranger)


def test_the_database_too_wants_two_people_behind_a_clinical_role(newcomer, clinic, administrator):
    with pytest.raises(IntegrityError, match="two_people_stand_behind"):
        Membership.objects.create(
            user=newcomer,
            clinic=clinic,
            role="measurer",
            granted_by=administrator.user,
            approved_by=administrator.user,
            approved_at=clock.now(),
        )


def test_a_second_system_administrator_needs_a_second_person_too(newcomer, system_administrator):
    granted = services.grant_role(
        user=newcomer, clinic=None, role="system_administrator", by=system_administrator
    )

    assert not granted.in_force


def test_a_refused_role_is_never_held(waiting, newcomer, clinic, administrator):
    services.refuse_role(membership=waiting, by=administrator)

    assert person_for(newcomer, clinic.pk).roles == frozenset()


def test_a_decision_is_made_once(waiting, administrator):
    services.refuse_role(membership=waiting, by=administrator)

    with pytest.raises(ValidationError, match="decided about this role already"):
        services.approve_role(membership=waiting, by=administrator)


def test_a_role_is_not_granted_twice(waiting, newcomer, clinic, system_administrator):
    with pytest.raises(ValidationError, match="there already"):
        services.grant_role(user=newcomer, clinic=clinic, role="measurer", by=system_administrator)


def test_an_administrators_role_needs_no_second_person(newcomer, clinic, system_administrator):
    services.grant_role(user=newcomer, clinic=clinic, role="administrator", by=system_administrator)

    assert person_for(newcomer, clinic.pk).roles == {"administrator"}


def test_the_service_keeps_one_system_administrator(system_administrator):
    only = system_administrator.user.memberships.get()

    with pytest.raises(ValidationError, match="must keep one system administrator"):
        services.end_role(membership=only, by=system_administrator)


def test_nobody_disables_their_own_account(system_administrator):
    with pytest.raises(ValidationError, match="your own account"):
        services.disable_member(user=system_administrator.user, by=system_administrator)


def test_every_step_of_a_role_is_in_the_trail_of_its_clinic(
    waiting, clinic, administrator, system_administrator
):
    services.approve_role(membership=waiting, by=administrator)
    services.end_role(membership=waiting, by=system_administrator)

    said = TrailRow.objects.filter(clinic=clinic, subject_type="access.membership")
    assert [row.action for row in said.order_by("sequence")] == [
        "role granted, waits for a second person",
        "role approved",
        "role ended",
    ]


def test_the_first_system_administrator_is_made_on_the_machine_itself(db, monkeypatch):
    user = services.create_first_administrator(
        email="Sam@fenmarsh.example", full_name="Sam Hythe", password=PASSWORD
    )

    assert person_for(user).roles == {"system_administrator"}
    assert user.email == "sam@fenmarsh.example"


def test_there_is_one_first_system_administrator(system_administrator):
    with pytest.raises(ValidationError, match="a system administrator already"):
        services.create_first_administrator(email="x@fenmarsh.example", full_name="Xan", password=PASSWORD)


def test_the_command_reads_the_password_from_a_pipe(db, monkeypatch, tmp_path):
    typed = tmp_path / "typed"
    typed.write_text(PASSWORD + "\n", encoding="utf-8")
    with typed.open(encoding="utf-8") as pipe:
        monkeypatch.setattr("sys.stdin", pipe)
        call_command("create_first_administrator", "sam@fenmarsh.example", "Sam Hythe")

    assert User.objects.get().check_password(PASSWORD)


def test_the_command_refuses_a_weak_password_in_words(db, monkeypatch, tmp_path):
    typed = tmp_path / "typed"
    typed.write_text("short\n", encoding="utf-8")
    with typed.open(encoding="utf-8") as pipe:
        monkeypatch.setattr("sys.stdin", pipe)
        with pytest.raises(CommandError, match="too short"):
            call_command("create_first_administrator", "sam@fenmarsh.example", "Sam Hythe")

    assert not User.objects.exists()


def test_a_changed_clinic_keeps_the_old_values_in_the_trail(administrator, clinic):
    services.change_clinic(
        clinic=clinic,
        name="Alder House",
        address="9 Alder Row",
        phone=clinic.phone,
        time_zone="Europe/London",
        toes_first=True,
        by=administrator,
    )

    assert TrailRow.objects.get().details == {
        "address": ["1 Alder Row, Fenmarsh", "9 Alder Row"],
        "toes_first": [False, True],
    }


def test_a_clinic_that_is_named_twice_is_refused_at_the_field(client_as, administrator, other_clinic):
    typed = {"name": other_clinic.name, "time_zone": "Europe/London", "toes_first": "no"}

    answer = client_as(administrator).post(reverse("access:clinic"), typed)

    assert answer.status_code == 422
    assert "name" in answer.context["form"].errors


def test_one_switches_between_ones_own_clinics(client_as, clinic, other_clinic):
    both = person("Bo Both", clinic, "administrator")
    Membership.objects.create(user=both.user, clinic=other_clinic, role="educator", approved_at=clock.now())
    client = client_as(both)

    client.post(reverse("access:switch_clinic"), {"clinic": other_clinic.pk})

    assert client.get(reverse("access:account")).wsgi_request.person.clinic == other_clinic
    assert TrailRow.objects.get(action="clinic chosen").clinic == other_clinic


def test_one_cannot_switch_to_a_clinic_without_a_role(client_as, measurer, other_clinic):
    answer = client_as(measurer).post(reverse("access:switch_clinic"), {"clinic": other_clinic.pk})

    assert answer.status_code == 422
    assert other_clinic.name not in answer.content.decode()


def test_accounts_that_nobody_used_for_ninety_days_are_named_until_they_are_disabled(
    system_administrator, measurer, reporter, client_as
):
    def last_signed_in(person, days):
        User.objects.filter(pk=person.user.pk).update(last_login=clock.now() - timedelta(days=days))

    client = client_as(system_administrator)
    last_signed_in(measurer, 91)
    last_signed_in(reporter, 89)

    page = client.get(reverse("access:staff")).text
    assert "1 account was not used for 90 days" in page
    assert page.count("not for 90 days") == 1

    services.disable_member(user=measurer.user, by=system_administrator)
    assert "was not used" not in client.get(reverse("access:staff")).text
