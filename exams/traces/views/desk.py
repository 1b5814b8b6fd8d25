"""The Trace desk: look at a recording, say where the mark stands, go on to the next."""

from math import isfinite
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.http import HttpResponse, HttpResponseBadRequest, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.cache import never_cache

from access.requests import Request
from access.trail import record_view
from exams.traces.desk import REASONS, Desk
from exams.traces.drawn import choices, reasons
from exams.traces.forms_desk import READ, READ_ANEW, MarkForm
from exams.traces.queries.desk import analysis_shown, desk_of, placed_trace, trace_of_reading, window_of
from exams.traces.queries.pictures import picture_of
from exams.traces.queries.waiting import for_a_second_reader, next_waiting, waiting_traces
from exams.traces.services.marks import mark_trace
from exams.traces.services.seeing import keep_seen, show_figures
from exams.visits.errors import StaleValue
from exams.visits.wording import plain


@never_cache
def desk(request: Request, trace_id: int) -> HttpResponse:
    """The desk; a POST is a verdict."""
    return _desk(request, placed_trace(request.person, trace_id), blind=False)


@never_cache
def blind(request: Request, trace_id: int) -> HttpResponse:
    """The same for a second reader, who sees neither the suggestion nor anyone's mark."""
    return _desk(request, placed_trace(request.person, trace_id), blind=True)


@never_cache
def waiting(request: Request) -> HttpResponse:
    """The recordings that wait for a reader; `?after=` one of them leads to the one that follows it."""
    after = request.GET.get("after", "")
    if after.isascii() and after.isdecimal():
        following = next_waiting(request.person, after=placed_trace(request.person, int(after[:18])))
        if following is not None:
            return redirect(_on_the_way(request, following.pk))
    record_view(request.person, "list of waiting traces viewed")
    lines = waiting_traces(request.person)
    context = {
        "waiting": lines,
        "round": _round(1, len(lines)) if len(lines) > 1 else "",
        "second": for_a_second_reader(request.person),
    }
    return render(request, "traces/waiting.html", context)


@never_cache
def of_reading(request: Request, reading_id: int) -> HttpResponse:
    """To the recording behind a reading of an exam."""
    return redirect("traces:desk", trace_of_reading(request.person, reading_id))


@never_cache
def window(request: Request, trace_id: int) -> HttpResponse:
    """The points of a part of the deflation, for the page that already shows the whole."""
    placed_trace(request.person, trace_id)
    try:
        from_s, to_s = (float(request.GET.get(name, "")) for name in ("from_s", "to_s"))
    except ValueError:
        from_s = to_s = float("nan")
    if not (isfinite(from_s) and isfinite(to_s) and from_s < to_s):
        return HttpResponseBadRequest("Give from_s and to_s in seconds, the first before the second.")
    return JsonResponse(window_of(request.person, trace_id, from_s, to_s))


@never_cache
def thumbnail(request: Request, trace_id: int) -> HttpResponse:
    """A small picture of the recording with its mark."""
    picture = picture_of(request.person, trace_id)
    keep_seen(traces=[trace_id], by=request.person)
    return HttpResponse(picture.svg, content_type="image/svg+xml")


def _desk(request: Request, trace: Any, *, blind: bool) -> HttpResponse:
    shown = desk_of(request.person, trace, blind=blind, all_of_it="whole" in request.GET)
    if request.method != "POST":
        return _page(request, trace, shown)
    form = MarkForm(request.POST, desk=shown)
    mark = _kept(request, trace, shown, form) if form.is_valid() else None
    if mark is None:
        # Read again: what stands in the sheet may be what has changed.
        shown = desk_of(request.person, trace, blind=blind)
        return _page(request, trace, shown, form, status=422)
    return _after(request, shown, trace, mark)


def _kept(request: Request, trace: Any, shown: Desk, form: MarkForm) -> Any:
    """The mark that was stored; None, and the words at their field, where it was refused."""
    analysis = analysis_shown(trace, form.cleaned_data["analysis"])
    if analysis is None or not shown.suggestion or analysis.pk != shown.suggestion.analysis_id:
        form.add_error("analysis", READ_ANEW)
        return None
    try:
        return mark_trace(
            trace=trace, analysis=analysis, blind=shown.blind, by=request.person, **form.mark_said()
        )
    except ValidationError as refused:
        _at_fields(form, refused)
    except StaleValue as stale:
        words = f"{stale.by} put {stale.shown} into the sheet meanwhile. Nothing was stored; look again."
        form.add_error("sheet", words)
    return None


