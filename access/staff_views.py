"""Pages of the system administrator and of whoever approves: staff, roles, clinics."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache

from access import forms, queries, services
from access.requests import Request
from access.sign_in import require_fresh_sign_in


def staff(request: Request) -> HttpResponse:
    staff = queries.staff(request.person)
    context = {
        "staff": staff,
        "unused": sum(one.unused for one in staff),
        "unused_days": queries.UNUSED_DAYS,
        "clinics": queries.all_clinics(request.person),
        "waiting": queries.roles_waiting(request.person).count(),
    }
    return render(request, "access/staff.html", context)


@never_cache
@require_fresh_sign_in
def add_member(request: Request) -> HttpResponse:
    form = forms.MemberForm(request.POST or None)
    if form.is_valid():
        try:
            user, token = services.add_member(by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return _show_link(request, user, token)
    status = 422 if form.is_bound else 200
    return render(request, "access/add_member.html", {"form": form}, status=status)


def member(request: Request, user_id: int) -> HttpResponse:
    return _member_page(request, user_id)


@require_fresh_sign_in
def grant_role(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    form = forms.RoleForm(request.POST)
    if form.is_valid():
        try:
            granted = services.grant_role(user=user, by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            waits = "" if granted.in_force else " It counts once a second person has approved it."
            return _done(request, f"Role granted: {granted.get_role_display()}.{waits}", user_id)
    return _member_page(request, user_id, form=form, status=422)


@require_fresh_sign_in
def end_role(request: Request, membership_id: int) -> HttpResponse:
    membership = queries.membership(request.person, membership_id)
    return _do(
        request,
        lambda: services.end_role(membership=membership, by=request.person),
        f"Role ended: {membership.get_role_display()}.",
        membership.user_id,
    )


@require_fresh_sign_in
def disable_member(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    return _do(
        request,
        lambda: services.disable_member(user=user, by=request.person),
        "Account disabled. Every sign-in has ended.",
        user_id,
    )


@require_fresh_sign_in
def enable_member(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    return _do(
        request, lambda: services.enable_member(user=user, by=request.person), "Account enabled.", user_id
    )


@require_fresh_sign_in
def end_sign_ins(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    return _do(
        request,
        lambda: services.end_sign_ins(user=user, by=request.person),
        "Every sign-in of this person has ended.",
        user_id,
    )


@require_fresh_sign_in
def reset_second_factor(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    return _do(
        request,
        lambda: services.reset_second_factor(user=user, by=request.person),
        "Second factor reset. A new one is set up at the next sign-in.",
        user_id,
    )


@never_cache
@require_fresh_sign_in
def new_link(request: Request, user_id: int) -> HttpResponse:
    user = queries.member(request.person, user_id)
    try:
        token = services.new_password_link(user=user, by=request.person)
    except ValidationError as error:
        return _member_page(request, user_id, problem=" ".join(error.messages), status=422)
    return _show_link(request, user, token)


def approvals(request: Request) -> HttpResponse:
    return render(request, "access/approvals.html", {"waiting": queries.roles_waiting(request.person)})


@require_fresh_sign_in
def approve_role(request: Request, membership_id: int) -> HttpResponse:
    return _decide(request, membership_id, services.approve_role, "Role approved.")


@require_fresh_sign_in
def refuse_role(request: Request, membership_id: int) -> HttpResponse:
    return _decide(request, membership_id, services.refuse_role, "Role refused.")


def clinic(request: Request) -> HttpResponse:
    """Settings of the clinic acted in."""
    here = request.person.clinic
    if here is None:
        return render(request, "access/no_clinic.html")
    if request.method == "GET":
        return render(request, "access/clinic.html", {"form": forms.ClinicForm.about(here)})
    form = forms.ClinicForm(request.POST)
    if form.is_valid():
        try:
            services.change_clinic(clinic=here, by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "Clinic settings saved.")
            return redirect("access:clinic")
    return render(request, "access/clinic.html", {"form": form}, status=422)


@require_fresh_sign_in
def add_clinic(request: Request) -> HttpResponse:
    if request.method == "GET":
        form = forms.ClinicForm(initial={"time_zone": "Europe/London", "toes_first": "no"})
        return render(request, "access/add_clinic.html", {"form": form})
    form = forms.ClinicForm(request.POST)
    if form.is_valid():
        try:
            added = services.add_clinic(by=request.person, **form.cleaned_data)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{added.name} added. Give its staff their roles next.")
            return redirect("access:staff")
    return render(request, "access/add_clinic.html", {"form": form}, status=422)


def _show_link(request: Request, user: Any, token: str) -> HttpResponse:
    address = request.build_absolute_uri(reverse("access:first_password", args=[token]))
    hours = int(services.LINK_GOOD_FOR.total_seconds() // 3600)
    return render(request, "access/link_once.html", {"member": user, "address": address, "hours": hours})


def _do(request: Request, change: Callable[[], Any], done: str, user_id: int) -> HttpResponse:
    try:
        change()
    except ValidationError as error:
        return _member_page(request, user_id, problem=" ".join(error.messages), status=422)
    return _done(request, done, user_id)


def _done(request: Request, words: str, user_id: int) -> HttpResponse:
    if user_id == request.user.pk and not request.session.exists(request.session.session_key or ""):
        # The change was to oneself and ended one's own sign-in too.
        request.session.flush()
        return redirect("account_login")
    messages.success(request, words)
    return redirect("access:member", user_id)


def _decide(request: Request, membership_id: int, decision: Callable[..., Any], done: str) -> HttpResponse:
    membership = queries.role_waiting(request.person, membership_id)
    try:
        decision(membership=membership, by=request.person)
    except ValidationError as error:
        context = {
            "waiting": queries.roles_waiting(request.person),
            "problem": " ".join(error.messages),
        }
        return render(request, "access/approvals.html", context, status=422)
    messages.success(request, done)
    return redirect("access:approvals")


def _member_page(
    request: Request, user_id: int, form: Any = None, problem: str = "", status: int = 200
) -> HttpResponse:
    user = queries.member(request.person, user_id)
    context = {
        "member": user,
        "roles": queries.memberships_of(request.person, user),
        "form": form or forms.RoleForm(initial={"clinic": request.person.clinic}),
        "problem": problem,
    }
    return render(request, "access/member.html", context, status=status)
