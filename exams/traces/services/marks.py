"""A reader's verdict on a recording, and what it writes into the exam sheet."""

from decimal import Decimal
from enum import StrEnum
from uuid import uuid4

from django.conf import settings
from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import allowed, require
from access.trail import one_act, record
from exams.hemodynamics import Confidence, TraceReading
from exams.traces.curves import Fall, fall_of
from exams.traces.desk import whole
from exams.traces.models import Analysis, How, ReaderMark, State, Trace, Verdict
from exams.traces.queries.desk_marks import has_seen
from exams.traces.samples import unpack
from exams.visits.errors import StaleValue
from exams.visits.models import NotObtained, Outcome, Reading
from exams.visits.plan import Place
from exams.visits.services.acts import check, held
from exams.visits.services.readings import correct_reading, record_reading
from exams.visits.typed import TypedReading
from exams.visits.wording import plain

READ = (Verdict.GOOD, Verdict.CAUTION)
# A mark and its pressure are the same place when they differ by no more than is shown.
_SAME_PLACE_MMHG = 0.5


class ForSheet(StrEnum):
    """What a verdict does to the exam sheet. Nothing that stands there is replaced unless it is said."""

    WRITE = "write"  # where nothing stands yet
    CORRECT = "correct"  # in the place of what stands there, with the reason given
    LEAVE = "leave"


@one_act()
def mark_trace(
    *,
    trace: Trace,
    analysis: Analysis,
    verdict: str,
    pressure_mmhg: Decimal | None,
    time_s: float | None,
    how: str,
    reason: str,
    blind: bool,
    by: Person,
    sheet: ForSheet = ForSheet.WRITE,
    seen_revision: int | None = None,
    not_obtained: bool = False,
    told: bool = False,
) -> ReaderMark:
    """Keep a verdict beside every earlier one, and write its pressure into the exam sheet where it may be.

    Parameters
    ----------
    analysis : the suggestion that was shown, or against which a blind mark will be held.
    pressure_mmhg : whole or half mmHg; None where the recording is not read.
    time_s : where on the recording the mark was put. Taken from the pressure where the cuff did not stand
        there: one mark, one pressure.
    reason : why it is not read, why a flagged recording can be reported all the same, why an earlier mark of
        the same person is replaced, why the sheet is corrected.
    sheet, seen_revision : see `ForSheet`; ``seen_revision`` is the row of the sheet that was shown (0: none).
    not_obtained : write "not obtained: signal unreadable" for the site of a recording that is not read.
    blind, told : meant as a blind reading. By somebody who has seen the figures, or says they were ``told``
        them, it is kept beside the others, and as not blind.

    Returns
    -------
    ReaderMark
        Its ``reading`` is None where nothing was written: by whoever does not measure, made blind, asked to
        leave the sheet, or because something stands in the way there.

    Raises
    ------
    ValidationError, StaleValue, PermissionDenied
    """
    require(by, "mark traces", trace)
    exam = held(trace.exam)
    # As it stands now that acts on the exam follow one another.
    trace = Trace.objects.select_related("exam__clinic", "exam__patient").get(pk=trace.pk)
    reading = TraceReading.from_json(analysis.reading)
    if trace.state != State.READ or trace.withdrawn_at is not None or analysis.trace_id != trace.pk:
        raise ValidationError("This recording cannot be marked any more. Load the page again.")
    earlier = _earlier(trace, by, blind)
    reason = reason.strip()
    if verdict in READ:
        pressure_mmhg, time_s = _place_of_mark(trace, reading, pressure_mmhg, time_s)
        _may_be_read(analysis, reading, pressure_mmhg, how, reason, blind)
    else:
        pressure_mmhg, time_s, how = None, None, How.NONE
        if not reason:
            raise ValidationError({"reason": "Say why: choose a reason of the list, or use your own words."})
    if earlier is not None and not reason:
        raise ValidationError({"reason": "Say why your earlier mark is replaced. It stays beside this one."})
    had_seen = blind and (told or has_seen(by, trace))
    row = ReaderMark(
        trace=trace,
        analysis=analysis,
        verdict=verdict,
        how=how,
        pressure_mmhg=pressure_mmhg,
        time_s=time_s,
        reason=reason,
        blind=blind and not had_seen,
        had_seen=had_seen,
        program_version=settings.VERSION,
        marked_at=clock.now(),
        marked_by=by.user,
        replaces=earlier,
    )
    value = _for_sheet(verdict, pressure_mmhg, not_obtained)
    if value is not None and not blind and allowed(by, "measure"):
        row.reading = _written(trace, value, sheet, seen_revision, reason, by)
    check(row)
    row.save()
    record(
        by,
        "trace marked blind" if row.blind else "trace marked",
        row,
        patient=exam.patient_id,
        details={
            "trace": trace.pk,
            "suggested": analysis.pressure_mmhg,
            "version": analysis.version,
            "old": earlier and plain(earlier.pressure_mmhg),
            "new": plain(pressure_mmhg),
            "verdict": verdict,
            "how": how,
            "reason": reason,
            **({"not_blind": "had seen the suggestion"} if had_seen else {}),
        },
    )
    return row


