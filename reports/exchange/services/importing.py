"""Taking a checked table in: read and interpreted first, then written in one transaction or not at all."""

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record, record_each
from exams.hemodynamics import Criteria
from exams.patients.models import Patient
from exams.visits.queries.criteria import adopted_by
from jobs.models import Job
from jobs.services import start
from reports.exchange.collecting import BLOCKS, after_every, set_aside
from reports.exchange.judging import Judge
from reports.exchange.models import Batch, BatchState
from reports.exchange.queries.people import people_of
from reports.exchange.services.checking import counts_of
from reports.exchange.services.common import ABILITY, Tell, held, is_busy, mapping_of, refused
from reports.exchange.services.readying import (
    KNOWN_AT_ONCE,
    drop_ready,
    interpreted,
    judged_once,
    ready_pieces,
    stamp_of,
    state_of,
)
from reports.exchange.services.writing import Writer
from reports.exchange.sheets import TableRefused
from reports.exchange.spool import unpacked
from reports.exchange.words import many

TAKE_IN = "taking in of a table"
PEOPLE_TOLD_AT_ONCE = 2_000
CHANGED = (
    "The record has changed since this table was checked, so nothing was taken in. Check the table again, "
    "look at what is new, and take it in then."
)


@one_act()
def ask_to_take_in(*, batch: Batch, agree_new_people: bool, leave_out_refused: bool, by: Person) -> Job:
    """Have a checked table taken in.

    Raises
    ------
    ValidationError
        Where it is not checked; at ``agree_new_people`` or ``leave_out_refused`` where not agreed to.
    """
    require(by, ABILITY, batch)
    batch = held(batch)
    again = batch.state == BatchState.IMPORTING and not is_busy(batch)
    if batch.state != BatchState.CHECKED and not again:
        raise ValidationError("Check the table first; it is taken in as it was checked.")
    counts = batch.counts
    problems = {}
    if counts["new_people"] and not agree_new_people:
        problems["agree_new_people"] = (
            f"No record here yet: {many(counts['new_people'], 'person')}. Say that they shall be registered, "
            "or mend the identifiers and check again."
        )
    if counts["refused"] and not leave_out_refused:
        problems["leave_out_refused"] = (
            f"Cannot come in: {many(counts['refused'], 'row')}. Say that they are left out, or mend them."
        )
    if problems:
        raise ValidationError(problems)
    if not (counts["exam"] or counts["person"]):
        raise ValidationError("There is nothing in this table to take in.")
    job = start(TAKE_IN, by, {"batch": batch.pk})
    batch.state, batch.job, batch.new_people_agreed = BatchState.IMPORTING, job, agree_new_people
    try:
        batch.save()
    except IntegrityError:
        raise ValidationError("This very file is being taken in already, or was.") from None
    record(by, "table to be taken in", batch, details=counts)
    return job


@set_aside()
def take_in(*, batch: Batch, by: Person, tell: Tell) -> None:
    """Write what the check promised, all of it or nothing. Safe to run twice.

    Every row is judged again first, outside any transaction; the findings are those kept ready, or made now.
    Only the writing locks the record.

    Raises
    ------
    ValidationError
        Where the record has changed since the check; nothing is written then.
    """
    require(by, ABILITY, batch)
    if batch.state != BatchState.IMPORTING:
        return
    criteria = adopted_by(batch.clinic)
    try:
        first = judged_once(batch, tell, 0, 20)
        if counts_of(first) != batch.counts:
            raise ValidationError(CHANGED, code="changed")
        state = state_of(first.memory)
        pieces: Iterable[bytes]
        if stamp_of(first, criteria, state) == batch.ready_for:
            pieces = ready_pieces(batch)
        else:
            pieces = interpreted(batch, first.memory, criteria, tell, 20, 70)
        tell(70, "Writing")
        _write(batch, first, criteria, pieces, state, by)
    except TableRefused as error:
        raise refused(error) from None
    except IntegrityError as error:
        # Somebody gave out one of the identifiers in the same instant; anything else is a fault of ours.
        if "identifier" not in str(error):
            raise
        raise ValidationError(CHANGED, code="changed") from None


@one_act()
def _write(
    batch: Batch, judge: Judge, criteria: Criteria, pieces: Iterable[bytes], state: str, by: Person
) -> None:
    batch = held(batch)
    if batch.state != BatchState.IMPORTING:
        return
    for some in judge.memory.known(KNOWN_AT_ONCE):
        list(Patient.objects.select_for_update().filter(pk__in=some).order_by("pk").values_list("pk"))
    if state_of(judge.memory) != state:
        raise ValidationError(CHANGED, code="changed")
    writer = Writer(batch, mapping_of(batch).options.issuer, criteria, judge.reader.exam_type, by)
    for piece in after_every(BLOCKS, pieces):
        writer.write(unpacked(piece))
    drop_ready(batch)
    batch.state, batch.imported_at, batch.imported_by = BatchState.IMPORTED, clock.now(), by.user
    batch.save()
    record_each(by, "taken in with a table", batch, partial(_people, batch))
    record(by, "table taken in", batch, details={**batch.counts, "sha256": batch.sha256})


def _people(batch: Batch) -> Iterator[tuple[int, dict[str, Any]]]:
    return after_every(PEOPLE_TOLD_AT_ONCE, people_of(batch))
