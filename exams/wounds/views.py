"""Pages about wounds: both feet, one wound, its assessments and photographs, the outlook of a foot."""

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
from exams.patients.forms import RoomForm
from exams.patients.queries import patient_for, today_for
from exams.wounds import forms, queries, services
from exams.wounds.pictures import MOST_BYTES

# What is said after a page was sent travels in a cookie, so it never names a person, a limb or an illness.
SIDES = ("right", "left")


@never_cache
@require_safe
def patient(request: HttpRequest, patient_id: int) -> HttpResponse:
    """Both feet: the map, the open wounds, what has closed."""
    return _patient_page(request, patient_for(request.person, patient_id))


def _patient_page(
    request: HttpRequest, patient: Any, *, lost: forms.LostForm | None = None, status: int = 200
) -> HttpResponse:
    shown = queries.patient_page(request.person, patient)
    record_view(request.person, "wounds viewed", patient)
    context = {
        "shown": shown,
        "patient": patient,
        "lost": lost or forms.LostForm(auto_id="lost-%s"),
        "may_record": allowed(request.person, "record wounds"),
    }
    return render(request, "wounds/patient.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest, patient_id: int) -> HttpResponse:
    """A new wound, its place tapped on the map or chosen from the list."""
    patient = patient_for(request.person, patient_id)
    chosen = forms.place_from(request.POST.get("place", "") or request.GET.get("place", ""))
    shown = queries.patient_page(request.person, patient, chosen)
    asked = request.POST.get("fact", "") or request.GET.get("fact", "")
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 10 else None
    fact = queries.wound_on_record_for(request.person, patient, number)
    start = {"place": chosen, "began_on": fact.dated.words if fact else ""}
    form = forms.WoundForm(
        request.POST if request.method == "POST" else None, healed=shown.closed, initial=start
    )
    if request.method == "POST":
        wound = _kept(form, lambda: _record(request, patient, form, fact))
        if wound is not None:
            messages.success(request, "The wound is recorded. Now write how you found it.")
            return redirect("wounds:assess", patient.pk, wound.pk)
    record_view(request.person, "page for a new wound viewed", patient)
    context = {"shown": shown, "patient": patient, "form": form, "chosen": chosen, "fact": fact}
    return render(request, "wounds/new.html", context, status=422 if form.is_bound else 200)


def _record(request: HttpRequest, patient: Any, form: forms.WoundForm, fact: Any) -> Any:
    typed = form.values()
    again = typed.pop("recurrence_of_id")
    before = queries.entry_for(request.person, patient.pk, again).wound if again else None
    return services.record_wound(patient=patient, recurrence_of=before, fact=fact, by=request.person, **typed)


@never_cache
@require_safe
def wound(request: HttpRequest, patient_id: int, wound_id: int) -> HttpResponse:
    """The course of one wound."""
    return _wound_page(request, queries.entry_for(request.person, patient_id, wound_id))


def _wound_page(
    request: HttpRequest,
    entry: Any,
    *,
    closing: forms.CloseForm | None = None,
    withdrawing: forms.ReasonForm | None = None,
    bound: dict[str, forms.ReasonForm] | None = None,
    status: int = 200,
) -> HttpResponse:
    shown = queries.wound_page(request.person, entry)
    record_view(request.person, "wound viewed", entry.patient, entry.wound)
    bound = bound or {}

    def reason(key: str) -> forms.ReasonForm:
        return bound.get(key) or forms.ReasonForm(auto_id=f"{key}-%s")

    context = {
        "shown": shown,
        "entry": entry,
        "patient": entry.patient,
        "seen": [(one, reason(f"assessment-{one.found.pk}")) for one in shown.seen],
        "photographs": [(one, reason(f"photograph-{one.pk}")) for one in shown.photographs],
        "closing": closing or forms.CloseForm(auto_id="close-%s"),
        "withdrawing": withdrawing or forms.ReasonForm(auto_id="withdraw-%s"),
        "may_record": allowed(request.person, "record wounds"),
    }
    return render(request, "wounds/wound.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def assess(request: HttpRequest, patient_id: int, wound_id: int) -> HttpResponse:
    """How the wound is found today, with a photograph."""
    entry = queries.entry_for(request.person, patient_id, wound_id)
    shown = queries.wound_page(request.person, entry)
    if request.method == "POST":
        form = forms.AssessmentForm(request.POST, request.FILES)
        form = _with_picture(request, entry, form, forms.AssessmentForm)
        kept = _kept(
            form, lambda: services.assess_wound(wound=entry.wound, by=request.person, **form.values())
        )
        if kept is not None:
            messages.success(request, "The assessment is recorded and graded.")
            return redirect("wounds:wound", patient_id, wound_id)
    else:
        last = shown.newest
        form = forms.AssessmentForm.after(last.found if last else None)
    record_view(request.person, "page to assess a wound viewed", entry.patient, entry.wound)
    context = {"shown": shown, "entry": entry, "patient": entry.patient, "form": form}
    return render(request, "wounds/assess.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct_assessment(
    request: HttpRequest, patient_id: int, wound_id: int, assessment_id: int
) -> HttpResponse:
    entry = queries.entry_for(request.person, patient_id, wound_id)
    found = queries.assessment_for(request.person, patient_id, wound_id, assessment_id)
    if request.method == "POST":
        form: Any = forms.CorrectAssessmentForm(request.POST, request.FILES)
        form = _with_picture(request, entry, form, forms.CorrectAssessmentForm)
        kept = _kept(
            form, lambda: services.correct_assessment(assessment=found, by=request.person, **form.values())
        )
        if kept is not None:
            messages.success(request, "Corrected and graded again. The first entry stays, struck through.")
            return redirect("wounds:wound", patient_id, wound_id)
    else:
        form = forms.CorrectAssessmentForm.of(found)
    record_view(request.person, "page to assess a wound viewed", entry.patient, entry.wound)
    context = {"entry": entry, "patient": entry.patient, "form": form, "found": found}
    return render(request, "wounds/assess.html", context, status=422 if form.is_bound else 200)


def _with_picture(request: HttpRequest, entry: Any, form: Any, kind: type[Any]) -> Any:
    """Keep the photograph at once: a browser cannot give a file back when something else is wrong."""
    sent = request.FILES.get("picture")
    if sent is None:
        return form
    form.is_valid()
    taken = forms.as_day(form.cleaned_data.get("assessed_on"), today_for(request.person))
    try:
        kept = services.keep_photograph(
            wound=entry.wound, content=sent.read(MOST_BYTES + 1), taken_on=taken, by=request.person
        )
    except ValidationError as error:
        form.take(error)
        return form
    typed = request.POST.copy()
    typed["photograph"] = str(kept.pk)
    return kind(typed)


@never_cache
@require_POST
def close(request: HttpRequest, patient_id: int, wound_id: int) -> HttpResponse:
    entry = queries.entry_for(request.person, patient_id, wound_id)
    form = forms.CloseForm(request.POST, auto_id="close-%s")
    closed = _kept(
        form, lambda: services.close_wound(wound=entry.wound, by=request.person, **form.cleaned_data)
    )
    if closed is None:
        return _wound_page(request, entry, closing=form, status=422)
    messages.success(request, "The end is recorded.")
    return redirect("wounds:wound", patient_id, wound_id)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct(request: HttpRequest, patient_id: int, wound_id: int) -> HttpResponse:
    entry = queries.entry_for(request.person, patient_id, wound_id)
    others = [one for one in queries.patient_page(request.person, entry.patient).closed if one.pk != entry.pk]
    if request.method == "POST":
        form = forms.CorrectWoundForm(request.POST, healed=others)
        kept = _kept(
            form, lambda: services.correct_wound(wound=entry.wound, by=request.person, **form.values())
        )
        if kept is not None:
            messages.success(request, "Corrected. The first entry stays in the record, struck through.")
            return redirect("wounds:wound", patient_id, wound_id)
    else:
        form = forms.CorrectWoundForm.of(entry, others)
    record_view(request.person, "page to correct a wound viewed", entry.patient, entry.wound)
    context = {"entry": entry, "patient": entry.patient, "form": form}
    return render(request, "wounds/correct.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_POST
def withdraw(request: HttpRequest, patient_id: int, wound_id: int) -> HttpResponse:
    entry = queries.entry_for(request.person, patient_id, wound_id)
    form = forms.ReasonForm(request.POST, auto_id="withdraw-%s")
    gone = _kept(
        form, lambda: services.withdraw_wound(wound=entry.wound, by=request.person, **form.cleaned_data)
    )
    if gone is None:
        return _wound_page(request, entry, withdrawing=form, status=422)
    messages.success(request, "The wound is withdrawn. It stays in the record, struck through.")
    return redirect("wounds:patient", patient_id)


@never_cache
@require_POST
def withdraw_assessment(
    request: HttpRequest, patient_id: int, wound_id: int, assessment_id: int
) -> HttpResponse:
    entry = queries.entry_for(request.person, patient_id, wound_id)
    found = queries.assessment_for(request.person, patient_id, wound_id, assessment_id)
    key = f"assessment-{assessment_id}"
    form = forms.ReasonForm(request.POST, auto_id=f"{key}-%s")
    gone = _kept(
        form, lambda: services.withdraw_assessment(assessment=found, by=request.person, **form.cleaned_data)
    )
    if gone is None:
        return _wound_page(request, entry, bound={key: form}, status=422)
    messages.success(request, "The assessment is withdrawn. It stays in the record, struck through.")
    return redirect("wounds:wound", patient_id, wound_id)


@never_cache
@require_safe
def photograph(request: HttpRequest, patient_id: int, photograph_id: int) -> HttpResponse:
    """The picture itself; each look is a line in the trail."""
    found = queries.photograph_for(request.person, patient_id, photograph_id)
    record_view(request.person, "wound photograph viewed", found.patient, found)
    try:
        content = queries.picture_of(found)
    except ValidationError as changed:
        return HttpResponse(" ".join(changed.messages), content_type="text/plain; charset=utf-8", status=409)
    return HttpResponse(content, content_type="image/jpeg")


@never_cache
@require_POST
def withdraw_photograph(request: HttpRequest, patient_id: int, photograph_id: int) -> HttpResponse:
    found = queries.photograph_for(request.person, patient_id, photograph_id)
    key = f"photograph-{photograph_id}"
    form = forms.ReasonForm(request.POST, auto_id=f"{key}-%s")
    gone = _kept(
        form, lambda: services.withdraw_photograph(photograph=found, by=request.person, **form.cleaned_data)
    )
    if gone is None:
        entry = queries.entry_for(request.person, patient_id, found.wound_id)
        return _wound_page(request, entry, bound={key: form}, status=422)
    messages.success(request, "The photograph is withdrawn and is shown no more.")
    return redirect("wounds:wound", patient_id, found.wound_id)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def trace(request: HttpRequest, patient_id: int, wound_id: int, assessment_id: int) -> HttpResponse:
    """Mark the edge of the wound and the ends of the scale on the photograph of an assessment."""
    entry = queries.entry_for(request.person, patient_id, wound_id)
    found = queries.assessment_for(request.person, patient_id, wound_id, assessment_id)
    picture = found.photograph
    if picture is None:
        raise Http404("no photograph goes with this assessment")
    form = forms.TraceForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        kept = _kept(
            form,
            lambda: services.trace_area(
                assessment=found,
                photograph=picture,
                line=form.line,
                size_confirmed=form.cleaned_data["size_confirmed"],
                by=request.person,
            ),
        )
        if kept is not None:
            messages.success(request, "The area is recorded and the wound graded again.")
            return redirect("wounds:wound", patient_id, wound_id)
    record_view(request.person, "page to trace a wound viewed", entry.patient, entry.wound)
    context = {
        "entry": entry,
        "patient": entry.patient,
        "form": form,
        "found": found,
        "photograph": picture,
    }
    return render(request, "wounds/trace.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_safe
def outlook(request: HttpRequest, patient_id: int, side: str) -> HttpResponse:
    """Whether this foot can heal as it is, what to do, and every number and source behind the answer."""
    return _outlook_page(request, patient_id, side)


@never_cache
@require_POST
def salvage(request: HttpRequest, patient_id: int, side: str) -> HttpResponse:
    """A clinician judges that a foot cannot be saved (stage 5), or takes that back."""
    patient = patient_for(request.person, patient_id)
    episode = queries.open_episode_for(request.person, patient)
    form = forms.SalvageForm({**request.POST.dict(), "side": side})

    def judge() -> Any:
        if episode is None:
            raise ValidationError("This person has no open wound. Record the wound first.")
        return services.judge_beyond_salvage(
            episode=episode,
            side=side,
            holds=form.cleaned_data["holds"] == "yes",
            because=form.cleaned_data["because"],
            by=request.person,
        )

    said = _kept(form, judge)
    if said is None:
        return _outlook_page(request, patient_id, side, salvage_form=form, status=422)
    messages.success(request, "The judgement is recorded.")
    return redirect("wounds:outlook", patient_id, side)


def _outlook_page(
    request: HttpRequest,
    patient_id: int,
    side: str,
    *,
    salvage_form: forms.SalvageForm | None = None,
    status: int = 200,
) -> HttpResponse:
    if side not in SIDES:
        raise Http404("a foot is right or left")
    patient = patient_for(request.person, patient_id)
    chance = forms.PreTestForm(request.GET)
    asked = queries.outlook_for(request.person, patient, side, pre_test_percent=chance.percent)
    record_view(request.person, "healing outlook viewed", patient, patient)
    context = {
        "asked": asked,
        "answer": asked.answer,
        "patient": patient,
        "side": side,
        "other": "left" if side == "right" else "right",
        "chance": chance,
        "salvage_form": salvage_form or forms.SalvageForm(auto_id="salvage-%s"),
        "may_refer": allowed(request.person, "refer") and not patient.died_on,
        "may_promise": allowed(request.person, "keep promises") and not patient.died_on,
        "may_judge": allowed(request.person, "judge beyond salvage"),
        "may_record": allowed(request.person, "record wounds"),
    }
    return render(request, "wounds/outlook.html", context, status=status)


@never_cache
@require_POST
def lost(request: HttpRequest, patient_id: int) -> HttpResponse:
    """Somebody is no longer followed here."""
    patient = patient_for(request.person, patient_id)
    episode = queries.open_episode_for(request.person, patient)
    form = forms.LostForm(request.POST, auto_id="lost-%s")

    def end() -> Any:
        if episode is None:
            raise ValidationError("No episode of wounds is open.")
        return services.lose_episode(episode=episode, by=request.person, **form.cleaned_data)

    ended = _kept(form, end)
    if ended is None:
        return _patient_page(request, patient, lost=form, status=422)
    messages.success(request, "Recorded. The next assessment opens the episode again.")
    return redirect("wounds:patient", patient_id)


def _kept(form: RoomForm, do: Callable[[], Any]) -> Any:
    """What ``do`` gives for a valid form; None if form or service refused: the form then says why."""
    if not form.is_valid():
        return None
    try:
        return do()
    except ValidationError as error:
        form.take(error)
        return None
