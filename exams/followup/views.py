"""Referrals, the recall list, promises, and how long what may wait: parse, call, render."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.permissions import allowed
from access.trail import record_view
from exams.followup import forms, services
from exams.followup.course import ANSWERING, REFERRING, TAKEN_BACK, move_to
from exams.followup.queries import patient as of_patient
from exams.followup.queries import promises, recalls, referrals, settings
from exams.patients.forms import RoomForm
from exams.patients.queries import patient_for, today_for

# ---- one person


@never_cache
@require_safe
def patient(request: HttpRequest, patient_id: int) -> HttpResponse:
    """Everything that waits for one person."""
    return _patient_page(request, patient_id)


@never_cache
@require_POST
def plan_recall(request: HttpRequest, patient_id: int) -> HttpResponse:
    found = patient_for(request.person, patient_id)
    form = forms.PlanRecallForm(request.POST, auto_id="plan-%s")
    made = _kept(form, lambda: services.plan_recall(patient=found, by=request.person, **form.cleaned_data))
    if made is None:
        return _patient_page(request, patient_id, plan_form=form)
    messages.success(request, "The recall is planned.")
    return redirect("followup:patient", patient_id)


@never_cache
@require_POST
def promise(request: HttpRequest, patient_id: int) -> HttpResponse:
    found = patient_for(request.person, patient_id)
    offered = of_patient.promise_proposal(request.person, found, _exam_asked(request))
    form = forms.PromiseForm(request.POST, auto_id="promise-%s", today=today_for(request.person))
    made = _kept(
        form,
        lambda: services.make_promise(
            patient=found, exam=offered.exam, by=request.person, **form.cleaned_data
        ),
    )
    if made is None:
        return _patient_page(request, patient_id, promise_form=form)
    messages.success(request, "The promise is recorded; Today shows it when it is due.")
    return redirect("followup:patient", patient_id)


@never_cache
@require_POST
def keep_promise(request: HttpRequest, promise_id: int) -> HttpResponse:
    found = promises.promise_for(request.person, promise_id)
    form = forms.KeptForm(request.POST, auto_id=f"kept-{promise_id}-%s")
    kept = _kept(form, lambda: services.keep_promise(promise=found, by=request.person, **form.cleaned_data))
    if kept is None:
        return _patient_page(request, found.patient_id, keeping={promise_id: form})
    messages.success(request, "The promise is kept.")
    return redirect("followup:patient", found.patient_id)


@never_cache
@require_POST
def call_off_promise(request: HttpRequest, promise_id: int) -> HttpResponse:
    found = promises.promise_for(request.person, promise_id)
    form = forms.CallOffForm(request.POST, auto_id=f"off-{promise_id}-%s")
    done = _kept(
        form, lambda: services.call_off_promise(promise=found, by=request.person, **form.cleaned_data)
    )
    if done is None:
        return _patient_page(request, found.patient_id, calling_off={promise_id: form})
    messages.success(request, "The promise is called off. It stays below with the reason.")
    return redirect("followup:patient", found.patient_id)


def _patient_page(
    request: HttpRequest,
    patient_id: int,
    *,
    plan_form: forms.PlanRecallForm | None = None,
    promise_form: forms.PromiseForm | None = None,
    keeping: dict[int, forms.KeptForm] | None = None,
    calling_off: dict[int, forms.CallOffForm] | None = None,
) -> HttpResponse:
    refused = any((plan_form, promise_form, keeping, calling_off))
    page = of_patient.follow_up_page(request.person, patient_id)
    offered = of_patient.promise_proposal(
        request.person,
        page.patient,
        _exam_asked(request),
        request.GET.get("offer", ""),
        request.GET.get("side", ""),
    )
    record_view(request.person, "follow-up viewed", patient=page.patient, subject=page.patient)
    risk = of_patient.risk_proposal(page.patient)
    start_of_recall = {
        "category": risk.category,
        "counted_from": today_for(request.person),
        "because": risk.words[:300],
    }
    start = {"kind": offered.kind, "side": offered.side, "words": offered.words, "due_on": offered.due}
    context = {
        "page_of": page,
        "patient": page.patient,
        "offered": offered,
        "may_refer": allowed(request.person, REFERRING),
        "risk": risk,
        "plan_form": plan_form or forms.PlanRecallForm(auto_id="plan-%s", initial=start_of_recall),
        "promise_form": promise_form
        or forms.PromiseForm(auto_id="promise-%s", initial=start, today=today_for(request.person)),
        "standing_promises": [
            {
                "line": one,
                "keeping": (keeping or {}).get(one.id) or forms.KeptForm(auto_id=f"kept-{one.id}-%s"),
                "calling_off": (calling_off or {}).get(one.id)
                or forms.CallOffForm(auto_id=f"off-{one.id}-%s"),
            }
            for one in page.standing_promises
        ],
    }
    return render(request, "followup/patient.html", context, status=422 if refused else 200)


# ---- referrals


@never_cache
@require_safe
def referral_list(request: HttpRequest) -> HttpResponse:
    lines = referrals.open_referrals(request.person)
    record_view(request.person, "list of referrals viewed")
    return render(request, "followup/referrals.html", {"lines": lines, "most": referrals.MOST})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def refer(request: HttpRequest, patient_id: int, side: str = "") -> HttpResponse:
    """A new referral, with urgency and reasons as the record gives them, to be edited and sent."""
    if side not in ("", "right", "left"):
        raise Http404("a foot is right or left")
    offered = of_patient.referral_proposal(request.person, patient_id, _exam_asked(request), side)
    if request.method == "POST":
        form = forms.ReferralForm(request.POST)
        sent = _kept(
            form,
            lambda: services.send_referral(
                patient=offered.patient,
                exam=offered.exam,
                urgency_proposed=offered.urgency,
                reasons_proposed=offered.reasons,
                by=request.person,
                **form.cleaned_data,
            ),
        )
        if sent is not None:
            messages.success(request, "The referral is sent. Its letter is being made.")
            return redirect("followup:referral", sent.pk)
    else:
        names = ("sent_to", "side", "urgency", "reasons")
        form = forms.ReferralForm(initial={name: getattr(offered, name) for name in names})
    record_view(request.person, "new referral opened", patient=offered.patient, subject=offered.patient)
    context = {
        "patient": offered.patient,
        "offered": offered,
        "form": form,
        "address": request.get_full_path(),
    }
    return render(request, "followup/refer.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_safe
def referral(request: HttpRequest, referral_id: int) -> HttpResponse:
    return _referral_page(request, referral_id)


@never_cache
@require_POST
def refer_step(request: HttpRequest, referral_id: int) -> HttpResponse:
    """A step of the referring side."""
    return _step(request, referral_id, REFERRING)


@never_cache
@require_POST
def answer(request: HttpRequest, referral_id: int) -> HttpResponse:
    """A step of the answering side."""
    return _step(request, referral_id, ANSWERING)


def _step(request: HttpRequest, referral_id: int, side: str) -> HttpResponse:
    page = referrals.referral_page(request.person, referral_id)
    if request.POST.get("after") == TAKEN_BACK:
        return _take_back(request, page)
    form = _step_form(page, side, request.POST)
    taken = _kept(
        form,
        lambda: services.take_step(referral=page.referral, by=request.person, **form.cleaned_data),
    )
    if taken is None:
        return _referral_page(request, referral_id, bound={side: form})
    messages.success(request, f"The referral is now “{taken.get_state_display()}”.")
    return redirect("followup:referral", referral_id)


def _take_back(request: HttpRequest, page: referrals.ReferralPage) -> HttpResponse:
    form = forms.TakeBackForm(request.POST, auto_id="back-%s")
    taken = _kept(
        form,
        lambda: services.take_step_back(referral=page.referral, by=request.person, **form.cleaned_data),
    )
    if taken is None:
        return _referral_page(request, page.referral.pk, back_form=form)
    messages.success(
        request, "The step is taken back. It stays on the page, struck through, with your reason."
    )
    return redirect("followup:referral", page.referral.pk)


def _referral_page(
    request: HttpRequest,
    referral_id: int,
    *,
    bound: dict[str, forms.StepForm] | None = None,
    back_form: forms.TakeBackForm | None = None,
) -> HttpResponse:
    page = referrals.referral_page(request.person, referral_id)
    record_view(request.person, "referral viewed", patient=page.referral.patient_id, subject=page.referral)
    for form in (bound or {}).values():
        # The next try is made against the step now on the page, not against the one first seen.
        form.data = {**form.data.dict(), "seen": str(page.newest.pk)}
    sides = [
        {
            "address": address,
            "moves": moves,
            "form": (bound or {}).get(side) or _step_form(page, side),
        }
        for side, address in ((ANSWERING, "followup:answer"), (REFERRING, "followup:refer_step"))
        if (moves := [move for move in page.moves if move.by == side])
    ]
    move = move_to(page.slip.before, page.slip.state) if page.slip else None
    context = {
        "shown": page,
        "patient": page.referral.patient,
        "sides": sides,
        "back_form": back_form
        or forms.TakeBackForm(auto_id="back-%s", initial={"seen": page.slip.pk if page.slip else ""}),
        "back_address": "followup:answer" if move and move.by == ANSWERING else "followup:refer_step",
    }
    return render(request, "followup/referral.html", context, status=422 if bound or back_form else 200)


def _step_form(page: referrals.ReferralPage, side: str, typed: Any = None) -> forms.StepForm:
    moves = tuple(move for move in page.moves if move.by == side)
    start = {"seen": page.newest.pk}
    return forms.StepForm(typed, moves=moves, initial=start, auto_id=f"{side.split()[0]}-%s")


# ---- recall


@never_cache
@require_safe
def recall_list(request: HttpRequest) -> HttpResponse:
    shown = recalls.recall_list(request.person, only_due=request.GET.get("show") != "all")
    record_view(request.person, "recall list viewed")
    return render(request, "followup/recall_list.html", {"shown": shown})


@never_cache
@require_safe
def recall(request: HttpRequest, recall_id: int) -> HttpResponse:
    return _recall_page(request, recall_id)


@never_cache
@require_POST
def contact(request: HttpRequest, recall_id: int) -> HttpResponse:
    found = recalls.recall_for(request.person, recall_id)
    form = forms.ContactForm(request.POST, auto_id="contact-%s")
    tried = _kept(form, lambda: services.record_contact(recall=found, by=request.person, **form.cleaned_data))
    if tried is None:
        return _recall_page(request, recall_id, contact_form=form)
    messages.success(request, "The try is recorded; the recall stands.")
    return redirect("followup:recall", recall_id)


@never_cache
@require_POST
def seen(request: HttpRequest, recall_id: int) -> HttpResponse:
    found = recalls.recall_for(request.person, recall_id)
    form = forms.SeenForm(request.POST, auto_id="seen-%s")
    # None where none is planned next, so whether it was done is told apart from what it gives.
    done = _kept(form, lambda: (services.mark_seen(recall=found, by=request.person, **form.cleaned_data),))
    if done is None:
        return _recall_page(request, recall_id, seen_form=form)
    messages.success(request, "Seen; the next date is set." if done[0] else "Seen; this recall is over.")
    return redirect("followup:patient", found.patient_id)


@never_cache
@require_POST
def end_recall(request: HttpRequest, recall_id: int) -> HttpResponse:
    found = recalls.recall_for(request.person, recall_id)
    form = forms.EndRecallForm(request.POST, auto_id="end-%s")
    done = _kept(form, lambda: services.end_recall(recall=found, by=request.person, **form.cleaned_data))
    if done is None:
        return _recall_page(request, recall_id, end_form=form)
    messages.success(request, "The recall is ended. It stays in the record with the reason.")
    return redirect("followup:patient", found.patient_id)


def _recall_page(
    request: HttpRequest,
    recall_id: int,
    *,
    contact_form: forms.ContactForm | None = None,
    seen_form: forms.SeenForm | None = None,
    end_form: forms.EndRecallForm | None = None,
) -> HttpResponse:
    refused = any((contact_form, seen_form, end_form))
    line = recalls.recall_page(request.person, recall_id)
    record_view(request.person, "recall viewed", patient=line.recall.patient_id, subject=line.recall)
    today = today_for(request.person)
    context = {
        "line": line,
        "patient": line.recall.patient,
        "contact_form": contact_form or forms.ContactForm(auto_id="contact-%s", initial={"tried_on": today}),
        "seen_form": seen_form
        or forms.SeenForm(
            auto_id="seen-%s", initial={"on": line.measured_on or today, "category": line.recall.category}
        ),
        "end_form": end_form or forms.EndRecallForm(auto_id="end-%s"),
    }
    return render(request, "followup/recall.html", context, status=422 if refused else 200)


# ---- how long what may wait


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def targets(request: HttpRequest) -> HttpResponse:
    """The published figures and the clinic's own in their place."""
    bound: dict[str, forms.TargetForm] = {}
    if request.method == "POST":
        form = forms.TargetForm(request.POST, auto_id=_target_ids(request.POST.get("key", "")))
        # None where the figure stood so already, so that is told apart from a refusal.
        done = _kept(form, lambda: (services.set_target(by=request.person, **form.cleaned_data),))
        if done is not None:
            said = "The figure is set." if done[0] else "The figure stood so already; nothing was changed."
            messages.success(request, said)
            return redirect("followup:targets")
        bound[request.POST.get("key", "")] = form
    found = settings.targets_for(request.person)
    rows = [
        {
            "target": one,
            "form": bound.pop(one.key, None)
            or forms.TargetForm(initial={"key": one.key, "days": one.days}, auto_id=_target_ids(one.key)),
        }
        for one in found
    ]
    context = {
        "rows": rows,
        "changes": settings.changes_for(request.person),
        # A form whose figure is none of the list: the page was tampered with, or is from another version.
        "lost": next(iter(bound.values()), None),
    }
    return render(request, "followup/targets.html", context, status=422 if request.method == "POST" else 200)


def _target_ids(key: str) -> str:
    return f"{''.join(letter if letter.isalnum() else '-' for letter in key[:40])}-%s"


# ---- shared


def _exam_asked(request: HttpRequest) -> int | None:
    """The exam from whose page somebody came; what is no number is no exam."""
    asked = request.GET.get("exam", "")
    return int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 10 else None


def _kept(form: RoomForm, do: Callable[[], Any]) -> Any:
    """What ``do`` gives for a valid form; None if form or service refused: the form then says why."""
    if not form.is_valid():
        return None
    try:
        return do()
    except ValidationError as error:
        form.take(error)
        return None
