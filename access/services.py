"""What changes people, clinics and roles. Each is one act with its line in the trail."""

import hashlib
import secrets
from dataclasses import replace
from datetime import timedelta

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock, queries
from access.models import Clinic, Membership, QueueKey, SetPasswordLink, User
from access.people import Person, person_for
from access.permissions import NotHere, require
from access.roles import ROLES_NEEDING_APPROVAL, ROLES_OF_PEOPLE, Role
from access.second_factor import SECOND_FACTORS
from access.trail import one_act, record

LINK_GOOD_FOR = timedelta(hours=72)
QUEUE_KEY_GOOD_FOR = timedelta(hours=24)


@one_act()
def create_first_administrator(*, email: str, full_name: str, password: str) -> User:
    """The first system administrator, made on the machine itself.

    Raises
    ------
    ValidationError
        If there is one already (the next is granted by two people), or the email or password will not do.
    """
    if Membership.objects.filter(role=Role.SYSTEM_ADMINISTRATOR, ended_at=None).exists():
        raise ValidationError(
            "There is a system administrator already, who can add the next one under Staff."
        )
    user = User(email=email.strip().lower(), full_name=full_name.strip())
    _give_password(user, password)
    user.full_clean()
    user.save()
    Membership.objects.create(user=user, role=Role.SYSTEM_ADMINISTRATOR, approved_at=clock.now())
    record(None, "first system administrator created", user)
    return user


@one_act()
def add_clinic(
    *, name: str, address: str, phone: str, time_zone: str, toes_first: bool, by: Person
) -> Clinic:
    require(by, "manage staff")
    clinic = Clinic(name=name, address=address, phone=phone, time_zone=time_zone, toes_first=toes_first)
    clinic.full_clean()
    clinic.save()
    record(replace(by, clinic=clinic), "clinic added", clinic, details={"name": name})
    return clinic


@one_act()
def change_clinic(
    *, clinic: Clinic, name: str, address: str, phone: str, time_zone: str, toes_first: bool, by: Person
) -> Clinic:
    """Change what a clinic is called and how it works; the old values stay in the trail."""
    require(by, "manage clinic", clinic)
    new = {
        "name": name,
        "address": address,
        "phone": phone,
        "time_zone": time_zone,
        "toes_first": toes_first,
    }
    changed = {
        key: [getattr(clinic, key), value] for key, value in new.items() if getattr(clinic, key) != value
    }
    for key, value in new.items():
        setattr(clinic, key, value)
    clinic.full_clean()
    clinic.save()
    record(by, "clinic changed", clinic, details=changed)
    return clinic


@one_act()
def add_member(*, email: str, full_name: str, by: Person) -> tuple[User, str]:
    """A new account without a password, and the token of the link that sets one. The token is shown once."""
    require(by, "manage staff")
    user = User.objects.create_user(email=email, full_name=full_name)
    record(by, "member added", user, details={"email": user.email})
    return user, _new_link(user, by)


@one_act()
def new_password_link(*, user: User, by: Person) -> str:
    """A fresh set-password link for somebody who lost their password. Earlier links stop working."""
    require(by, "manage staff")
    if not user.signs_in:
        raise ValidationError("A device has no password. Give it a new token instead.")
    if not user.is_active:
        raise ValidationError("This account is disabled. Enable it first.")
    token = _new_link(user, by)
    record(by, "set-password link made", user)
    return token


@one_act()
def set_password_by_link(*, token: str, password: str) -> User:
    """Set the password of the account this link belongs to. The link is used up, other sign-ins end.

    Raises
    ------
    ValidationError
        On field ``password`` if it will not do; without a field if the link is no longer good.
    """
    link = queries.link_for(token)
    if link is None:
        raise ValidationError(
            "This link has been used or is too old. Ask your system administrator for another."
        )
    user = link.user
    try:
        _give_password(user, password)
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from None
    user.save(update_fields=["password"])
    link.used_at = clock.now()
    link.save(update_fields=["used_at"])
    _end_sign_ins(user)
    record(person_for(user), "password set by link", user)
    return user


