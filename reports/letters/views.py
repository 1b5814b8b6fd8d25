"""Pages of referral letters: those of one referral with their state, the PDF of one."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from access.permissions import allowed
from access.trail import record_view
from reports.letters import queries, services


@never_cache
@require_safe
def referral(request: HttpRequest, referral_id: int) -> HttpResponse:
    return _page(request, referral_id)


@never_cache
@require_POST
def again(request: HttpRequest, letter_id: int) -> HttpResponse:
    letter = queries.letter_for(request.person, letter_id)
    try:
        services.ask_again(letter=letter, by=request.person)
    except ValidationError as refused:
        return _page(request, letter.step.referral_id, problem=refused.messages[0])
    messages.success(request, "The letter is being made. Open this page again in a moment.")
    return redirect("letters:referral", letter.step.referral_id)


@never_cache
@require_safe
def pdf(request: HttpRequest, letter_id: int) -> HttpResponse:
    letter = queries.letter_for(request.person, letter_id)
    try:
        data = services.open_pdf(letter=letter, by=request.person)
    except ValidationError as refused:
        altered = letter.pk if refused.code == services.ALTERED else None
        return _page(
            request, letter.step.referral_id, problem=refused.messages[0], altered=altered, status=409
        )
    answer = HttpResponse(data, content_type="application/pdf")
    # No name or number of a person in a file name: it stays behind in folders of downloads.
    name = f"referral-{letter.step.referral_id}-letter-{letter.pk}.pdf"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _page(
    request: HttpRequest,
    referral_id: int,
    *,
    problem: str = "",
    altered: int | None = None,
    status: int = 422,
) -> HttpResponse:
    shown = queries.letters_page(request.person, referral_id)
    record_view(request.person, "referral letters viewed", shown.referral.patient_id, shown.referral)
    context = {
        "shown": shown,
        "patient": shown.referral.patient,
        "problem": problem,
        "altered": altered,
        "may_refer": allowed(request.person, "refer"),
    }
    return render(request, "letters/referral.html", context, status=status if problem else 200)
