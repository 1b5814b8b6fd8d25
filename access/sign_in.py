"""How the sign-in library is fitted to this service, and what counts as a fresh sign-in."""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.internal.flows.login import get_authentication_records
from allauth.core import context
from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render, resolve_url
from django.views.decorators.debug import sensitive_post_parameters

from access import clock
from access.models import User
from access.people import person_for
from access.proving import passkey_options, prove
from access.requests import Request
from access.signed_out import asks_from_a_script, typed_values

# No names that a form of ours uses, so that typed values can stand beside them in one form.
_TYPED, _CREDENTIAL = _PROOFS = ("typed_once_more", "credential")

View = Callable[..., HttpResponse]


class Adapter(DefaultAccountAdapter):
    """Accounts are made by an administrator, never by whoever comes along."""

    error_messages = DefaultAccountAdapter.error_messages | {
        "email_password_mismatch": (
            "This email and password do not belong together. Check both. After five wrong tries the account "
            "waits five minutes."
        ),
        "too_many_login_attempts": "Too many wrong tries. Wait five minutes, then try again.",
        "enter_current_password": "That is not your present password. Try again.",
        "incorrect_password": "That is not your password. Try again.",
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_login_redirect_url(self, request: HttpRequest) -> str:
        """Today; or, for somebody without a role yet, the page that says so."""
        if person_for(cast(User, request.user)).roles:
            return resolve_url(settings.LOGIN_REDIRECT_URL)
        return resolve_url("access:account")

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        return not is_fresh(context.request)

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Nothing: the service writes no letters about accounts; an administrator hands over a link."""


def is_fresh(request: HttpRequest) -> bool:
    """Whether this person proved who they are within the last ACCOUNT_REAUTHENTICATION_TIMEOUT seconds."""
    proofs = get_authentication_records(request, request.user)
    newest = max((proof["at"] for proof in proofs), default=0)
    return clock.now().timestamp() - newest < settings.ACCOUNT_REAUTHENTICATION_TIMEOUT


class ProofForm(forms.Form):
    """A proof once more, before a step that stands under one's name."""

    typed_once_more = forms.CharField(
        label="Your password, or the six digits",
        required=False,
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )
    credential = forms.CharField(required=False, max_length=20_000, widget=forms.HiddenInput)

    def __init__(self, request: Request, data: Any = None) -> None:
        super().__init__(data)
        self.request = request

    def clean(self) -> None:
        said = self.cleaned_data
        try:
            prove(
                self.request,
                self.request.person,
                typed=said.get(_TYPED, ""),
                credential=said.get(_CREDENTIAL, ""),
            )
        except ValidationError as refused:
            self.add_error(_TYPED, refused)


def require_fresh_sign_in(view: View) -> View:
    """Let a change through only soon after the person proved who they are.

    A page may be looked at without. When the proof is too old, the change is answered (401) with a page that
    asks for password, code or passkey and carries along everything typed; a script is told
    ``{"sign_in_again": true}``.
    """

    @wraps(view)
    @sensitive_post_parameters(*_PROOFS)
    def guarded(request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method in ("GET", "HEAD") or is_fresh(request):
            return view(request, *args, **kwargs)
        if asks_from_a_script(request):
            return JsonResponse({"sign_in_again": True}, status=401)
        proven = any(name in request.POST for name in _PROOFS)
        form = ProofForm(request, request.POST if proven else None)
        if form.is_valid():
            return view(request, *args, **kwargs)
        context = {
            "form": form,
            "typed": typed_values(request, without=frozenset(_PROOFS)),
            "passkey": passkey_options(request.person),
        }
        return render(request, "access/once_more.html", context, status=401)

    return guarded
