"""Passkeys: the sign-in library's forms in our words, hardened against whatever a script may send."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.forms import (
    AddWebAuthnForm,
    AuthenticateWebAuthnForm,
    LoginWebAuthnForm,
    ReauthenticateWebAuthnForm,
)
from django import forms
from django.core.exceptions import ValidationError

from access import trail

REFUSED = "That passkey was not accepted. Try again, or use your password and a code."
_NOT_MADE = "The passkey was not made. Try again; if it stays so, use a code generator."
# What the library's reader of a credential raises on JSON that is none.
_NO_CREDENTIAL = (AttributeError, IndexError, KeyError, TypeError, ValueError)


class NewPasskeyForm(AddWebAuthnForm):
    """Always one that can stand alone: the device keeps it and asks who is there."""

    passwordless = forms.BooleanField(required=False, initial=True, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = "Name of this device"
        self.fields["name"].help_text = "So that you know later which one to remove, such as “my phone”."
        self.fields["name"].max_length = 60
        self.fields["name"].initial = self.initial["name"] = ""

    def clean(self) -> dict[str, Any]:
        self.cleaned_data["passwordless"] = True
        try:
            return dict(super().clean())
        except (ValidationError, *_NO_CREDENTIAL):
            raise ValidationError(_NOT_MADE) from None

    def clean_name(self) -> str:
        return str(super().clean_name())[:60]


class _Noted(AuthenticateWebAuthnForm):
    """A passkey that is not accepted leaves a line, as a wrong code does."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["credential"].error_messages |= {"required": REFUSED, "invalid": REFUSED}

    def clean_credential(self) -> Authenticator:
        try:
            return super().clean_credential()
        except (ValidationError, *_NO_CREDENTIAL) as error:
            with trail.one_act():
                trail.record(None, "passkey refused", self.user)
            if isinstance(error, ValidationError) and error.code == "too_many_login_attempts":
                raise
            raise ValidationError(REFUSED) from None


class SignInByPasskeyForm(_Noted, LoginWebAuthnForm):
    """Before anyone is known: the passkey says who it is."""


class SecondFactorByPasskeyForm(_Noted):
    """After the password, instead of the six digits."""


class ProveItByPasskeyForm(_Noted, ReauthenticateWebAuthnForm):
    """Before a step that asks for a fresh sign-in."""
