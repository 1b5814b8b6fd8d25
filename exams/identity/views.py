"""Pages that correct whose record it is: duplicates, a merge and its undoing, exams of the wrong person."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.permissions import allowed
from access.sign_in import require_fresh_sign_in
from access.trail import one_act, record_view
from access.trail import record as write_line
from exams.identity import forms, queries, services
from exams.identity.duplicates import duplicates as likely_pairs
from exams.patients.forms import RoomForm
from exams.patients.queries import (
    LONGEST_SEARCH,
    agreements,
    likely_duplicates,
    patient_for,
    patients_matching,
)


@never_cache
@require_safe
def duplicates(request: HttpRequest) -> HttpResponse:
    """Perhaps the same person: every likely pair of the clinic, the likeliest first."""
    found = likely_pairs(request.person)
    with one_act():
        shown = [[pair.one.pk, pair.other.pk] for pair in found.pairs]
        write_line(request.person, "list of likely duplicates viewed", details={"shown": shown})
    return render(request, "identity/duplicates.html", {"found": found})


@never_cache
@require_safe
def record(request: HttpRequest, patient_id: int) -> HttpResponse:
    """Whose record it is: merges, exams that were somebody else's, who it may be the same as."""
    patient = patient_for(request.person, patient_id)
    record_view(request.person, "identity of a record viewed", patient=patient, subject=patient)
    may_correct = allowed(request.person, "correct identity")
    context = {
        "patient": patient,
        "merges": queries.merges_of(patient),
        "in_error": queries.exams_in_error(patient),
        "may_correct": may_correct,
    }
    if may_correct:
        context |= _searched(request, without=patient.pk)
        context["likely"] = [match for match in _likely(request, patient) if match.patient.pk != patient.pk]
    return render(request, "identity/record.html", context)


@never_cache
@require_safe
def exam_part(request: HttpRequest, exam_id: int) -> HttpResponse:
    """What an exam's sheet says of its twin under the right, or the wrong, person."""
    exam = queries.exam_with_its_twin(request.person, exam_id)
    context = {"exam": exam, "may_correct": allowed(request.person, "correct identity")}
    return render(request, "identity/_exam_part.html", context)


@never_cache
@require_fresh_sign_in
@require_http_methods(["GET", "HEAD", "POST"])
def compare(request: HttpRequest, patient_id: int, other: int) -> HttpResponse:
    """Two records side by side, each difference decided; sent, the second is merged into the first."""
    survivor, merged = _two(request, patient_id, other)
    decide = queries.to_decide(survivor, merged)
    if request.method != "POST":
        seen = {"seen_one": survivor.revision, "seen_other": merged.revision}
        return _compare_page(request, survivor, merged, forms.MergeForm(decide=decide, initial=seen))
    form = forms.MergeForm(request.POST, decide=decide)
    done = _kept(
        form,
        lambda: services.merge_records(
            survivor=survivor,
            merged=merged,
            keep=form.keep(),
            because=form.cleaned_data["because"],
            seen=(form.cleaned_data["seen_one"], form.cleaned_data["seen_other"]),
            by=request.person,
        ),
    )
    if done is None:
        form.renew(survivor.revision, merged.revision)
        return _compare_page(request, survivor, merged, form, status=422)
    messages.success(request, "The two records are one now. Undo it here if it was a mistake.")
    return redirect("identity:merge", done.pk)


@never_cache
@require_POST
def different(request: HttpRequest, patient_id: int, other: int) -> HttpResponse:
    """Two records that look alike are of two people."""
    one, two = _two(request, patient_id, other)
    form = forms.DifferentForm(request.POST, auto_id="different-%s")
    said = _kept(
        form,
        lambda: services.say_different(
            one=one, other=two, because=form.cleaned_data["because"], by=request.person
        ),
    )
    if said is None:
        decide = queries.to_decide(one, two)
        seen = {"seen_one": one.revision, "seen_other": two.revision}
        merging = forms.MergeForm(decide=decide, initial=seen)
        return _compare_page(request, one, two, merging, different_form=form, status=422)
    messages.success(request, "Kept as two people. The list offers this pair no more.")
    return redirect("identity:duplicates")


