"""One field of the sheet, saved when it is left: a reading, a condition, or the answer to a remark."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.core.exceptions import ValidationError

from access.people import Person
from access.permissions import require
from access.trail import one_act
from exams.visits.models import Exam, PreparationItem, Reading
from exams.visits.plan import place_named
from exams.visits.queries.remarks import remarks_of
from exams.visits.services.preparation import record_preparation
from exams.visits.services.readings import record_reading
from exams.visits.services.remarks import answer_remark
from exams.visits.typed import TypedReading, read_cuff_mm, read_preparation, read_reading, read_words, written
from exams.visits.wording import reading_shown


@dataclass(frozen=True)
class Entry:
    """What one field said when it was left, as the browser sends it."""

    field: str
    typed: str
    client_id: UUID
    seen_revision: int
    technique: str = ""
    typed_at: datetime | None = None
    remark_answer: str = ""
    override_because: str = ""
    cuff_mm: str = ""
    reason: str = ""


@dataclass(frozen=True)
class Saved:
    """What stands in the field now. `note`: what must be said back about how it was read."""

    field: str
    revision: int
    typed: str
    shown: str
    note: str = ""


@one_act()
def save_field(*, exam: Exam, entry: Entry, by: Person) -> Saved:
    """Read what was typed and store it with all that follows, and the answer to a remark with it.

    Raises
    ------
    ValidationError : what was typed cannot be, with the words; nothing is stored.
    StaleValue : another value was put there meanwhile; nothing is stored.
    """
    require(by, "measure", exam)
    answer = read_words(entry.remark_answer, most=200)
    override_because = read_words(entry.override_because, most=200)
    reason = read_words(entry.reason, most=200)
    place = place_named(entry.field)
    if place is None and entry.field not in PreparationItem.values:
        raise ValidationError("There is no such field on this sheet. Load the page again.", code="no field")
    if place is not None:
        value = read_reading(entry.typed, place.site)
        row = record_reading(
            exam=exam,
            place=place,
            value=value,
            technique=entry.technique,
            by=by,
            client_id=entry.client_id,
            seen_revision=entry.seen_revision,
            typed_at=entry.typed_at,
            override_because=override_because,
            cuff_width_mm=read_cuff_mm(entry.cuff_mm),
        )
        saved = _reading_saved(entry.field, row, value)
    else:
        condition = record_preparation(
            exam=exam,
            item=entry.field,
            value=read_preparation(entry.typed, entry.field),
            by=by,
            client_id=entry.client_id,
            seen_revision=entry.seen_revision,
            typed_at=entry.typed_at,
            reason=reason,
        )
        stands = condition.value if condition else ""
        saved = Saved(entry.field, condition.pk if condition else 0, stands, stands)
    if answer:
        # The act above wrote through a copy of its own; what it changed decides which remarks there are.
        exam.refresh_from_db()
        for remark in remarks_of(exam):
            if remark.field == entry.field and remark.is_open:
                answer_remark(exam=exam, remark=remark, answer=answer, by=by)
    return saved


def _reading_saved(field: str, row: Reading | None, value: TypedReading | None) -> Saved:
    if row is None or row.withdrawn:
        return Saved(field, row.pk if row else 0, "", "")
    said = (row.outcome, row.pressure_mmhg, row.reason, row.reason_text)
    return Saved(field, row.pk, written(*said), reading_shown(*said), note=value.note if value else "")
