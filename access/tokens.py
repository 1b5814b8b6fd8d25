"""Devices at the bedside and their tokens: adding one, renewing and revoking, and who a token stands for."""

import hashlib
import secrets
from dataclasses import dataclass, replace
from datetime import timedelta

from django.core.exceptions import ValidationError
from django.views.decorators.debug import sensitive_variables

from access import clock
from access.models import AccessToken, Clinic, Membership, User
from access.people import Person, person_for
from access.permissions import require
from access.queries import Gateway
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
    user = User(
        # An address is needed to be unique and leads nowhere.
        email=f"{secrets.token_hex(8)}@gateway.invalid",
        full_name=name,
        signs_in=False,
    )
    user.set_unusable_password()
    user.full_clean()
    user.save()
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
def renew_token(*, gateway: Gateway, days: int, by: Person) -> str:
    """Another token for a device; the one it had stops working at once."""
    require(by, "manage gateways")
    _stop(gateway, by)
    return _new_token(gateway.user, gateway.clinic, days, by)


@one_act()
def revoke_token(*, gateway: Gateway, by: Person) -> None:
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
    fault: str = ""  # "unknown", "expired", "revoked"
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
    if token.last_used_at is None or now - token.last_used_at > _WORTH_WRITING_AGAIN:
        AccessToken.objects.filter(pk=token.pk).update(last_used_at=now)
    return Shown(person_for(token.user))


def _new_token(user: User, clinic: Clinic, days: int, by: Person) -> str:
    if not 1 <= days <= LONGEST_DAYS:
        raise ValidationError({"days": f"A token is good for 1 to {LONGEST_DAYS} days."})
    text = secrets.token_urlsafe(32)
    token = AccessToken.objects.create(
        user=user,
        token_hash=_hash(text),
        made_by=by.user,
        made_at=clock.now(),
        expires_at=clock.now() + timedelta(days=days),
    )
    until = token.expires_at.date().isoformat()
    record(replace(by, clinic=clinic), "gateway token made", token, details={"user": user.pk, "until": until})
    return text


def _stop(gateway: Gateway, by: Person) -> bool:
    token = AccessToken.objects.filter(user=gateway.user, revoked_at=None).first()
    if token is None:
        return False
    token.revoked_at, token.revoked_by = clock.now(), by.user
    token.save(update_fields=["revoked_at", "revoked_by"])
    record(
        replace(by, clinic=gateway.clinic), "gateway token revoked", token, details={"user": gateway.user.pk}
    )
    return True


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode(errors="replace")).hexdigest()
