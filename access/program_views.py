"""Pages about programs that read and write the record for a person."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables

from access import queries, tokens
from access.gateway_forms import DaysForm
from access.permissions import allowed
from access.program_forms import ProgramForm
from access.requests import Request
from access.sign_in import require_fresh_sign_in


def programs(request: Request) -> HttpResponse:
    return _list(request)


@never_cache
@require_fresh_sign_in
@sensitive_variables("token")
def add_program(request: Request) -> HttpResponse:
    form = ProgramForm(request.person, request.POST or None)
    if form.is_valid():
        try:
            user, token = tokens.add_program(by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return _show_token(request, user.pk, token)
    status = 422 if form.is_bound else 200
    return render(request, "access/program_add.html", {"form": form}, status=status)


@never_cache
@require_fresh_sign_in
@sensitive_variables("token")
def program_token(request: Request, user_id: int) -> HttpResponse:
    program = queries.program(request.person, user_id)
    form = DaysForm(request.POST)
    if not form.is_valid():
        words = f"a token is good for 1 to {tokens.LONGEST_DAYS} days. It keeps the one it has."
        return _list(request, problem=f"{program.user}: {words}", status=422)
    try:
        token = tokens.renew_program_token(program=program, days=form.cleaned_data["days"], by=request.person)
    except ValidationError as error:
        return _list(request, problem=f"{program.user}: {' '.join(error.messages)}", status=422)
    return _show_token(request, user_id, token)


@require_fresh_sign_in
def revoke_program(request: Request, user_id: int) -> HttpResponse:
    program = queries.program(request.person, user_id)
    try:
        tokens.revoke_program_token(program=program, by=request.person)
    except ValidationError as error:
        return _list(request, problem=f"{program.user}: {' '.join(error.messages)}", status=422)
    messages.success(request, f"{program.user} opens nothing any more. What it entered stays.")
    return redirect("access:programs")


def _list(request: Request, problem: str = "", status: int = 200) -> HttpResponse:
    found = queries.programs(request.person)
    context = {
        "programs": found,
        "in_force": sum(one.token.in_force for one in found),
        "problem": problem,
        "days": tokens.LONGEST_DAYS,
        "may_lend": allowed(request.person, "lend to programs"),
    }
    return render(request, "access/programs.html", context, status=status)


@sensitive_variables("token")
def _show_token(request: Request, user_id: int, token: str) -> HttpResponse:
    program = queries.program(request.person, user_id)
    return render(request, "access/program_token_once.html", {"program": program, "token": token})