@never_cache
@require_fresh_sign_in
@require_http_methods(["GET", "HEAD", "POST"])
def merge(request: HttpRequest, merge_id: int) -> HttpResponse:
    """One merge: what was decided and moved; sent, it is undone."""
    shown = queries.merge_for(request.person, merge_id)
    later = queries.later_merge(shown)
    asked = queries.recorded_since(shown) if shown.undone_at is None and later is None else ()
    form = forms.UndoForm(request.POST if request.method == "POST" else None, asked=asked)
    if request.method == "POST":
        undone = _kept(
            form,
            lambda: services.undo_merge(
                merge=shown, places=form.places(), because=form.cleaned_data["because"], by=request.person
            ),
        )
        if undone is not None:
            messages.success(request, "The merge is undone. Both records stand as they did before.")
            return redirect("identity:merge", merge_id)
    with one_act():
        for patient in (shown.survivor, shown.merged):
            write_line(request.person, "merge viewed", shown, patient=patient)
    context = {
        "merge": shown,
        "moved": queries.moved_words(shown),
        "later": later,
        "form": form,
        "asked": [form[one.key] for one in asked],
        "may_undo": shown.undone_at is None and allowed(request.person, "correct identity"),
    }
    return render(request, "identity/merge.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_fresh_sign_in
@require_http_methods(["GET", "HEAD", "POST"])
def wrong_person(request: HttpRequest, exam_id: int) -> HttpResponse:
    """An exam recorded under the wrong person: find the right one, and enter it again there."""
    exam = queries.exam_with_its_twin(request.person, exam_id)
    form = forms.WrongPersonForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        again = _kept(
            form,
            lambda: services.enter_under_right_person(
                exam=exam,
                patient=patient_for(request.person, form.cleaned_data["patient"]),
                because=form.cleaned_data["because"],
                by=request.person,
            ),
        )
        if again is not None:
            messages.success(request, "Entered again here. Read it through: findings are computed anew.")
            return redirect("visits:sheet", again.pk)
    record_view(request.person, "page for an exam of the wrong person viewed", exam.patient, exam)
    context = {"exam": exam, "form": form, **_searched(request, without=exam.patient_id)}
    return render(request, "identity/wrong_person.html", context, status=422 if form.is_bound else 200)


def _two(request: HttpRequest, patient_id: int, other: int) -> tuple[Any, Any]:
    """Both records; of one that was merged already, where it leads."""
    return patient_for(request.person, patient_id), patient_for(request.person, other)


def _compare_page(
    request: HttpRequest,
    survivor: Any,
    merged: Any,
    form: forms.MergeForm,
    *,
    different_form: forms.DifferentForm | None = None,
    status: int = 200,
) -> HttpResponse:
    with one_act():
        for one, beside in ((survivor, merged), (merged, survivor)):
            write_line(request.person, "records compared", one, details={"with": beside.pk})
    context = {
        "survivor": survivor,
        "merged": merged,
        "form": form,
        "alike": queries.alike(survivor, merged),
        "holdings": queries.holdings(survivor, merged),
        "reasons": agreements(survivor, merged),
        "different_form": different_form or forms.DifferentForm(auto_id="different-%s"),
    }
    return render(request, "identity/compare.html", context, status=status)


def _searched(request: HttpRequest, *, without: int) -> dict[str, Any]:
    """People found by the typed words, with the line in the trail; the record itself is left out."""
    typed = request.GET.get("q", "").strip()[:LONGEST_SEARCH]
    if not typed:
        return {"typed": "", "people": []}
    with one_act():
        found = patients_matching(request.person, typed)
        shown = [one.pk for one in found.patients]
        write_line(request.person, "patients searched", details={"typed": typed, "shown": shown})
    return {"typed": typed, "people": [one for one in found.patients if one.pk != without]}


def _likely(request: HttpRequest, patient: Any) -> Any:
    return likely_duplicates(
        request.person,
        family_name=patient.family_name,
        given_name=patient.given_name,
        birth_date=patient.birth_date,
        identifiers=[(one.issuer, one.value) for one in patient.identifiers_in_use],
        telephone=patient.telephone,
    )


def _kept(form: RoomForm, do: Callable[[], Any]) -> Any:
    """What ``do`` gives for a valid form; None if form or service refused: the form then says why."""
    if not form.is_valid():
        return None
    try:
        return do()
    except ValidationError as error:
        form.take(error)
        return None