@one_act()
def grant_role(*, user: User, clinic: Clinic | None, role: str, by: Person) -> Membership:
    """Give ``user`` a role. Clinical roles and the system administrator's wait for a second person."""
    require(by, "manage staff")
    if role not in ROLES_OF_PEOPLE or not user.signs_in:
        raise ValidationError({"role": "A device has one role, which it gets when it is added."})
    if role == Role.SYSTEM_ADMINISTRATOR:
        clinic = None
    elif clinic is None:
        raise ValidationError({"clinic": "Choose the clinic in which this role is held."})
    if not user.is_active:
        raise ValidationError("This account is disabled. Enable it first.")
    if Membership.objects.filter(user=user, clinic=clinic, role=role, ended_at=None).exists():
        raise ValidationError({"role": "This role is held, or waits for approval, there already."})
    granted = Membership(user=user, clinic=clinic, role=role, granted_by=by.user)
    waits = role in ROLES_NEEDING_APPROVAL
    if not waits:
        granted.approved_by, granted.approved_at = by.user, clock.now()
    granted.full_clean()
    granted.save()
    if not waits:
        _end_sign_ins(user)
    action = "role granted, waits for a second person" if waits else "role granted"
    record(_for_the_clinic_of(granted, by), action, granted, details=_said(granted))
    return granted


@one_act()
def approve_role(*, membership: Membership, by: Person) -> Membership:
    """The second person's yes. Never by whoever granted the role, nor by whoever receives it."""
    _may_decide(membership, by)
    if not membership.user.is_active:
        raise ValidationError("This account is disabled. Enable it first.")
    membership.approved_by, membership.approved_at = by.user, clock.now()
    membership.full_clean()
    membership.save()
    _end_sign_ins(membership.user)
    record(_for_the_clinic_of(membership, by), "role approved", membership, details=_said(membership))
    return membership


@one_act()
def refuse_role(*, membership: Membership, by: Person) -> Membership:
    """The second person's no; the role is never held."""
    _may_decide(membership, by)
    membership.ended_by, membership.ended_at = by.user, clock.now()
    membership.save()
    record(_for_the_clinic_of(membership, by), "role refused", membership, details=_said(membership))
    return membership


@one_act()
def end_role(*, membership: Membership, by: Person) -> Membership:
    """Take a role away, at once: the person's sign-ins end with it."""
    require(by, "manage staff")
    if membership.ended_at is not None:
        raise ValidationError("This role has ended already.")
    _keep_one_system_administrator(without=[membership])
    membership.ended_by, membership.ended_at = by.user, clock.now()
    membership.save()
    _end_sign_ins(membership.user)
    record(_for_the_clinic_of(membership, by), "role ended", membership, details=_said(membership))
    return membership


@one_act()
def disable_member(*, user: User, by: Person) -> User:
    """Close an account at once. Its roles stay on record and count again if it is enabled."""
    require(by, "manage staff")
    if user == by.user:
        raise ValidationError("You cannot disable your own account. Ask another system administrator.")
    if not user.is_active:
        raise ValidationError("This account is disabled already.")
    _keep_one_system_administrator(without=list(user.memberships.all()))
    user.is_active, user.disabled_at = False, clock.now()
    user.save(update_fields=["is_active", "disabled_at"])
    QueueKey.objects.filter(user=user).delete()
    SetPasswordLink.objects.filter(user=user, used_at=None).delete()
    _end_sign_ins(user)
    record(by, "account disabled", user)
    return user


@one_act()
def enable_member(*, user: User, by: Person) -> User:
    require(by, "manage staff")
    if user.is_active:
        raise ValidationError("This account is enabled already.")
    user.is_active, user.disabled_at = True, None
    user.save(update_fields=["is_active", "disabled_at"])
    record(by, "account enabled", user)
    return user


@one_act()
def end_own_sign_ins(*, ending: list[UserSession], by: Person) -> int:
    """End some of one's own sign-ins; how many there were.

    Raises
    ------
    NotHere
        If one of them is somebody else's.
    """
    if any(sign_in.user_id != by.user.pk for sign_in in ending):
        raise NotHere("the sign-in of another person")
    for sign_in in ending:
        sign_in.end()
    record(by, "own sign-ins ended", by.user, details={"count": len(ending)})
    return len(ending)


@one_act()
def end_sign_ins(*, user: User, by: Person) -> int:
    """End every sign-in of ``user``, on every machine; how many there were."""
    require(by, "manage staff")
    count = _end_sign_ins(user)
    record(by, "sign-ins ended", user, details={"count": count})
    return count


