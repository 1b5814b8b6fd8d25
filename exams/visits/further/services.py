"""Further tests: one value recorded, taken back or corrected. Every one is a new row; none is overwritten."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.visits.errors import StaleValue
from exams.visits.further.catalogue import ASKS, Ask
from exams.visits.further.checks import check_together, lock_of
from exams.visits.further.models import FurtherEntry, FurtherTest
from exams.visits.further.queries import standing
from exams.visits.further.typed import note_of, read_entry, shown_of, typed_of
from exams.visits.models import Exam, ExamState
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import Chart, chart_of
from exams.visits.services.acts import check, held, ready_to_measure, state_after
from exams.visits.services.preparation import CLOSED
from exams.visits.services.results import refresh_results
from exams.visits.services.saving import Saved
from exams.visits.typed import KEPT, read_words


@dataclass(frozen=True)
class FurtherTyped:
    """What one field said when it was left.

    `client_id` is made where it was typed: the same number again writes nothing and gives the same row.
    `seen_revision` is the number of the row that was shown (0: none).
    """

    field: str
    typed: str
    client_id: UUID
    seen_revision: int
    typed_at: datetime | None = None
    reason: str = ""


@one_act()
def save_further(*, exam: Exam, test: FurtherTest, entry: FurtherTyped, by: Person) -> Saved:
    """Read what was typed and store it with all that follows, or nothing at all.

    Before the exam is measured a value is retyped freely; afterwards every change needs a reason. A category
    is entered by a clinician, at any time, and so only its change needs one.

    Raises
    ------
    ValidationError, StaleValue, PermissionDenied
    """
    is_category = test == FurtherTest.CATEGORY
    require(by, "enter category" if is_category else "measure", exam)
    exam = held(exam)
    ask = _ask(test, entry.field)
    already = FurtherEntry.objects.filter(client_id=entry.client_id).first()
    if already is not None:
        if (already.exam_id, already.test, already.field) != (exam.pk, test, entry.field):
            raise ValidationError("This entry was already used for another field. Load the page again.")
        return _saved(already, ask)
    value, reason = read_entry(entry.typed, ask), read_words(entry.reason, most=200)
    rows = list(FurtherEntry.objects.filter(exam=exam).select_related("entered_by").order_by("pk"))
    before = _newest(rows, test, entry.field)
    old = before.value if before else ""
    if old == value:
        return _saved(before, ask)
    if (before.pk if before else 0) != entry.seen_revision:
        raise _stale(ask, before)
    after = _state_after(exam, is_category, bool(old), reason)
    entered = standing(rows)
    chart = chart_of(exam)
    values = {**entered.get(test, {}), entry.field: value}
    if value:
        _may_be_taken(chart, ask, values, old)
    check_together(test, {name: one for name, one in values.items() if one}, entered)
    row = FurtherEntry(
        exam=exam,
        test=test,
        field=entry.field,
        value=value,
        client_id=entry.client_id,
        # A tablet's clock may run ahead; nothing can have been typed after it arrived here.
        typed_at=min(entry.typed_at, clock.now()) if entry.typed_at else clock.now(),
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=before,
        replaced_because=reason,
    )
    check(row)
    row.save()
    exam.state = after
    exam.save()
    record(
        by,
        "further test value recorded" if value else "further test value taken back",
        row,
        details={
            "test": test.value,
            "field": entry.field,
            "old": shown_of(old, ask),
            "new": shown_of(value, ask),
            "reason": reason,
        },
    )
    refresh_results(exam=exam, by=by)
    return _saved(row, ask)


def _ask(test: FurtherTest, field: str) -> Ask:
    ask = ASKS[test].get(field)
    if ask is None:
        raise ValidationError("There is no such field on this page. Load the page again.", code="no field")
    return ask


def _state_after(exam: Exam, is_category: bool, changes: bool, reason: str) -> str:
    """The state of the exam once the value is stored; ValidationError where it may not be stored now."""
    # A measurer is told by the step itself what comes first.
    if exam.state in CLOSED or (is_category and exam.state == ExamState.BOOKED):
        raise ValidationError(f"This exam is {exam.get_state_display()}. Nothing was changed. {KEPT}")
    if exam.state in DONE_STATES:
        if not reason and (changes or not is_category):
            raise ValidationError(
                "The exam is measured: say why this is changed. What you typed is kept here.", code="reason"
            )
        return str(exam.state)
    if is_category:
        return str(exam.state)
    after = state_after(exam, "reading")
    ready_to_measure(exam)
    return after


def _may_be_taken(chart: Chart, ask: Ask, values: dict[str, str], old: str) -> None:
    """Refuse a value where nothing is left to measure, or where no cuff may be inflated."""
    side = ask.side or ask.name.rpartition(".")[2]
    lost = chart.limbs[side].lost if side in chart.limbs else {}
    if ask.parts and all(part in lost for part in ask.parts) and not old:
        event = lost[ask.parts[0]]
        raise ValidationError(
            f"{ask.spoken} is on record as amputated or absent ({event.words_dated}). Nothing was stored.",
            code="lost",
        )
    locked = lock_of(chart, ask, values)
    inflated = ask.kind != "pressure" or not values[ask.name].startswith("-")
    if locked and inflated:
        raise ValidationError(
            f"{locked}. Nothing was stored. Type - and a reason's number instead.", code="locked"
        )


def _newest(rows: Sequence[FurtherEntry], test: FurtherTest, field: str) -> FurtherEntry | None:
    return next((row for row in reversed(rows) if (row.test, row.field) == (test, field)), None)


def _stale(ask: Ask, row: FurtherEntry | None) -> Exception:
    if row is None:
        return ValidationError(
            "This value is not there any more. Load the page again; what you typed is kept."
        )
    return StaleValue(
        field=ask.name,
        revision=row.pk,
        theirs=typed_of(row.value, ask),
        shown=shown_of(row.value, ask) or "empty",
        by=row.entered_by.full_name,
        at=row.typed_at,
    )


def _saved(row: FurtherEntry | None, ask: Ask) -> Saved:
    if row is None or not row.value:
        return Saved(ask.name, row.pk if row else 0, "", "")
    said = shown_of(row.value, ask)
    return Saved(ask.name, row.pk, typed_of(row.value, ask), said, note=note_of(row.value, ask))
