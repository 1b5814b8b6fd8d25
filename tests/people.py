"""The cast of every test: one person a role in Alder House, and an outsider from Lock Street."""

import hashlib
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client

from access import clock, trail_guard
from access.matrix import matrix
from access.middleware import CLINIC_IN_SESSION, LAST_SEEN_AT, SECOND_FACTOR_DONE, SIGNED_IN_AT
from access.models import AccessToken, Clinic, Membership, User
from access.people import Person, person_for
from access.permissions import passes_url
from access.roles import Role


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup, django_db_blocker):
    """Let the test database, and only it, be emptied between two tests."""
    with django_db_blocker.unblock(), connection.cursor() as cursor:
        for statement in trail_guard.EMPTYING_DOWN[connection.vendor]:
            cursor.execute(statement)


@pytest.fixture
def clinic(db) -> Clinic:
    return Clinic.objects.create(
        name="Alder House", address="1 Alder Row, Fenmarsh", phone="00000 100 100", time_zone="Europe/London"
    )


@pytest.fixture
def other_clinic(db) -> Clinic:
    return Clinic.objects.create(
        name="Lock Street",
        address="2 Lock Street, Fenmarsh",
        phone="00000 200 200",
        time_zone="Europe/London",
    )


@pytest.fixture
def measurer(clinic) -> Person:
    return person("Mina Measurer", clinic, Role.MEASURER)


@pytest.fixture
def reporter(clinic) -> Person:
    return person("Rufus Reporter", clinic, Role.REPORTER)


@pytest.fixture
def wound_nurse(clinic) -> Person:
    return person("Wanda Woundnurse", clinic, Role.WOUND_TEAM)


@pytest.fixture
def administrator(clinic) -> Person:
    return person("Ada Administrator", clinic, Role.ADMINISTRATOR)


@pytest.fixture
def educator(clinic) -> Person:
    return person("Edda Educator", clinic, Role.EDUCATOR)


@pytest.fixture
def system_administrator(clinic) -> Person:
    """Serves all clinics and acts in Alder House."""
    return person("Sysa Systemsdottir", clinic, Role.SYSTEM_ADMINISTRATOR)


@pytest.fixture
def gateway(clinic) -> Person:
    """A device at the bedside, which sends with a token."""
    return device("Gateway of Alder House", clinic)


@pytest.fixture
def outsider(other_clinic) -> Person:
    """A measurer of the other clinic, who must never find anything of this one."""
    return person("Otto Outsider", other_clinic, Role.MEASURER)


@dataclass(frozen=True)
class Cast:
    """One person a role, all of one clinic."""

    clinic: Clinic
    measurer: Person
    reporter: Person
    wound_nurse: Person
    administrator: Person
    educator: Person
    system_administrator: Person
    gateway: Person
    # A program a role, with every scope; and one of the measurer's that may only look at jobs.
    programs: tuple[Person, ...]

    def everyone(self) -> list[Person]:
        return [
            self.measurer,
            self.reporter,
            self.wound_nurse,
            self.administrator,
            self.educator,
            self.system_administrator,
        ]

    def asking(self, name: str) -> list[Person]:
        """Everyone to try the address of this name with. Where a token means something: the device, the
        programs, and two people, since there a sign-in means nothing whoever's it is."""
        if not _by_token(name):
            return self.everyone()
        return [self.measurer, self.system_administrator, self.gateway, *self.programs]


def cast_of(name: str) -> Cast:
    """A new clinic of this name with its whole cast, for the walk through all pages."""
    clinic = Clinic.objects.create(name=name)
    measurer = person(f"Mina of {name}", clinic, Role.MEASURER)
    reporter = person(f"Rufus of {name}", clinic, Role.REPORTER)
    nurse = person(f"Wanda of {name}", clinic, Role.WOUND_TEAM)
    administrator = person(f"Ada of {name}", clinic, Role.ADMINISTRATOR)
    return Cast(
        clinic=clinic,
        measurer=measurer,
        reporter=reporter,
        wound_nurse=nurse,
        administrator=administrator,
        educator=person(f"Edda of {name}", clinic, Role.EDUCATOR),
        system_administrator=person(f"Sysa of {name}", clinic, Role.SYSTEM_ADMINISTRATOR),
        gateway=device(f"Gateway of {name}", clinic),
        programs=(
            *(program(f"Program for {one.name}", one) for one in (measurer, reporter, nurse, administrator)),
            program(f"Onlooker of {name}", measurer, "jobs.read"),
        ),
    )


