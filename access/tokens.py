"""Programs and their tokens: adding one, renewing and revoking, and who a token stands for.

A bedside gateway may only send, so a system administrator adds it. Any other program reads and writes the
record for a person, who lends it some of their own abilities and can never lend more.
"""

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.views.decorators.debug import sensitive_variables

from access import clock
from access.matrix import matrix
from access.models import AccessToken, Clinic, Membership, User
from access.people import Person, person_for
from access.permissions import allowed, require
from access.queries import Gateway, Program
from access.roles import Role
from access.trail import one_act, record

LONGEST_DAYS = 365

_WORTH_WRITING_AGAIN = timedelta(minutes=1)


@one_act()
def add_gateway(*, name: str, clinic: Clinic, days: int, by: Person) -> tuple[User, str]:
    """A device's own account in one clinic, and its token, which is shown once.

    No second person is asked: what it may do is send, and nothing of the record can be read with it.

    Raises
    ------
    ValidationError
        On ``name`` or ``days`` if they will not do.
    """
    require(by, "manage gateways")
    if Membership.objects.filter(role=Role.GATEWAY, clinic=clinic, user__full_name__iexact=name).exists():
        raise ValidationError({"name": "This clinic has a gateway of that name. Choose another name."})
    user = _account(name, "gateway.invalid")
    Membership.objects.create(
        user=user,
        clinic=clinic,
        role=Role.GATEWAY,
        granted_by=by.user,
        approved_by=by.user,
        approved_at=clock.now(),
    )
    record(replace(by, clinic=clinic), "gateway added", user, details={"what": name})
    return user, _new_token(user, clinic, days, by)


@one_act()
def add_program(*, name: str, scopes: Sequence[str], days: int, by: Person) -> tuple[User, str]:
    """A program's own account and its token, shown once. It acts for ``by`` in the clinic acted in.

    It opens what the roles of ``by`` open, today and on every later day, as far as the scopes reach: with a
    role that ends, it loses what that role opened.

    Raises
    ------
    ValidationError
        On ``name``, ``scopes`` or ``days`` if they will not do.
    """
    require(by, "lend to programs")
    if by.clinic is None:
        raise ValidationError("Choose the clinic you act in first.")
    lent = _lent_by(by, scopes)
    taken = AccessToken.objects.filter(clinic=by.clinic, user__full_name__iexact=name, revoked_at=None)
    if taken.exists():
        raise ValidationError({"name": "This clinic has a program of that name. Choose another name."})
    user = _account(name, "program.invalid")
    record(by, "program added", user, details={"what": name, "scopes": lent})
    return user, _new_token(user, by.clinic, days, by, " ".join(lent))


@one_act()
def renew_program_token(program: Program, *, days: int, by: Person) -> str:
    """Another token for a program, with the scopes it had; for the person it acts for and nobody else.

    Raises
    ------
    ValidationError
        If it acts for somebody else, or the person may no longer lend what it had.
    """
    require(by, "lend to programs", program)
    if program.token.made_by_id != by.user.pk:
        raise ValidationError(f"It acts for {program.token.made_by}: only they can give it a new token.")
    lent = _lent_by(by, program.token.scopes.split())
    _stop(program, by)
    return _new_token(program.user, program.clinic, days, by, " ".join(lent))


@one_act()
def revoke_program_token(program: Program, *, by: Person) -> None:
    """Take a program's token back, at once. Everybody who works in its clinic may: it is urgent.

    Raises
    ------
    ValidationError
        If it has none that could be revoked.
    """
    require(by, "see programs")
    if not _stop(program, by):
        raise ValidationError("Its token has been revoked already.")


@one_act()
def renew_token(gateway: Gateway, *, days: int, by: Person) -> str:
    """Another token for a device; the one it had stops working at once."""
    require(by, "manage gateways")
    _stop(gateway, by)
    return _new_token(gateway.user, gateway.clinic, days, by)


@one_act()
def revoke_token(gateway: Gateway, *, by: Person) -> None:
    """Take a device's token back, at once.

    Raises
    ------
    ValidationError
        If it has none that could be revoked.
    """
    require(by, "manage gateways")
    if not _stop(gateway, by):
        raise ValidationError("Its token has been revoked already.")


@dataclass(frozen=True)
class Shown:
    """What a program's token turned out to be. ``person`` is None unless the token is in force."""

    person: Person | None
    fault: str = ""  # "unknown", "expired", "revoked", "nobody_behind"
    account: User | None = None


@sensitive_variables("text")
def whose(text: str) -> Shown:
    """Who shows this token.

    It is found by its hash, so comparing takes the same time whatever was guessed of it.
    """
    token = AccessToken.objects.select_related("user").filter(token_hash=_hash(text)).first()
    if token is None:
        return Shown(None, "unknown")
    if token.revoked_at is not None or not token.user.is_active:
        return Shown(None, "revoked", token.user)
    now = clock.now()
    if token.expires_at <= now:
        return Shown(None, "expired", token.user)
    person = person_for(token.user)
    if not person.roles:
        return Shown(None, "nobody_behind", token.user)
    if token.last_used_at is None or now - token.last_used_at > _WORTH_WRITING_AGAIN:
        AccessToken.objects.filter(pk=token.pk).update(last_used_at=now)
    return Shown(person)


def _account(name: str, where: str) -> User:
    # An address is needed to be unique and leads nowhere.
    user = User(email=f"{secrets.token_hex(8)}@{where}", full_name=name, signs_in=False)
    user.set_unusable_password()
    user.full_clean()
    user.save()
    return user


def _lent_by(by: Person, scopes: Sequence[str]) -> list[str]:
    """The scopes in their usual order; ValidationError where one is none, or not for ``by`` to lend."""
    if not scopes:
        raise ValidationError({"scopes": "Choose at least one thing that the program may do."})
    known = matrix().scopes
    for name in scopes:
        if name not in known or not any(allowed(by, one) for one in known[name].abilities):
            raise ValidationError({"scopes": f"You cannot lend “{name}”: none of your roles here opens it."})
    return [name for name in known if name in scopes]


def _new_token(user: User, clinic: Clinic, days: int, by: Person, scopes: str = "") -> str:
    if not 1 <= days <= LONGEST_DAYS:
        raise ValidationError({"days": f"A token is good for 1 to {LONGEST_DAYS} days."})
    text = secrets.token_urlsafe(32)
    token = AccessToken.objects.create(
        user=user,
        token_hash=_hash(text),
        clinic=clinic if scopes else None,
        scopes=scopes,
        made_by=by.user,
        made_at=clock.now(),
        expires_at=clock.now() + timedelta(days=days),
    )
    until = token.expires_at.date().isoformat()
    what = "program token made" if scopes else "gateway token made"
    record(replace(by, clinic=clinic), what, token, details={"user": user.pk, "until": until})
    return text


def _stop(program: Gateway | Program, by: Person) -> bool:
    token = AccessToken.objects.select_for_update().filter(user=program.user, revoked_at=None).first()
    if token is None:
        return False
    token.revoked_at, token.revoked_by = clock.now(), by.user
    token.save(update_fields=["revoked_at", "revoked_by"])
    what = "program token revoked" if token.scopes else "gateway token revoked"
    record(replace(by, clinic=program.clinic), what, token, details={"user": program.user.pk})
    return True


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode(errors="replace")).hexdigest()
