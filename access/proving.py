"""One proof that it is still the same person: the password, a code, or a passkey."""

import re
from typing import Any

from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.login import record_authentication
from allauth.mfa.base.forms import ReauthenticateForm
from allauth.mfa.webauthn.internal.auth import begin_authentication
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from access.passkeys import ProveItByPasskeyForm
from access.people import Person
from access.queries import passkeys_of

# Six digits, or the eight of a recovery code: no password of ours is as short.
_CODE = re.compile(r"^\d{6}(\d{2})?$")


def prove(request: HttpRequest, person: Person, *, typed: str = "", credential: str = "") -> str:
    """Note that ``person`` is there now; by what it was proven: "password", "code" or "passkey".

    Parameters
    ----------
    typed : a password or a code.
    credential : what a passkey gave, which counts before ``typed``.

    Raises
    ------
    ValidationError
        In words, if it is none of these or was tried too often.
    """
    if credential:
        return _by_form(ProveItByPasskeyForm(user=person.user, data={"credential": credential}), "passkey")
    if _CODE.match(typed.replace(" ", "")):
        return _by_form(ReauthenticateForm(user=person.user, data={"code": typed.replace(" ", "")}), "code")
    return _by_password(request, person, typed)


def passkey_options(person: Person) -> dict[str, Any] | None:
    """What to ask the device for, if the person has a passkey."""
    return begin_authentication(person.user) if passkeys_of(person).exists() else None


def _by_form(form: Any, how: str) -> str:
    if not form.is_valid():
        raise ValidationError([words for errors in form.errors.values() for words in errors][:1])
    form.save()
    return how


def _by_password(request: HttpRequest, person: Person, typed: str) -> str:
    if not typed:
        raise ValidationError("Type your password, or the six digits of your code generator.")
    # Counts towards the limit on wrong tries, and raises once that is reached.
    if not get_adapter().reauthenticate(person.user, typed):
        raise ValidationError("That is neither your password nor your code. Try again.")
    record_authentication(request, person.user, method="password", reauthenticated=True)
    return "password"