@one_act()
def reset_second_factor(*, user: User, by: Person) -> User:
    """Forget a lost second factor. The person sets up a new one at the next sign-in."""
    require(by, "manage staff")
    if user == by.user:
        raise ValidationError("Another system administrator has to reset your second factor.")
    Authenticator.objects.filter(user=user).delete()
    _end_sign_ins(user)
    record(by, "second factor reset", user)
    return user


@one_act()
def remove_passkey(*, number: int, by: Person) -> None:
    """Forget a passkey of one's own, as long as another second factor stays.

    Raises
    ------
    NotHere
        If it is not theirs.
    ValidationError
        If it is the last one.
    """
    factors = Authenticator.objects.select_for_update().filter(user=by.user, type__in=SECOND_FACTORS)
    own = {one.pk: one for one in factors}
    passkey = own.get(number)
    if passkey is None or passkey.type != Authenticator.Type.WEBAUTHN:
        raise NotHere("no passkey of this person")
    if len(own) == 1:
        raise ValidationError(
            "This is your only second factor, so it stays. Set up a code generator or another passkey first."
        )
    passkey.delete()
    record(by, "second factor removed", by.user, details={"what": "passkey"})


@one_act()
def act_in_clinic(*, clinic_id: int, by: Person) -> Clinic:
    """Choose the clinic to act in; the line stands in that clinic's trail.

    Raises
    ------
    NotHere
        If the clinic is not open to ``by``.
    """
    chosen = next((clinic for clinic in queries.clinics_open_to(by) if clinic.pk == clinic_id), None)
    if chosen is None:
        raise NotHere("not a clinic of this person")
    record(person_for(by.user, chosen.pk), "clinic chosen", chosen)
    return chosen


@one_act()
def hand_out_queue_key(*, by: Person) -> QueueKey:
    """The key for values waiting in this person's browser: the same one until it expires or they sign out."""
    now = clock.now()
    held = QueueKey.objects.select_for_update().filter(user=by.user).first()
    if held is not None and held.expires_at > now:
        return held
    fresh, _ = QueueKey.objects.update_or_create(
        user=by.user,
        defaults={"key": secrets.token_bytes(32), "made_at": now, "expires_at": now + QUEUE_KEY_GOOD_FOR},
    )
    return fresh


def _may_decide(membership: Membership, by: Person) -> None:
    require(by, "approve roles")
    if membership.approved_at is not None or membership.ended_at is not None:
        raise ValidationError("Somebody has decided about this role already.")
    if by.user.pk in (membership.granted_by_id, membership.user_id):
        raise PermissionDenied("somebody else has to decide about this role")
    own_clinic = membership.clinic_id is None or (by.clinic and membership.clinic_id == by.clinic.pk)
    if Role.SYSTEM_ADMINISTRATOR not in by.roles and not own_clinic:
        raise PermissionDenied("a role of another clinic")


def _keep_one_system_administrator(*, without: list[Membership]) -> None:
    ending = [one.pk for one in without if one.role == Role.SYSTEM_ADMINISTRATOR and one.in_force]
    if not ending:
        return
    left = Membership.objects.filter(
        role=Role.SYSTEM_ADMINISTRATOR, ended_at=None, approved_at__isnull=False, user__is_active=True
    ).exclude(pk__in=ending)
    if not left.exists():
        raise ValidationError("The service must keep one system administrator. Add another first.")


def _for_the_clinic_of(membership: Membership, by: Person) -> Person:
    """The line about a role belongs to the trail of the clinic where it is held."""
    return replace(by, clinic=membership.clinic)


def _said(membership: Membership) -> dict[str, object]:
    return {"user": membership.user_id, "role": membership.role}


def _new_link(user: User, by: Person) -> str:
    SetPasswordLink.objects.filter(user=user, used_at=None).delete()
    token = secrets.token_urlsafe(32)
    SetPasswordLink.objects.create(
        user=user,
        token_hash=hashlib.sha256(token.encode()).hexdigest(),
        made_by=by.user,
        made_at=clock.now(),
        expires_at=clock.now() + LINK_GOOD_FOR,
    )
    return token


def _give_password(user: User, password: str) -> None:
    validate_password(password, user)
    user.set_password(password)


def _end_sign_ins(user: User) -> int:
    sign_ins = list(UserSession.objects.filter(user=user))
    for sign_in in sign_ins:
        sign_in.end()
    return len(sign_ins)