@pytest.fixture
def client_as():
    """``client_as(person)`` gives a browser in which that person has signed in, second factor and all."""
    return signed_in_client


def person(full_name: str, clinic: Clinic, *roles: str) -> Person:
    """A new person holding ``roles``, each granted by one invented administrator and approved by another."""
    email = full_name.lower().replace(" ", ".") + "@fenmarsh.example"
    user = User.objects.create_user(email=email, full_name=full_name)
    granting, approving = _the_two_who_grant()
    for role in roles:
        Membership.objects.create(
            user=user,
            clinic=None if role == Role.SYSTEM_ADMINISTRATOR else clinic,
            role=role,
            granted_by=granting,
            approved_by=approving,
            approved_at=clock.now(),
        )
    return person_for(user, clinic.pk)


def device(name: str, clinic: Clinic) -> Person:
    """A bedside gateway with a token in force: ``token_of`` says which."""
    granting, _ = _the_two_who_grant()
    email = name.lower().replace(" ", ".") + "@gateway.invalid"
    user = User.objects.create(email=email, full_name=name, signs_in=False, password="!")
    Membership.objects.create(
        user=user,
        clinic=clinic,
        role=Role.GATEWAY,
        granted_by=granting,
        approved_by=granting,
        approved_at=clock.now(),
    )
    AccessToken.objects.create(
        user=user,
        token_hash=hashlib.sha256(token_of(user).encode()).hexdigest(),
        made_by=granting,
        expires_at=clock.now() + timedelta(days=1),
    )
    return person_for(user)


def program(name: str, lender: Person, *scopes: str) -> Person:
    """A program that acts for ``lender`` with these scopes, or all there are; its token is ``token_of``'s."""
    email = name.lower().replace(" ", ".") + "@program.invalid"
    user = User.objects.create(email=email, full_name=name, signs_in=False, password="!")
    AccessToken.objects.create(
        user=user,
        token_hash=hashlib.sha256(token_of(user).encode()).hexdigest(),
        clinic=lender.clinic,
        scopes=" ".join(scopes or matrix().scopes),
        made_by=lender.user,
        expires_at=clock.now() + timedelta(days=1),
    )
    return person_for(user)


def token_of(user: User) -> str:
    """The token of a device of the cast; real ones cannot be told from the account."""
    return f"token-of-account-{user.pk}"


def sending_client(who: Person) -> Client:
    """A program that sends with the token of this device."""
    return Client(headers={"Authorization": f"Bearer {token_of(who.user)}"})


def opens_for(who: Person, name: str, ability: str) -> bool:
    """Whether the address of this name opens for ``who``: people sign in, devices bring a token."""
    return passes_url(who, ability) and (not who.user.signs_in or not _by_token(name))


def client_for(who: Person) -> Client:
    """What ``who`` asks with: a browser signed in, or a device's token."""
    return signed_in_client(who) if who.user.signs_in else sending_client(who)


def _by_token(name: str) -> bool:
    return name in matrix().urls and matrix().urls[name].by_token


def signed_in_client(who: Person) -> Client:
    client = Client()
    client.force_login(who.user)
    session = client.session
    if who.clinic:
        session[CLINIC_IN_SESSION] = who.clinic.pk
    session[SIGNED_IN_AT] = session[LAST_SEEN_AT] = clock.now().isoformat()
    session[SECOND_FACTOR_DONE] = True
    # As if the password had been typed this moment, which some steps ask for.
    session["account_authentication_methods"] = [{"method": "password", "at": clock.now().timestamp()}]
    session["account_authentication_methods_user"] = str(who.user.pk)
    session.save()
    return client


def _the_two_who_grant() -> tuple[User, User]:
    def one(name: str) -> User:
        user, _ = User.objects.get_or_create(
            email=f"{name}@fenmarsh.example",
            defaults={"full_name": f"{name.title()} Grantley", "password": "!"},
        )
        return user

    return one("first"), one("second")