def _earlier(trace: Trace, by: Person, blind: bool) -> ReaderMark | None:
    """The mark of the same person that this one replaces."""
    own = list(ReaderMark.objects.filter(trace=trace, marked_by=by.user).order_by("pk"))
    if blind and own:
        raise ValidationError(
            "You have marked this recording already. A blind reading must come from somebody who has not. "
            "Nothing was changed."
        )
    return next((mark for mark in reversed(own) if not mark.blind), None)


def _place_of_mark(
    trace: Trace, reading: TraceReading, mmhg: Decimal | None, time_s: float | None
) -> tuple[Decimal, float]:
    if mmhg is None:
        raise ValidationError({"pressure": "Put the mark first, or type its pressure."})
    fall: Fall | None = None
    if trace.samples is not None:
        fall = fall_of(*unpack(bytes(trace.samples)), reading)
    if fall is None:
        raise ValidationError(
            {"pressure": "This recording holds no deflation, so no pressure can be read from it."}
        )
    if not fall.lowest - _SAME_PLACE_MMHG <= float(mmhg) <= fall.highest + _SAME_PLACE_MMHG:
        raise ValidationError(
            {
                "pressure": f"{plain(mmhg)} mmHg is not on this recording: its cuff falls from "
                f"{fall.highest:.0f} to {fall.lowest:.0f} mmHg."
            }
        )
    if time_s is None or abs(fall.mmhg_at(time_s) - float(mmhg)) > _SAME_PLACE_MMHG:
        time_s = fall.time_at(float(mmhg))
    return mmhg, round(time_s, 4)


def _may_be_read(
    analysis: Analysis, reading: TraceReading, mmhg: Decimal, how: str, reason: str, blind: bool
) -> None:
    if how == How.ACCEPTED and (blind or not reading.usable or reading.confidence is Confidence.LOW):
        raise ValidationError(
            {"mark": "The suggestion is not sure enough to be taken over. Put the mark yourself."}
        )
    if how == How.ACCEPTED and (analysis.pressure_mmhg is None or mmhg != whole(analysis.pressure_mmhg)):
        raise ValidationError({"mark": "This is not the pressure that was suggested. Load the page again."})
    if not blind and not reading.usable and not reason:
        raise ValidationError(
            {"reason": "This recording is flagged as not to be reported. Say why it can be all the same."}
        )


def _for_sheet(verdict: str, mmhg: Decimal | None, not_obtained: bool) -> TypedReading | None:
    """What the sheet would say of it; None where it says nothing."""
    if mmhg is not None:
        return TypedReading(Outcome.PRESSURE, whole(mmhg))
    if verdict == Verdict.UNREADABLE and not_obtained:
        return TypedReading(Outcome.NOT_OBTAINED, reason=NotObtained.UNREADABLE)
    return None


def _written(
    trace: Trace, value: TypedReading, sheet: ForSheet, seen: int | None, reason: str, by: Person
) -> Reading | None:
    place = Place(trace.side, trace.site, trace.attempt)
    newest = (
        Reading.objects.filter(
            exam=trace.exam_id, side=place.side, site=place.site, attempt=place.attempt, replaced_by=None
        )
        .select_related("entered_by", "exam__clinic", "exam__patient")
        .first()
    )
    standing = newest if newest and not newest.withdrawn else None
    if standing and (standing.outcome, standing.pressure_mmhg, standing.reason) == (
        value.outcome,
        value.pressure_mmhg,
        value.reason,
    ):
        return standing
    if sheet is ForSheet.LEAVE or (standing and sheet is not ForSheet.CORRECT):
        return None
    if standing:
        if not reason:
            raise ValidationError({"reason": "Say why the value in the sheet is corrected."})
        if seen is not None and seen != standing.pk:
            raise _stale(place, standing)
        return correct_reading(reading=standing, value=value, technique=trace.technique, reason=reason, by=by)
    try:
        return record_reading(
            exam=trace.exam,
            place=place,
            value=value,
            technique=trace.technique,
            by=by,
            client_id=uuid4(),
            seen_revision=newest.pk if newest else 0,
            cuff_width_mm=trace.cuff_width_mm,
        )
    except ValidationError:
        # The sheet does not take it now; the desk says why. The verdict is kept all the same.
        return None


def _stale(place: Place, row: Reading) -> StaleValue:
    shown = f"{plain(row.pressure_mmhg)} mmHg" if row.pressure_mmhg else str(row.get_outcome_display())
    return StaleValue(
        field=place.name,
        revision=row.pk,
        theirs=plain(row.pressure_mmhg),
        shown=shown,
        by=row.entered_by.full_name,
        at=row.typed_at,
    )
