"""What the access room reads, and for whom."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.db.models import BooleanField, ExpressionWrapper, F, Prefetch, Q, QuerySet

from access import clock
from access.matrix import matrix
from access.models import AccessToken, Clinic, Membership, SetPasswordLink, TrailRow, User
from access.people import Person
from access.permissions import NotHere, require
from access.roles import Role

TRAIL_ROWS_A_PAGE = 100
UNUSED_DAYS = 90  # workflow.md S46


def clinics_open_to(by: Person) -> list[Clinic]:
    """The clinics ``by`` may act in: their own, or every one for a system administrator."""
    if Role.SYSTEM_ADMINISTRATOR in by.roles:
        return list(Clinic.objects.all())
    return list(
        Clinic.objects.filter(
            memberships__user=by.user,
            memberships__ended_at=None,
            memberships__approved_at__isnull=False,
        ).distinct()
    )


def sign_ins_of(by: Person) -> list[UserSession]:
    """Where this person is signed in now, the earliest first. Those that have run out are cleared away."""
    return sorted(UserSession.objects.purge_and_list(by.user), key=lambda sign_in: sign_in.created_at)


def passkeys_of(by: Person) -> QuerySet[Authenticator]:
    """The passkeys of this person."""
    return Authenticator.objects.filter(user=by.user, type=Authenticator.Type.WEBAUTHN)


def roles_of(by: Person) -> QuerySet[Membership]:
    """The roles a person holds anywhere, for their own page."""
    return (
        Membership.objects.filter(user=by.user, ended_at=None)
        .select_related("clinic")
        .order_by("clinic__name", "role")
    )


def staff(by: Person) -> list[User]:
    """All people's accounts, disabled ones last, each with its roles at hand, and whether it is ``unused``:
    in force, but nobody signed in with it for so many days."""
    require(by, "manage staff")
    since = clock.now() - timedelta(days=UNUSED_DAYS)
    held = Membership.objects.filter(ended_at=None).select_related("clinic").order_by("clinic__name", "role")
    people = User.objects.filter(signs_in=True).annotate(
        # Of somebody who never signed in the comparison alone would be neither true nor false.
        unused=ExpressionWrapper(
            Q(is_active=True, last_login__isnull=False, last_login__lt=since), BooleanField()
        )
    )
    with_roles = people.prefetch_related(Prefetch("memberships", held, to_attr="held"))
    return list(with_roles.order_by("-is_active", "full_name"))


def member(by: Person, user_id: int) -> User:
    require(by, "manage staff")
    found = User.objects.filter(pk=user_id, signs_in=True).first()
    if found is None:
        raise NotHere("no such account")
    return found


def all_clinics(by: Person) -> QuerySet[Clinic]:
    require(by, "manage staff")
    return Clinic.objects.all()


def memberships_of(by: Person, user: User) -> QuerySet[Membership]:
    """Every role this user has or had, the present ones first, newest first."""
    require(by, "manage staff")
    return (
        Membership.objects.filter(user=user)
        .select_related("clinic", "granted_by", "approved_by", "ended_by")
        .order_by(F("ended_at").desc(nulls_first=True), "-granted_at")
    )


def membership(by: Person, membership_id: int) -> Membership:
    require(by, "manage staff")
    found = Membership.objects.select_related("user", "clinic").filter(pk=membership_id).first()
    if found is None:
        raise NotHere("no such role")
    return found


def roles_waiting(by: Person) -> QuerySet[Membership]:
    """Roles granted by one person that wait for a second: all for a system administrator, else the clinic's
    own and those of the service. None of an account that was disabled meanwhile."""
    return _waiting(by).filter(user__is_active=True)


def role_waiting(by: Person, membership_id: int) -> Membership:
    found = _waiting(by).filter(pk=membership_id).first()
    if found is None:
        raise NotHere("no such role waits here")
    return found


def _waiting(by: Person) -> QuerySet[Membership]:
    require(by, "approve roles")
    waiting = (
        Membership.objects.filter(ended_at=None, approved_at=None)
        .select_related("user", "clinic", "granted_by")
        .order_by("granted_at")
    )
    if Role.SYSTEM_ADMINISTRATOR in by.roles:
        return waiting
    return waiting.filter(Q(clinic=by.clinic) | Q(clinic=None))


@dataclass(frozen=True)
class Gateway:
    """A device at the bedside: its account, its clinic, and the token it has or had last."""

    user: User
    clinic: Clinic
    token: AccessToken


def gateways(by: Person) -> list[Gateway]:
    """Every device of every clinic, by clinic and name."""
    require(by, "manage gateways")
    tokens: dict[int, AccessToken] = {}
    for token in AccessToken.objects.select_related("made_by", "revoked_by").order_by("made_at", "pk"):
        tokens[token.user_id] = token
    held = (
        Membership.objects.filter(role=Role.GATEWAY)
        .select_related("user", "clinic")
        .order_by("clinic__name", "user__full_name")
    )
    return [
        Gateway(user=one.user, clinic=one.clinic, token=tokens[one.user_id])
        for one in held
        if one.clinic is not None
    ]


def gateway(by: Person, user_id: int) -> Gateway:
    found = next((one for one in gateways(by) if one.user.pk == user_id), None)
    if found is None:
        raise NotHere("no such gateway")
    return found


@dataclass(frozen=True)
class Program:
    """A program that acts for a person: its account, its clinic, and the token it has or had last."""

    user: User
    clinic: Clinic
    token: AccessToken

    @property
    def scopes(self) -> list[str]:
        """What it was lent, in words."""
        known = matrix().scopes
        return [known[name].words if name in known else name for name in self.token.scopes.split()]

    @property
    def clinic_id(self) -> int:
        return self.clinic.pk


def programs(by: Person) -> list[Program]:
    """The programs of the clinic acted in, or of all for a system administrator, by clinic and name.

    Everybody who works there sees them and can stop one: a token in the wrong hands is urgent.
    """
    require(by, "see programs")
    newest: dict[int, AccessToken] = {}
    lent = AccessToken.objects.exclude(scopes="").select_related("user", "clinic", "made_by", "revoked_by")
    if Role.SYSTEM_ADMINISTRATOR not in by.roles:
        lent = lent.filter(clinic=by.clinic)
    for token in lent.order_by("clinic__name", "user__full_name", "pk"):
        newest[token.user_id] = token
    return [Program(one.user, one.clinic, one) for one in newest.values() if one.clinic is not None]


def program(by: Person, user_id: int) -> Program:
    found = next((one for one in programs(by) if one.user.pk == user_id), None)
    if found is None:
        raise NotHere("no such program")
    return found


def link_for(token: str) -> SetPasswordLink | None:
    """The set-password link of this token if it is still good."""
    return (
        SetPasswordLink.objects.select_related("user")
        .filter(
            token_hash=hashlib.sha256(token.encode()).hexdigest(),
            used_at=None,
            expires_at__gt=clock.now(),
            user__is_active=True,
        )
        .first()
    )


@dataclass(frozen=True)
class TrailPage:
    """Some rows of one chain, newest first; ``older_than`` is the next page's start, None at the end."""

    rows: Sequence[TrailRow]
    older_than: int | None


