"""Pages about what acts by token: devices that send traces, and programs that act for a person."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables

from access import queries, tokens
from access.permissions import allowed
from access.requests import Request
from access.sign_in import require_fresh_sign_in
from access.token_forms import DaysForm, GatewayForm, ProgramForm


@dataclass(frozen=True)
class _Kind:
    """One kind of holder of a token: its pages, and the queries and services behind them."""

    name: str
    thing: str
    listed: Callable[..., list[Any]]
    found: Callable[..., Any]
    add: Callable[..., Any]
    renew: Callable[..., str]
    revoke: Callable[..., None]
    stopped: str

    @property
    def page(self) -> str:
        return f"access:{self.name}s"


_GATEWAY = _Kind(
    name="gateway",
    thing="device",
    listed=queries.gateways,
    found=queries.gateway,
    add=tokens.add_gateway,
    renew=tokens.renew_token,
    revoke=tokens.revoke_token,
    stopped="can send nothing any more. What it sent stays.",
)
_PROGRAM = _Kind(
    name="program",
    thing="program",
    listed=queries.programs,
    found=queries.program,
    add=tokens.add_program,
    renew=tokens.renew_program_token,
    revoke=tokens.revoke_program_token,
    stopped="opens nothing any more. What it entered stays.",
)


def gateways(request: Request) -> HttpResponse:
    return _list(request, _GATEWAY)


@never_cache
@require_fresh_sign_in
def add_gateway(request: Request) -> HttpResponse:
    form = GatewayForm(request.POST or None, initial={"clinic": request.person.clinic})
    return _add(request, _GATEWAY, form)


@never_cache
@require_fresh_sign_in
def new_token(request: Request, user_id: int) -> HttpResponse:
    return _renew(request, _GATEWAY, user_id)


@require_fresh_sign_in
def revoke_token(request: Request, user_id: int) -> HttpResponse:
    return _revoke(request, _GATEWAY, user_id)


def programs(request: Request) -> HttpResponse:
    return _list(request, _PROGRAM)


@never_cache
@require_fresh_sign_in
def add_program(request: Request) -> HttpResponse:
    return _add(request, _PROGRAM, ProgramForm(request.person, request.POST or None))


@never_cache
@require_fresh_sign_in
def program_token(request: Request, user_id: int) -> HttpResponse:
    return _renew(request, _PROGRAM, user_id)


@require_fresh_sign_in
def revoke_program(request: Request, user_id: int) -> HttpResponse:
    return _revoke(request, _PROGRAM, user_id)


def _list(request: Request, kind: _Kind, problem: str = "", status: int = 200) -> HttpResponse:
    found = kind.listed(request.person)
    context = {
        "holders": found,
        "in_force": sum(one.token.in_force for one in found),
        "problem": problem,
        "days": tokens.LONGEST_DAYS,
        "may_lend": allowed(request.person, "lend to programs"),
    }
    return render(request, f"access/{kind.name}s.html", context, status=status)


@sensitive_variables("token")
def _add(request: Request, kind: _Kind, form: forms.Form) -> HttpResponse:
    if form.is_valid():
        try:
            user, token = kind.add(by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return _show_token(request, kind, user.pk, token)
    status = 422 if form.is_bound else 200
    return render(request, f"access/{kind.name}_add.html", {"form": form}, status=status)


@sensitive_variables("token")
def _renew(request: Request, kind: _Kind, user_id: int) -> HttpResponse:
    holder = kind.found(request.person, user_id)
    form = DaysForm(request.POST)
    if not form.is_valid():
        words = f"a token is good for 1 to {tokens.LONGEST_DAYS} days. It keeps the one it has."
        return _list(request, kind, problem=f"{holder.user}: {words}", status=422)
    try:
        token = kind.renew(holder, days=form.cleaned_data["days"], by=request.person)
    except ValidationError as error:
        return _list(request, kind, problem=f"{holder.user}: {' '.join(error.messages)}", status=422)
    return _show_token(request, kind, user_id, token)


def _revoke(request: Request, kind: _Kind, user_id: int) -> HttpResponse:
    holder = kind.found(request.person, user_id)
    try:
        kind.revoke(holder, by=request.person)
    except ValidationError as error:
        return _list(request, kind, problem=f"{holder.user}: {' '.join(error.messages)}", status=422)
    messages.success(request, f"{holder.user} {kind.stopped}")
    return redirect(kind.page)


@sensitive_variables("token")
def _show_token(request: Request, kind: _Kind, user_id: int, token: str) -> HttpResponse:
    holder = kind.found(request.person, user_id)
    context = {"holder": holder, "token": token, "thing": kind.thing, "page": kind.page}
    return render(request, "access/token_once.html", context)
