"""Taking a checked table in: read and interpreted first, then written in one transaction or not at all."""

import tempfile
from collections.abc import Iterable
from itertools import islice
from typing import IO, Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import Count, Max

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import Criteria, interpret_many
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.visits.models import Exam, Reading
from exams.visits.queries.chart import context_of, measured_exam
from exams.visits.queries.criteria import adopted_by
from jobs.models import Job
from jobs.services import start
from reports.exchange.collecting import after_each, set_aside
from reports.exchange.judging import Fate, Judge, Judged
from reports.exchange.models import Batch, BatchState
from reports.exchange.services.checking import counts_of
from reports.exchange.services.common import (
    ABILITY,
    Tell,
    content_of,
    counting,
    held,
    is_busy,
    judge_of,
    mapping_of,
    refused,
    rows_below_headings,
)
from reports.exchange.services.writing import Writer
from reports.exchange.sheets import TableRefused
from reports.exchange.spool import in_blocks, spool, spooled
from reports.exchange.words import many

TAKE_IN = "taking in of a table"
WRITTEN_AT_ONCE = 500
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

    Two passes over the file come first, outside any transaction: what a later row says may change what an
    earlier exam means (flow found before). Only the writing locks the record.

    Raises
    ------
    ValidationError
        Where the record has changed since the check; nothing is written then.
    """
    require(by, ABILITY, batch)
    if batch.state != BatchState.IMPORTING:
        return
    content, criteria = content_of(batch), adopted_by(batch.clinic)
    total = next(sheet["rows"] for sheet in batch.profile["sheets"] if sheet["name"] == batch.sheet)
    try:
        first = judge_of(batch)
        rows = counting(rows_below_headings(batch, content), total, tell, 0, 15, "Reading rows")
        for _ in after_each(first.judged(rows)):
            pass
        if counts_of(first) != batch.counts:
            raise ValidationError(CHANGED, code="changed")
        with tempfile.TemporaryFile("w+", encoding="utf-8") as file:
            judge = judge_of(batch, whole=first.seen)
            rows = counting(rows_below_headings(batch, content), total, tell, 15, 70, "Interpreting exams")
            people: set[int] = set()
            before = _spool_all(judge, rows, criteria, file, people)
            tell(70, "Writing")
            _write(batch, judge, criteria, file, people, before, by)
    except TableRefused as error:
        raise refused(error) from None
    except IntegrityError as error:
        # Somebody gave out one of the identifiers in the same instant; anything else is a fault of ours.
        if "identifier" not in str(error):
            raise
        raise ValidationError(CHANGED, code="changed") from None


def _spool_all(
    judge: Judge, rows: Iterable[Any], criteria: Criteria, file: IO[str], people: set[int]
) -> dict[int, tuple[Any, ...]]:
    """Interpret block by block and keep what is to be written; the state of the known people it stands on."""
    for block in after_each(judge.judged(rows)):
        taken = [one for one in block if one.fate in (Fate.EXAM, Fate.PERSON)]
        people.update(one.patient.pk for one in taken if one.patient is not None)
        charts = [one.chart for one in taken if one.chart is not None]
        read = [chart for chart in charts if chart.readings]
        found = iter(
            list(interpret_many([measured_exam(c) for c in read], criteria, [context_of(c) for c in read]))
        )
        for one in taken:
            has_readings = one.chart is not None and one.chart.readings
            spool(file, _said(one), next(found) if has_readings else None)
    return _state_of(people)


@one_act()
def _write(
    batch: Batch,
    judge: Judge,
    criteria: Criteria,
    file: IO[str],
    people: set[int],
    before: dict[int, tuple[Any, ...]],
    by: Person,
) -> None:
    batch = held(batch)
    if batch.state != BatchState.IMPORTING:
        return
    numbers = sorted(people)
    for start_at in range(0, len(numbers), WRITTEN_AT_ONCE):
        some = numbers[start_at : start_at + WRITTEN_AT_ONCE]
        list(Patient.objects.select_for_update().filter(pk__in=some).order_by("pk").values_list("pk"))
    if _state_of(people) != before:
        raise ValidationError(CHANGED, code="changed")
    writer = Writer(batch, mapping_of(batch).options.issuer, criteria, judge.reader.exam_type, by)
    for block in after_each(in_blocks(spooled(file), WRITTEN_AT_ONCE)):
        writer.write(block)
    batch.state, batch.imported_at, batch.imported_by = BatchState.IMPORTED, clock.now(), by.user
    batch.save()
    for patient, (exams, registered) in writer.of_people.items():
        record(
            by,
            "taken in with a table",
            batch,
            patient=patient,
            details={"exams": exams, "registered": registered},
        )
    record(by, "table taken in", batch, details={**batch.counts, "sha256": batch.sha256})


def _said(one: Judged) -> dict[str, Any]:
    draft = one.draft
    said: dict[str, Any] = {
        "row": draft.row,
        "identifier": draft.identifier,
        "patient": one.patient.pk if one.patient is not None else None,
    }
    if one.patient is None:
        said["person"] = {
            "family_name": draft.family_name,
            "given_name": draft.given_name or "-",
            "birth_date": draft.born.isoformat() if draft.born else None,
            "sex": draft.sex,
            "diabetes": draft.diabetes,
            "kidney_disease": draft.kidney_disease,
        }
    if one.chart is not None:
        exam = one.chart.exam
        said["exam"] = {
            "at": exam.booked_for.isoformat(),
            "inflated": exam.first_inflation_at is not None,
            "limited": one.chart.is_limited,
            "indication": exam.indication,
            "indication_text": exam.indication_text,
            "conditions": [(row.item, row.value) for row in one.chart.preparations],
            "readings": [
                (
                    row.side, row.site, row.attempt, str(row.outcome),
                    None if row.pressure_mmhg is None else str(row.pressure_mmhg),
                    str(row.reason), row.reason_text, row.technique,
                )
                for row in one.chart.readings
            ],
        }  # fmt: skip
    return said


def _state_of(people: Iterable[int]) -> dict[int, tuple[Any, ...]]:
    """What the interpretation of known people stands on; the same before and after, or it is made anew."""
    found: dict[int, tuple[Any, ...]] = {}
    numbers = iter(sorted(people))
    while some := list(islice(numbers, WRITTEN_AT_ONCE)):
        patients = Patient.objects.filter(pk__in=some).values_list("pk", "revision", "merged_into", "died_on")
        for pk, *rest in patients:
            found[pk] = tuple(rest)
        for model, path in (
            (Exam, "patient"),
            (LimbFact, "patient"),
            (Caution, "patient"),
            (Reading, "exam__patient"),
        ):
            rows = model._default_manager.filter(**{f"{path}__in": some}).order_by()
            for pk, newest, count in rows.values_list(path).annotate(Max("pk"), Count("pk")):
                found[pk] = (*found[pk], model.__name__, newest, count)
        given = Identifier.objects.filter(patient__in=some, withdrawn_at=None).order_by("pk")
        for pk, key in given.values_list("patient_id", "value_key"):
            found[pk] = (*found[pk], key)
    return found
