"""Pages of the system administrator about devices that send traces."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables

from access import queries, tokens
from access.gateway_forms import DaysForm, GatewayForm
from access.requests import Request
from access.sign_in import require_fresh_sign_in


def gateways(request: Request) -> HttpResponse:
    return _list(request)


@never_cache
@require_fresh_sign_in
@sensitive_variables("token")
def add_gateway(request: Request) -> HttpResponse:
    form = GatewayForm(request.POST or None, initial={"clinic": request.person.clinic})
    if form.is_valid():
        try:
            user, token = tokens.add_gateway(by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return _show_token(request, user.pk, token)
    status = 422 if form.is_bound else 200
    return render(request, "access/gateway_add.html", {"form": form}, status=status)


@never_cache
@require_fresh_sign_in
@sensitive_variables("token")
def new_token(request: Request, user_id: int) -> HttpResponse:
    gateway = queries.gateway(request.person, user_id)
    form = DaysForm(request.POST)
    if not form.is_valid():
        problem = (
            f"{gateway.user}: a token is good for 1 to {tokens.LONGEST_DAYS} days. It keeps the one it has."
        )
        return _list(request, problem=problem, status=422)
    token = tokens.renew_token(gateway=gateway, days=form.cleaned_data["days"], by=request.person)
    return _show_token(request, user_id, token)


@require_fresh_sign_in
def revoke_token(request: Request, user_id: int) -> HttpResponse:
    gateway = queries.gateway(request.person, user_id)
    try:
        tokens.revoke_token(gateway=gateway, by=request.person)
    except ValidationError as error:
        return _list(request, problem=f"{gateway.user}: {' '.join(error.messages)}", status=422)
    messages.success(request, f"{gateway.user} can send nothing any more. What it sent stays.")
    return redirect("access:gateways")


def _list(request: Request, problem: str = "", status: int = 200) -> HttpResponse:
    found = queries.gateways(request.person)
    context = {
        "gateways": found,
        "sending": sum(one.token.in_force for one in found),
        "problem": problem,
        "days": tokens.LONGEST_DAYS,
    }
    return render(request, "access/gateways.html", context, status=status)


@sensitive_variables("token")
def _show_token(request: Request, user_id: int, token: str) -> HttpResponse:
    gateway = queries.gateway(request.person, user_id)
    return render(request, "access/gateway_token_once.html", {"gateway": gateway, "token": token})
