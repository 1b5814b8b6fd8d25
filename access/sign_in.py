"""How the sign-in library is fitted to this service, and what counts as a fresh sign-in."""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from allauth.account.adapter import DefaultAccountAdapter, get_adapter
from allauth.account.internal.flows.login import get_authentication_records, record_authentication
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
from access.signed_out import asks_from_a_script, typed_values

# Not a name any form of ours uses, so that typed values can stand beside it in one form.
_PASSWORD = "password_once_more"  # noqa: S105  (a field's name)

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


class PasswordOnceMoreForm(forms.Form):
    """The password again, before a step that stands under one's name."""

    password_once_more = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )

    def __init__(self, request: HttpRequest, data: Any = None) -> None:
        super().__init__(data)
        self.request = request

    def clean_password_once_more(self) -> str:
        password = str(self.cleaned_data[_PASSWORD])
        # Counts towards the limit on wrong tries, and raises once that is reached.
        if not get_adapter().reauthenticate(self.request.user, password):
            raise ValidationError("That is not your password. What you typed before is kept; try again.")
        return password


def require_fresh_sign_in(view: View) -> View:
    """Let a change through only soon after the person proved who they are.

    A page may be looked at without. When the proof is too old, the change is answered (401) with a page that
    asks for the password and carries along everything typed; a script is told ``{"sign_in_again": true}``.
    """

    @wraps(view)
    @sensitive_post_parameters(_PASSWORD)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method in ("GET", "HEAD") or is_fresh(request):
            return view(request, *args, **kwargs)
        if asks_from_a_script(request):
            return JsonResponse({"sign_in_again": True}, status=401)
        form = PasswordOnceMoreForm(request, request.POST if _PASSWORD in request.POST else None)
        if form.is_bound and form.is_valid():
            record_authentication(request, request.user, method="password", reauthenticated=True)
            return view(request, *args, **kwargs)
        context = {"form": form, "typed": typed_values(request, without=frozenset({_PASSWORD}))}
        return render(request, "access/once_more.html", context, status=401)

    return guarded
