"""What changes a caution."""

from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients import queries
from exams.patients.models import Caution, CautionKind, Patient, Region
from exams.patients.services.common import (
    check,
    reason_given,
    refuse_merged,
    refuse_outside_life,
    refuse_past_review,
    tell_listeners,
    told,
)
from exams.patients.typed_date import written

_CAUTION_SAYS = ("side", "region", "kind", "do_not_inflate", "note", "source", "started_on", "review_on")


@one_act()
def add_caution(
    *,
    patient: Patient,
    region: str,
    kind: str,
    do_not_inflate: bool,
    source: str,
    by: Person,
    side: str = "",
    note: str = "",
    started_on: date | None = None,
    review_on: date | None = None,
) -> Caution:
    """A reason not to inflate, or to take care, at one region of one side (isolation: the whole person)."""
    require(by, "record cautions", patient)
    refuse_merged(patient)
    caution = Caution(
        patient=patient,
        side=side,
        region=region,
        kind=kind,
        do_not_inflate=do_not_inflate,
        note=note,
        source=source,
        started_on=started_on,
        review_on=review_on,
        entered_at=clock.now(),
        entered_by=by.user,
    )
    today = queries.today_in(patient.clinic)
    _refuse_misplaced(caution)
    if started_on:
        refuse_outside_life("started_on", started_on, started_on, patient, today)
    refuse_past_review(review_on, today)
    check(caution)
    _refuse_second(caution)
    caution.save()
    record(by, "caution added", caution, details=told(caution, _CAUTION_SAYS))
    tell_listeners(patient, by)
    return caution


@one_act()
def review_caution(*, caution: Caution, review_on: date | None, by: Person) -> Caution:
    """Say that a caution is still true, and when to ask again (None: it will not change)."""
    require(by, "record cautions", caution)
    standing = _standing_caution(caution)
    refuse_past_review(review_on, queries.today_in(standing.patient.clinic))
    before = standing.review_on
    standing.review_on = review_on
    standing.confirmed_at, standing.confirmed_by = clock.now(), by.user
    check(standing)
    standing.save()
    record(by, "caution still true", standing, details={"review_on": [before, review_on]})
    return standing


@one_act()
def end_caution(*, caution: Caution, reason: str, by: Person) -> Caution:
    """End a caution today. A cuff may then lie there again, so a reason is asked for."""
    require(by, "record cautions", caution)
    standing = _standing_caution(caution)
    today = queries.today_in(standing.patient.clinic)
    standing.ended_on = max(today, standing.started_on or today)
    standing.ended_reason, standing.ended_by = reason_given(reason), by.user
    check(standing)
    standing.save()
    record(by, "caution ended", standing, details={"because": standing.ended_reason})
    tell_listeners(standing.patient, by)
    return standing


def _refuse_misplaced(caution: Caution) -> None:
    if (caution.kind == CautionKind.ISOLATION) != (caution.region == Region.WHOLE_PERSON):
        raise ValidationError({"place": "Isolation is for the whole person; any other caution has a place."})
    if caution.kind == CautionKind.ISOLATION and caution.do_not_inflate:
        raise ValidationError(
            {"do_not_inflate": "Isolation asks for care, it forbids no cuff. Add another caution for that."}
        )
    if caution.kind == CautionKind.ARM_LINE and caution.region != Region.ARM:
        raise ValidationError({"place": "A line in the arm is a caution of an arm."})
    if caution.kind == CautionKind.OTHER and not caution.note.strip():
        raise ValidationError({"note": "Say what the caution is."})


def _refuse_second(caution: Caution) -> None:
    """The same caution sent twice (two clicks, two tabs) must not stand twice."""
    same = Caution.objects.filter(
        patient=caution.patient,
        side=caution.side,
        region=caution.region,
        kind=caution.kind,
        do_not_inflate=caution.do_not_inflate,
        note=caution.note,
        ended_on=None,
    )
    if same.exists():
        raise ValidationError({"kind": f"“{caution.words}” is in force already."})


def _standing_caution(caution: Caution) -> Caution:
    standing = Caution.objects.select_for_update().get(pk=caution.pk)
    if standing.ended_on:
        raise ValidationError({"reason": f"This caution was ended on {written(standing.ended_on)} already."})
    return standing