def trail_page(
    by: Person,
    *,
    of_the_service: bool = False,
    user: User | None = None,
    day: date | None = None,
    patient_id: int | None = None,
    older_than: int | None = None,
) -> TrailPage:
    """Rows of the clinic acted in, or of the service for a system administrator.

    ``day`` is a day on the clinic's wall calendar.
    """
    rows = TrailRow.objects.filter(clinic=chain_read_by(by, of_the_service)).select_related("user")
    if user is not None:
        rows = rows.filter(user=user)
    if day is not None:
        begin, end = _day_in_clinic(by, day)
        rows = rows.filter(at__gte=begin, at__lt=end)
    if patient_id is not None:
        rows = rows.filter(patient_id=patient_id)
    if older_than is not None:
        rows = rows.filter(sequence__lt=older_than)
    found = list(rows.order_by("-sequence")[: TRAIL_ROWS_A_PAGE + 1])
    more = len(found) > TRAIL_ROWS_A_PAGE
    shown = found[:TRAIL_ROWS_A_PAGE]
    return TrailPage(rows=shown, older_than=shown[-1].sequence if more else None)


def people_in_trail(by: Person, of_the_service: bool = False) -> QuerySet[User]:
    """Everyone who appears in that chain, by name."""
    acted = TrailRow.objects.filter(clinic=chain_read_by(by, of_the_service)).values("user")
    return User.objects.filter(pk__in=acted).order_by("full_name")


def chain_read_by(by: Person, of_the_service: bool) -> Clinic | None:
    """Which chain ``by`` reads; None is the service's own, open to the system administrator only."""
    role = require(by, "check trail")
    if by.clinic is None or of_the_service:
        if Role.SYSTEM_ADMINISTRATOR not in by.roles:
            raise NotHere(f"the service's own trail is not for the {role}")
        return None
    return by.clinic


def _day_in_clinic(by: Person, day: date) -> tuple[datetime, datetime]:
    zone = by.clinic.zone if by.clinic else UTC
    midnight, next_midnight = (
        datetime.combine(one, time.min, zone) for one in (day, day + timedelta(days=1))
    )
    return midnight, next_midnight