def _after(request: Request, shown: Desk, trace: Any, mark: Any) -> HttpResponse:
    """To the next waiting recording with a word of what was kept; back here where there is more to see."""
    said = f"{shown.place}: {_kept_words(mark, shown)}"
    here = reverse("traces:desk", args=[trace.pk])
    if shown.blind:
        how = " It is kept as not blind: you had seen the suggestion or a mark." if mark.had_seen else ""
        messages.success(request, f"Kept. {said}{how} Both readings are shown below.")
        return redirect(f"{here}#marks")
    following = next_waiting(request.person, after=trace)
    look_again = format_html('Kept. {} <a href="{}">Look at it again</a>', said, here)
    if following is None:
        messages.success(request, look_again)
        return redirect("traces:waiting")
    other = following.exam.patient_id != trace.exam.patient_id
    whose = ". The recording below is of another person." if other else "."
    messages.success(request, format_html("{}{}", look_again, whose))
    return redirect(_on_the_way(request, following.pk))


def _round(number: int, of: int) -> str:
    """What the address of a desk carries of a way through the list: "?n=3&of=6"."""
    return f"?n={number}&of={of}"


def _stands_at(request: Request) -> tuple[int, int] | None:
    """The third of the six that waited when the reader began; None for a desk opened by itself."""
    said = [request.GET.get(name, "") for name in ("n", "of")]
    if not all(one.isascii() and one.isdecimal() and len(one) < 5 for one in said):
        return None
    number, of = (int(one) for one in said)
    return number, max(number, of)  # more may have come meanwhile


def _on_the_way(request: Request, trace_id: int) -> str:
    """The address of the next desk, one further on the way through the list."""
    here = _stands_at(request)
    return reverse("traces:desk", args=[trace_id]) + (_round(here[0] + 1, here[1]) if here else "")


def _kept_words(mark: Any, shown: Desk) -> str:
    verdict = mark.get_verdict_display()
    if mark.verdict not in READ:
        stands = shown.sheet.stands if shown.sheet else ""
        where = f" The exam sheet still says {stands}." if stands else ""
        if mark.reading_id:
            where = " The exam sheet says not obtained."
        return f"{verdict}, because: {mark.reason}.{where}"
    where = "in the exam sheet" if mark.reading_id else "beside the exam sheet, which is unchanged"
    return f"{plain(mark.pressure_mmhg)} mmHg, {verdict}, {where}."


def _page(
    request: Request, trace: Any, shown: Desk, form: MarkForm | None = None, status: int = 200
) -> HttpResponse:
    if shown.blind:
        record_view(request.person, "trace displayed for a blind reading", subject=trace)
    else:
        repeats = [one.trace_id for one in shown.repeats]
        show_figures(trace=trace, by=request.person, what="trace displayed", with_them=repeats)
    typed = form.data if form else {}
    chosen = typed.get("mark") or _first_choice(shown)
    reason = typed.get("reason") or shown.likely_reason
    context = {
        "desk": shown,
        "patient": shown.patient,
        "form": form,
        "chosen": chosen,
        "choices": choices(shown.choices, chosen),
        "pressure": typed.get("pressure", _own_mmhg(shown)),
        "words": typed.get("words", ""),
        "reasons": reasons(REASONS, picked=reason),
        "reason": reason,
        "sheet": typed.get("sheet") or ("correct" if shown.sheet and shown.sheet.mine else "leave"),
        "not_obtained": bool(typed.get("not_obtained")),
        "told": bool(typed.get("told")),
        "verdict": typed.get("verdict", ""),
        "stands_at": _stands_at(request),
    }
    template = "traces/blind.html" if shown.blind else "traces/desk.html"
    return render(request, template, context, status=status)


def _first_choice(shown: Desk) -> str:
    """What is chosen before anybody chose: never a suggestion that is not sure enough."""
    return next((one.key for one in shown.choices if one.checked), "mine")


def _own_mmhg(shown: Desk) -> str:
    own = shown.mine or shown.mine_blind
    return own.mmhg if own else ""


def _at_fields(form: MarkForm, refused: ValidationError) -> None:
    named = {"mark": "pressure", "technique": None, "typed": "sheet"}
    by_field = (
        refused.message_dict if hasattr(refused, "error_dict") else {NON_FIELD_ERRORS: refused.messages}
    )
    for name, words in by_field.items():
        field = None if name == NON_FIELD_ERRORS else named.get(name, name)
        form.add_error(field if field is None or field in form.fields else None, words)
