"""Readings: recorded, typed again, withdrawn, corrected. Every one is a new row; none is ever overwritten."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.models import Caution, CautionKind
from exams.visits.errors import StaleValue
from exams.visits.models import Exam, NotObtained, Outcome, Reading, Technique
from exams.visits.plan import DONE_STATES, SIDES, TECHNIQUES, Place, kind_of_site
from exams.visits.queries.chart import INFLATED, Chart, chart_of
from exams.visits.services.acts import check, held, need, ready_to_measure, state_after
from exams.visits.services.results import refresh_results
from exams.visits.typed import TypedReading, written
from exams.visits.wording import place_words, reading_shown

# Why a protected site has no reading, from why it is protected.
REASON_OF_CAUTION = {
    CautionKind.CLOT: NotObtained.CLOT,
    CautionKind.BYPASS_GRAFT: NotObtained.GRAFT,
    CautionKind.STENT: NotObtained.GRAFT,
    CautionKind.WOUND: NotObtained.WOUND_UNDER_CUFF,
    CautionKind.FRACTURE: NotObtained.CAST,
    CautionKind.PAIN: NotObtained.PAIN,
}


@one_act()
def record_reading(
    *,
    exam: Exam,
    place: Place,
    value: TypedReading | None,
    technique: str,
    by: Person,
    client_id: UUID,
    seen_revision: int,
    typed_at: datetime | None = None,
    override_because: str = "",
    cuff_width_mm: int | None = None,
) -> Reading | None:
    """Store what was typed at a place, with everything that follows from it, or nothing at all.

    Parameters
    ----------
    value : what `read_reading` made of the typed text; None withdraws what stands there.
    client_id : made where it was typed. The same number again writes nothing and gives the same row.
    seen_revision : number of the row that was shown (0: none). Another one there now raises StaleValue.
    typed_at : when it was typed, if it waited for the connection; never later than now.
    override_because : why a cuff is inflated where "do not inflate" stands.

    Returns
    -------
    Reading or None
        The row that stands (or withdraws) at the place; None if there was nothing to withdraw.

    Raises
    ------
    ValidationError, StaleValue, PermissionDenied
    """
    require(by, "measure", exam)
    exam = held(exam)
    already = Reading.objects.filter(client_id=client_id).select_related("entered_by").first()
    if already is not None:
        return _same_entry(already, exam, place)
    after = state_after(exam, "reading")
    ready_to_measure(exam)
    chart = chart_of(exam)
    before = chart.newest.get(place)
    if _says_the_same(before, value, technique, cuff_width_mm):
        return before
    if (before.pk if before else 0) != seen_revision:
        raise _stale(place, before)
    if value is None and before is None:
        return None
    part_is_there(chart, place)
    row = _row(
        exam=exam,
        place=place,
        value=value,
        technique=technique,
        by=by,
        client_id=client_id,
        typed_at=_no_later_than_now(typed_at),
        before=before,
        cuff_width_mm=cuff_width_mm,
        **_override(chart, place, value, override_because, by),
    )
    exam.state = after
    exam.first_inflation_at = _first_inflation(exam, chart, row)
    exam.save()
    record(
        by,
        "reading withdrawn" if row.withdrawn else "reading recorded",
        row,
        details={
            "place": place.name,
            "old": said(before),
            "new": said(row),
            "override": row.override_because,
        },
    )
    refresh_results(exam=exam, by=by)
    return row


@one_act()
def correct_reading(
    *,
    reading: Reading,
    value: TypedReading | None,
    technique: str,
    reason: str,
    by: Person,
    override_because: str = "",
) -> Reading:
    """Put another value in the place of one that was read wrong; the first stays, with who and why.

    `value` None takes the reading back without another in its place.
    """
    require(by, "correct readings", reading.exam)
    exam = held(reading.exam)
    reason = need(reason, "reason", "Say why it is corrected. The first value stays readable beside it.")
    chart = chart_of(exam)
    place = Place(reading.side, reading.site, reading.attempt)
    before = chart.newest.get(place)
    if before is None or before.pk != reading.pk:
        raise _stale(place, before)
    if exam.state not in DONE_STATES:
        state_after(exam, "reading")
    if _says_the_same(before, value, technique, before.cuff_width_mm):
        raise ValidationError({"typed": "This is what stands there already. Nothing was changed."})
    row = _row(
        exam=exam,
        place=place,
        value=value,
        technique=technique,
        by=by,
        client_id=uuid4(),
        typed_at=clock.now(),
        before=before,
        replaced_because=reason,
        cuff_width_mm=before.cuff_width_mm,
        **_override(chart, place, value, override_because, by),
    )
    if exam.state in DONE_STATES:
        exam.limited = chart_of(exam).is_limited
    exam.save()
    record(
        by,
        "reading corrected",
        row,
        details={"place": place.name, "old": said(before), "new": said(row), "reason": reason},
    )
    refresh_results(exam=exam, by=by)
    return row


@one_act()
def prefill_protected_sites(*, chart: Chart, by: Person) -> list[Reading]:
    """Give every planned site that is protected and still empty its reason: not obtained, and why."""
    exam = chart.exam
    filled = []
    for side in SIDES:
        for site in chart.planned(side):
            place = Place(side, site, 1)
            if not chart.lock_words(side, site) or chart.attempts(side, site):
                continue
            reason, words = _reason_of(chart.forbidding(side, site), site)
            row = _row(
                exam=exam,
                place=place,
                value=TypedReading(Outcome.NOT_OBTAINED, reason=reason, reason_text=words),
                technique=TECHNIQUES[kind_of_site(site)][0],
                by=by,
                client_id=uuid4(),
                typed_at=clock.now(),
                before=chart.newest.get(place),
            )
            filled.append(row)
            record(
                by,
                "reading recorded",
                row,
                details={"place": place.name, "new": said(row), "protected": True},
            )
    if filled:
        refresh_results(exam=exam, by=by)
    return filled


def _reason_of(caution: Caution | None, site: str) -> tuple[NotObtained, str]:
    """The reason of the list for a protected site, and words where the list has none that fits.

    Without a caution it is an arm that a fistula on record protects.
    """
    if caution is None:
        return NotObtained.ARM_PROTECTED, ""
    reason = REASON_OF_CAUTION.get(CautionKind(caution.kind))
    if reason is not None:
        return reason, ""
    if kind_of_site(site) == "arm":
        return NotObtained.ARM_PROTECTED, ""
    return NotObtained.NOT_INDICATED, caution.note or str(caution.get_kind_display())


def part_is_there(chart: Chart, place: Place) -> None:
    """Refuse a value where nothing is left to measure; one that stands there already may be taken back."""
    event = chart.lost(place.side).get(place.site)
    if event is not None and not chart.attempts(place.side, place.site):
        raise ValidationError(
            f"{place_words(place.side, place.site)} is on record as amputated or absent "
            f"({event.words_dated}). Type the value at the next toe, or correct the record of this limb."
        )


def _override(
    chart: Chart, place: Place, value: TypedReading | None, because: str, by: Person
) -> dict[str, Any]:
    """Who permits a cuff where "do not inflate" stands; ValidationError where nobody does."""
    locked = chart.lock_words(place.side, place.site)
    if value is None or value.outcome not in INFLATED or not locked:
        return {}
    if not because.strip():
        raise ValidationError(
            f"{locked}. Nothing was stored. Type - and a reason's number, or give the reason why a cuff was "
            "inflated here all the same.",
            code="locked",
        )
    require(by, "override do not inflate", chart.exam)
    return {"override_by": by.user, "override_because": because.strip()}


def _row(
    *,
    exam: Exam,
    place: Place,
    value: TypedReading | None,
    technique: str,
    by: Person,
    client_id: UUID,
    typed_at: datetime,
    before: Reading | None,
    **more: Any,
) -> Reading:
    """The new row in its place, checked and stored."""
    row = new_row(
        exam=exam,
        place=place,
        value=value,
        technique=technique,
        by=by,
        client_id=client_id,
        typed_at=typed_at,
        before=before,
        **more,
    )
    check(row)
    row.save()
    return row


def new_row(
    *,
    exam: Exam,
    place: Place,
    value: TypedReading | None,
    technique: str,
    by: Person,
    client_id: UUID,
    typed_at: datetime,
    before: Reading | None,
    **more: Any,
) -> Reading:
    """The row to come in a place. A withdrawn value keeps saying what was withdrawn."""
    if technique not in TECHNIQUES[kind_of_site(place.site)]:
        offered = ", ".join(Technique(one).label for one in TECHNIQUES[kind_of_site(place.site)])
        raise ValidationError({"technique": f"Choose how it was measured: {offered}."})
    if value is None:
        if before is None:
            raise ValueError("there is nothing to withdraw")
        value = TypedReading(Outcome(before.outcome), before.pressure_mmhg, before.reason, before.reason_text)
        more["withdrawn"] = True
    return Reading(
        exam=exam,
        side=place.side,
        site=place.site,
        attempt=place.attempt,
        outcome=value.outcome,
        pressure_mmhg=value.pressure_mmhg,
        reason=value.reason,
        reason_text=value.reason_text,
        technique=technique,
        client_id=client_id,
        typed_at=typed_at,
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=before,
        **more,
    )


def _same_entry(already: Reading, exam: Exam, place: Place) -> Reading:
    if (already.exam_id, already.side, already.site, already.attempt) != (
        exam.pk,
        place.side,
        place.site,
        place.attempt,
    ):
        raise ValidationError("This entry was already used for another field. Load the page again.")
    return already


def _says_the_same(
    row: Reading | None, value: TypedReading | None, technique: str, cuff_width_mm: int | None
) -> bool:
    if row is None or value is None or row.withdrawn:
        return row is not None and row.withdrawn and value is None
    return (
        row.outcome,
        row.pressure_mmhg,
        row.reason,
        row.reason_text,
        row.technique,
        row.cuff_width_mm,
    ) == (
        value.outcome,
        value.pressure_mmhg,
        value.reason,
        value.reason_text,
        technique,
        cuff_width_mm if cuff_width_mm is not None else row.cuff_width_mm,
    )


def _stale(place: Place, row: Reading | None) -> Exception:
    if row is None:
        return ValidationError(
            "This value is not there any more. Load the page again; what you typed is kept."
        )
    return StaleValue(
        field=place.name,
        revision=row.pk,
        theirs="" if row.withdrawn else written(row.outcome, row.pressure_mmhg, row.reason, row.reason_text),
        shown="withdrawn" if row.withdrawn else said(row),
        by=row.entered_by.full_name,
        at=row.typed_at,
    )


def _first_inflation(exam: Exam, chart: Chart, row: Reading) -> datetime | None:
    """When the first cuff was inflated: typing a value again later does not move it.

    None while no such reading stands. An exam entered later keeps its typed or booked time.
    """
    standing = {**chart.standing, Place(row.side, row.site, row.attempt): row}
    if not any(one.outcome in INFLATED and not one.withdrawn for one in standing.values()):
        return None
    if exam.entered_later:
        return exam.first_inflation_at or exam.booked_for
    return min(one.typed_at for one in (*chart.readings, row) if one.outcome in INFLATED)


def _no_later_than_now(typed_at: datetime | None) -> datetime:
    # A tablet's clock may run ahead; nothing can have been typed after it arrived here.
    return min(typed_at, clock.now()) if typed_at else clock.now()


def said(row: Reading | None) -> str:
    if row is None or row.withdrawn:
        return "nothing"
    return reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text)
