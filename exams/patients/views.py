"""Pages about people: found, registered, changed; their cautions and the facts of their limbs."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.permissions import allowed
from access.trail import one_act, record, record_view
from exams.patients import forms, queries, services

# What is said after a page was sent travels in a cookie, so it never names a person, a limb or an illness.

# A single letter typed in passing would show half the clinic.
LIVE_FROM = 2


@never_cache
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Search by any part of a name or identifier, or by birth date; live while typing, or by Enter."""
    typed = request.GET.get("q", "").strip()
    too_long = len(typed) > queries.LONGEST_SEARCH
    looked = bool(typed) and not too_long and (not request.htmx or len(typed) >= LIVE_FROM)
    found = None
    if looked:
        with one_act():
            found = queries.patients_matching(request.person, typed)
            record(
                request.person,
                "patients searched",
                details={"typed": typed, "shown": [one.pk for one in found.patients]},
            )
    context = {
        "typed": typed,
        "found": found,
        "too_long": too_long,
        "longest": queries.LONGEST_SEARCH,
        "most": queries.MOST_SHOWN,
        "may_correct_identity": allowed(request.person, "correct identity"),
    }
    return render(request, "patients/list.html", context, status=422 if too_long else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _new_page(request, forms.NewPatientForm(person=request.person))
    form = forms.NewPatientForm(request.POST, person=request.person)
    patient = _kept(form, lambda: services.register_patient(by=request.person, **form.values()))
    if patient is None:
        return _new_page(request, form, matches=_likely(request, form), status=422)
    messages.success(request, "The patient is registered.")
    return redirect("timeline:patient", patient.pk)


def _likely(request: HttpRequest, form: forms.NewPatientForm) -> tuple[queries.LikelyMatch, ...]:
    typed = form.cleaned_data
    matches = queries.likely_duplicates(
        request.person,
        family_name=typed.get("family_name", ""),
        given_name=typed.get("given_name", ""),
        birth_date=typed.get("birth_date"),
        identifiers=form.identifiers(),
        telephone=typed.get("telephone", ""),
    )
    if matches:
        with one_act():
            shown = [match.patient.pk for match in matches]
            record(request.person, "likely duplicates shown", details={"shown": shown})
    return matches


def _new_page(
    request: HttpRequest,
    form: forms.NewPatientForm,
    *,
    matches: tuple[queries.LikelyMatch, ...] = (),
    status: int = 200,
) -> HttpResponse:
    identifier_rows = [(form[f"issuer_{n}"], form[f"value_{n}"]) for n in forms.IDENTIFIER_ROWS]
    context = {
        "form": form,
        "identifier_rows": identifier_rows,
        "matches": matches,
        "issuers": queries.issuers_known_to(request.person),
    }
    return render(request, "patients/new.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, patient_id: int) -> HttpResponse:
    patient = queries.patient_for(request.person, patient_id)
    if request.method != "POST":
        return _change_page(request, patient)
    form = forms.ChangePatientForm(request.POST, person=request.person)
    changed = _kept(
        form, lambda: services.change_patient(patient=patient, by=request.person, **form.cleaned_data)
    )
    if changed is None:
        if form.is_stale:
            form.renew(queries.patient_for(request.person, patient_id).revision)
        return _change_page(request, patient, form=form, status=422)
    messages.success(request, "The details are saved.")
    return redirect("timeline:patient", patient.pk)


@never_cache
@require_POST
def add_identifier(request: HttpRequest, patient_id: int) -> HttpResponse:
    patient = queries.patient_for(request.person, patient_id)
    form = forms.IdentifierForm(request.POST, auto_id="new-identifier-%s")
    added = _kept(
        form, lambda: services.add_identifier(patient=patient, by=request.person, **form.cleaned_data)
    )
    if added is None:
        return _change_page(request, patient, identifier_form=form, status=422)
    messages.success(request, "The identifier is added.")
    return redirect("patients:change", patient.pk)


@never_cache
@require_POST
def withdraw_identifier(request: HttpRequest, patient_id: int, identifier_id: int) -> HttpResponse:
    identifier = queries.identifier_for(request.person, patient_id, identifier_id)
    form = forms.ReasonForm(request.POST, auto_id=f"withdraw-{identifier.pk}-%s")
    withdrawn = _kept(
        form,
        lambda: services.withdraw_identifier(
            identifier=identifier, reason=form.cleaned_data["reason"], by=request.person
        ),
    )
    if withdrawn is None:
        patient = queries.patient_for(request.person, patient_id)
        return _change_page(request, patient, bound={identifier.pk: form}, status=422)
    messages.success(request, "The identifier is withdrawn. It stays below, struck through.")
    return redirect("patients:change", patient_id)


def _change_page(
    request: HttpRequest,
    patient: Any,
    *,
    form: forms.ChangePatientForm | None = None,
    identifier_form: forms.IdentifierForm | None = None,
    bound: dict[int, forms.ReasonForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "patient details viewed", patient)
    bound = bound or {}
    context = {
        "patient": patient,
        "form": form or forms.ChangePatientForm.of(patient, person=request.person),
        "identifier_form": identifier_form or forms.IdentifierForm(auto_id="new-identifier-%s"),
        "identifiers": [
            (one, bound.get(one.pk) or forms.ReasonForm(auto_id=f"withdraw-{one.pk}-%s"))
            for one in patient.identifiers_in_use
        ],
        "withdrawn": queries.withdrawn_identifiers(patient),
        "issuers": queries.issuers_known_to(request.person),
    }
    return render(request, "patients/change.html", context, status=status)


# ---- cautions


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def cautions(request: HttpRequest, patient_id: int) -> HttpResponse:
    patient = queries.patient_for(request.person, patient_id)
    if request.method != "POST":
        return _cautions_page(request, patient)
    form = forms.CautionForm(request.POST)
    added = _kept(form, lambda: services.add_caution(patient=patient, by=request.person, **form.values()))
    if added is None:
        return _cautions_page(request, patient, form=form, status=422)
    messages.success(request, "The caution is recorded and in force.")
    return redirect("patients:cautions", patient.pk)


@never_cache
@require_POST
def caution_still_true(request: HttpRequest, patient_id: int, caution_id: int) -> HttpResponse:
    caution = queries.caution_for(request.person, patient_id, caution_id)
    form = _still_true_form(caution.pk, request.POST)
    kept = _kept(
        form, lambda: services.review_caution(caution=caution, by=request.person, **form.cleaned_data)
    )
    if kept is None:
        return _cautions_page(request, caution.patient, still_true={caution.pk: form}, status=422)
    messages.success(request, "The caution stays in force.")
    return redirect("patients:cautions", patient_id)


@never_cache
@require_POST
def end_caution(request: HttpRequest, patient_id: int, caution_id: int) -> HttpResponse:
    caution = queries.caution_for(request.person, patient_id, caution_id)
    form = _end_caution_form(caution.pk, request.POST)
    ended = _kept(form, lambda: services.end_caution(caution=caution, by=request.person, **form.cleaned_data))
    if ended is None:
        return _cautions_page(request, caution.patient, ending={caution.pk: form}, status=422)
    messages.success(request, "The caution is ended. It stays below, struck through.")
    return redirect("patients:cautions", patient_id)


def _still_true_form(number: int, typed: Any = None) -> forms.StillTrueForm:
    return forms.StillTrueForm(typed, auto_id=f"still-true-{number}-%s")


def _end_caution_form(number: int, typed: Any = None) -> forms.ReasonForm:
    return forms.ReasonForm(typed, auto_id=f"end-{number}-%s")


def _cautions_page(
    request: HttpRequest,
    patient: Any,
    *,
    form: forms.CautionForm | None = None,
    still_true: dict[int, forms.StillTrueForm] | None = None,
    ending: dict[int, forms.ReasonForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "cautions viewed", patient)
    today = queries.today_in(patient.clinic)
    in_force = queries.cautions_in_force(patient, today)

    def lines(some: Any) -> list[dict[str, Any]]:
        return [
            {
                "caution": one,
                "overdue": one.review_on is not None and one.review_on <= today,
                "still_true": (still_true or {}).get(one.pk) or _still_true_form(one.pk),
                "ending": (ending or {}).get(one.pk) or _end_caution_form(one.pk),
            }
            for one in some
        ]

    context = {
        "patient": patient,
        "in_force": in_force,
        "places": [
            ("RIGHT", lines(in_force.right)),
            ("LEFT", lines(in_force.left)),
        ],
        "whole_person": lines(in_force.whole_person),
        "fistulas": queries.fistulas_on(patient, today),
        "ended": queries.ended_cautions(patient),
        "form": form or forms.CautionForm(),
    }
    return render(request, "patients/cautions.html", context, status=status)


# ---- dated facts of a limb


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def facts(request: HttpRequest, patient_id: int) -> HttpResponse:
    patient = queries.patient_for(request.person, patient_id)
    if request.method != "POST":
        return _facts_page(request, patient)
    form = forms.FactForm(request.POST)
    fact = _kept(form, lambda: services.record_limb_fact(patient=patient, by=request.person, **form.values()))
    if fact is None:
        return _facts_page(request, patient, form=form, status=422)
    messages.success(request, "The fact is recorded.")
    return redirect("patients:facts", patient.pk)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct_fact(request: HttpRequest, patient_id: int, fact_id: int) -> HttpResponse:
    fact = queries.limb_fact_for(request.person, patient_id, fact_id)
    if request.method == "POST":
        form = forms.CorrectFactForm(request.POST)
        corrected = _kept(
            form, lambda: services.correct_limb_fact(fact=fact, by=request.person, **form.values())
        )
        if corrected is not None:
            messages.success(request, "Corrected. The first entry stays in the record, struck through.")
            return redirect("patients:facts", patient_id)
    else:
        form = forms.CorrectFactForm.of(fact)
    record_view(request.person, "facts of limbs viewed", fact.patient)
    context = {"patient": fact.patient, "fact": fact, "form": form}
    return render(request, "patients/correct_fact.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_POST
def end_fact(request: HttpRequest, patient_id: int, fact_id: int) -> HttpResponse:
    fact = queries.limb_fact_for(request.person, patient_id, fact_id)
    form = _end_fact_form(fact.pk, request.POST)
    ended = _kept(form, lambda: services.end_limb_fact(fact=fact, by=request.person, **form.cleaned_data))
    if ended is None:
        return _facts_page(request, fact.patient, ending={fact.pk: form}, status=422)
    messages.success(request, "The end is recorded.")
    return redirect("patients:facts", patient_id)


@never_cache
@require_POST
def withdraw_fact(request: HttpRequest, patient_id: int, fact_id: int) -> HttpResponse:
    fact = queries.limb_fact_for(request.person, patient_id, fact_id)
    form = _withdraw_fact_form(fact.pk, request.POST)
    gone = _kept(form, lambda: services.withdraw_limb_fact(fact=fact, by=request.person, **form.cleaned_data))
    if gone is None:
        return _facts_page(request, fact.patient, withdrawing={fact.pk: form}, status=422)
    messages.success(request, "The entry is withdrawn. It stays in the record, struck through.")
    return redirect("patients:facts", patient_id)


def _end_fact_form(number: int, typed: Any = None) -> forms.EndFactForm:
    return forms.EndFactForm(typed, auto_id=f"end-{number}-%s")


def _withdraw_fact_form(number: int, typed: Any = None) -> forms.ReasonForm:
    return forms.ReasonForm(typed, auto_id=f"withdraw-{number}-%s")


def _facts_page(
    request: HttpRequest,
    patient: Any,
    *,
    form: forms.FactForm | None = None,
    ending: dict[int, forms.EndFactForm] | None = None,
    withdrawing: dict[int, forms.ReasonForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "facts of limbs viewed", patient)
    history = queries.limb_fact_history(patient)

    def lines(some: Any) -> list[dict[str, Any]]:
        return [
            {
                "fact": one,
                "ending": (ending or {}).get(one.pk) or _end_fact_form(one.pk),
                "withdrawing": (withdrawing or {}).get(one.pk) or _withdraw_fact_form(one.pk),
            }
            for one in some
        ]

    context = {
        "patient": patient,
        "limbs": [(side.label, lines(rows)) for side, rows in history.items()],
        "of_the_person": lines(queries.person_fact_history(patient)),
        "form": form or forms.FactForm(),
    }
    return render(request, "patients/facts.html", context, status=status)


def _kept(form: forms.RoomForm, do: Callable[[], Any]) -> Any:
    """What ``do`` gives for a valid form; None if form or service refused: the form then says why."""
    if not form.is_valid():
        return None
    try:
        return do()
    except ValidationError as error:
        form.take(error)
        return None
