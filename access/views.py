"""Pages about oneself: account, clinic acted in, first password; and the key for values waiting offline."""

import base64

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from access import forms, locking, queries, services
from access.browsers import in_words
from access.middleware import CLINIC_IN_SESSION
from access.permissions import allowed
from access.proving import passkey_options
from access.requests import ArrivingRequest, Request
from access.sign_in import require_fresh_sign_in
from access.signed_out import asks_from_a_script, signed_out_answer


def account(request: Request) -> HttpResponse:
    context = {
        "roles": queries.roles_of(request.person),
        "may_see_programs": allowed(request.person, "see programs"),
    }
    return render(request, "access/account.html", context)


def sign_ins(request: Request) -> HttpResponse:
    """Where one is signed in; any but the present sign-in can be ended, one by one or all."""
    listed = queries.sign_ins_of(request.person)
    others = [one for one in listed if one.session_key != request.session.session_key]
    if request.method == "POST":
        chosen = request.POST.get("sign_in", "")
        ending = [one for one in others if chosen in ("all", str(one.pk))]
        services.end_own_sign_ins(ending=ending, by=request.person)
        messages.success(request, "Ended." if ending else "That sign-in had ended already.")
        return redirect("access:sign_ins")
    rows = [(one, in_words(one.user_agent)) for one in listed]
    return render(request, "access/sign_ins.html", {"rows": rows, "others": others})


def lock(request: Request) -> HttpResponse:
    locking.lock(request)
    if asks_from_a_script(request):
        return JsonResponse({"locked": True})
    back = urlencode({"next": _next(request)})
    return HttpResponseRedirect(f"{reverse('access:unlock')}?{back}")


@never_cache
@sensitive_post_parameters("typed", "credential")
def unlock(request: ArrivingRequest) -> HttpResponse:
    """Where a locked sign-in is opened again: a page, and what the cover over a page asks and sends."""
    person = locking.whose(request)
    if person is None:
        return signed_out_answer(request)
    form = forms.UnlockForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            locking.unlock(request, **form.cleaned_data)
        except ValidationError as refused:
            form.add_error("typed", refused)
        else:
            if asks_from_a_script(request):
                return JsonResponse({"person": person.user.pk})
            return HttpResponseRedirect(_next(request))
    passkey = passkey_options(person)
    if asks_from_a_script(request):
        problem = " ".join(str(words) for words in form.errors.get("typed", []))
        return JsonResponse({"passkey": passkey, "problem": problem}, status=422 if problem else 200)
    context = {"form": form, "passkey": passkey, "next": _next(request), "locked_by": person.name}
    return render(request, "access/unlock.html", context, status=422 if form.errors else 200)


@require_fresh_sign_in
def remove_passkey(request: Request) -> HttpResponse:
    chosen = request.POST.get("passkey", "")
    own = {str(one.pk): one.pk for one in queries.passkeys_of(request.person)}
    try:
        if chosen in own:
            services.remove_passkey(number=own[chosen], by=request.person)
    except ValidationError as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, "The passkey is removed. Delete it on the device too.")
    return redirect("mfa_index")


def switch_clinic(request: Request) -> HttpResponse:
    clinics = queries.clinics_open_to(request.person)
    here = request.person.clinic
    if request.method == "GET":
        form = forms.SwitchClinicForm(clinics, initial={"clinic": str(here.pk) if here else None})
        return render(request, "access/switch_clinic.html", {"form": form, "clinics": clinics})
    form = forms.SwitchClinicForm(clinics, request.POST)
    if not form.is_valid():
        return render(request, "access/switch_clinic.html", {"form": form, "clinics": clinics}, status=422)
    chosen = services.act_in_clinic(clinic_id=int(form.cleaned_data["clinic"]), by=request.person)
    request.session[CLINIC_IN_SESSION] = chosen.pk
    messages.success(request, f"You now act in {chosen.name}.")
    # Not redirect(): it would take a word for the name of a page.
    return HttpResponseRedirect(_next(request))


@never_cache
def queue_key(request: Request) -> JsonResponse:
    """The AES key (32 bytes, base64) for values waiting in this person's browser, and when it ends."""
    held = services.hand_out_queue_key(by=request.person)
    return JsonResponse(
        {
            "key": base64.b64encode(held.key).decode(),
            "expires_at": held.expires_at.isoformat(),
            "person": request.person.user.pk,
        }
    )


@never_cache
def still_here(request: Request) -> JsonResponse:
    """Asked while somebody types without sending, and by a covered page before it opens again."""
    return JsonResponse({"person": request.person.user.pk})


@never_cache
@sensitive_post_parameters("password", "again")
@sensitive_variables("token")
def first_password(request: Request, token: str) -> HttpResponse:
    link = queries.link_for(token)
    if link is None:
        return render(request, "access/link_is_over.html", status=410)
    form = forms.FirstPasswordForm(request.POST or None)
    if form.is_valid():
        try:
            services.set_password_by_link(token=token, password=form.cleaned_data["password"])
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "Your password is set. Sign in with it now.")
            return redirect("account_login")
    status = 422 if form.is_bound else 200
    return render(
        request, "access/first_password.html", {"form": form, "user_name": link.user}, status=status
    )


def _next(request: HttpRequest) -> str:
    asked = request.POST.get("next", request.GET.get("next", ""))
    if url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure()):
        return asked
    return reverse("access:account")
