"""A checked table interpreted before anybody asks for it: while a person reads what the check found.

Nothing here is needed to take a table in. Whoever takes it in judges every row again, and uses what is kept
ready only if it was made from the very same: else the findings are made then.
"""

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from hashlib import sha256
from typing import Any

from django.db.models import Count, Max, Q, QuerySet

from access.kept import code_of
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import Criteria, interpret_many
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.visits.models import Exam, ExamState, Reading
from exams.visits.queries.chart import context_of, measured_exam
from exams.visits.queries.criteria import adopted_by
from reports.exchange.collecting import BLOCKS, after_every, set_aside
from reports.exchange.judging import Judge, Judged
from reports.exchange.models import Batch, BatchState, ReadyPiece
from reports.exchange.scratch import Memory
from reports.exchange.services.common import (
    ABILITY,
    Tell,
    content_of,
    counting,
    held,
    judge_of,
    rows_below_headings,
    rows_in,
)
from reports.exchange.spool import Pieces, packed

GET_READY = "findings of a table made ready"
# Beyond that the pieces would fill the database for a table that may never be taken in: about 60 MB.
MOST_READY = 60_000
KNOWN_AT_ONCE = 500


@set_aside()
def get_ready(*, batch: Batch, by: Person, tell: Tell) -> None:
    """Keep the findings of a checked table ready, if nothing changes meanwhile. Safe to run twice."""
    require(by, ABILITY, batch)
    if batch.state != BatchState.CHECKED or batch.ready_for:
        return
    criteria = adopted_by(batch.clinic)
    first = judged_once(batch, tell, 0, 10)
    state = state_of(first.memory)
    pieces = interpreted(batch, first.memory, criteria, tell, 10, 95)
    if state_of(first.memory) == state:
        _keep(batch, pieces, stamp_of(first, criteria, state), by)


@one_act()
def _keep(batch: Batch, pieces: Iterable[bytes], stamp: str, by: Person) -> None:
    standing = held(batch)
    checked = standing.state in (BatchState.CHECKED, BatchState.IMPORTING)
    if not checked or standing.checked_at != batch.checked_at:
        return
    standing.ready.all().delete()
    for place, one in enumerate(after_every(BLOCKS, pieces)):
        ReadyPiece.objects.create(batch=standing, number=place, content=one)
    standing.ready_for = stamp
    standing.save(update_fields=["ready_for"])
    record(by, "findings of a table made ready", standing)


def drop_ready(batch: Batch) -> None:
    """What is kept ready of a batch counts no more. The batch is to be saved by who asks."""
    batch.ready.all().delete()
    batch.ready_for = ""


def ready_pieces(batch: Batch) -> Iterator[bytes]:
    """The pieces kept ready, one query each: only one is held at a time."""
    for number in range(batch.ready.count()):
        yield bytes(batch.ready.values_list("content", flat=True).get(number=number))


def judged_once(batch: Batch, tell: Tell, begin: int, end: int) -> Judge:
    """A judge that has seen the whole table."""
    judge = judge_of(batch)
    rows = rows_below_headings(batch, content_of(batch))
    for _ in after_every(
        BLOCKS, judge.judged(counting(rows, rows_in(batch), tell, begin, end, "Reading rows"))
    ):
        pass
    return judge


def interpreted(batch: Batch, whole: Memory, criteria: Criteria, tell: Tell, begin: int, end: int) -> Pieces:
    """Every exam that comes in, with its findings: interpreted side by side, a block at a time.

    A second pass: what a later row says may change what an earlier exam means (flow found before).
    """
    judge, pieces = judge_of(batch, whole=whole), Pieces()
    rows = rows_below_headings(batch, content_of(batch))
    counted = counting(rows, rows_in(batch), tell, begin, end, "Interpreting exams")
    for block in after_every(BLOCKS, judge.judged(counted)):
        taken = [one for one in block if one.is_taken]
        if taken:
            pieces.add(_piece(taken, criteria))
    return pieces


def stamp_of(judge: Judge, criteria: Criteria, state: str) -> str:
    """What findings are made from, as one number: rows and their fates, people known, criteria, software."""
    told = (judge.fates, criteria.name, criteria.version, criteria.content_hash, state, _code())
    return sha256("\n".join(told).encode()).hexdigest()


@lru_cache(maxsize=1)
def _code() -> str:
    """Findings that an earlier version made must not come in under this one."""
    return code_of(("exams/**/*.py", "exams/**/*.toml", "reports/exchange/**/*.py"))


def state_of(memory: Memory) -> str:
    """What the interpretation of known people stands on, as one number: equal while nothing has changed."""
    told = sha256()
    for some in memory.known(KNOWN_AT_ONCE):
        told.update(repr(_state_of(some)).encode())
    return told.hexdigest()


def _state_of(people: Sequence[int]) -> dict[int, tuple[Any, ...]]:
    patients = Patient.objects.filter(pk__in=people).order_by("pk")
    found: dict[int, tuple[Any, ...]] = {
        pk: tuple(rest) for pk, *rest in patients.values_list("pk", "revision", "merged_into", "died_on")
    }
    standing: tuple[tuple[str, QuerySet[Any]], ...] = (
        ("patient", Exam.objects.exclude(state=ExamState.IN_ERROR)),
        ("patient", LimbFact.objects.filter(replaced_by=None, withdrawn_at=None)),
        ("patient", Caution.objects.all()),
        ("patient", Caution.objects.filter(Q(ended_on=None))),
        ("exam__patient", Reading.objects.all()),
    )
    for number, (path, rows) in enumerate(standing):
        of_each = rows.filter(**{f"{path}__in": people}).order_by().values_list(path)
        for pk, newest, count in of_each.annotate(Max("pk"), Count("pk")):
            found[pk] = (*found[pk], number, newest, count)
    given = Identifier.objects.filter(patient__in=people, withdrawn_at=None).order_by("pk")
    for pk, key in given.values_list("patient_id", "value_key"):
        found[pk] = (*found[pk], key)
    return found


def _piece(taken: Sequence[Judged], criteria: Criteria) -> bytes:
    charts = [one.chart for one in taken if one.chart is not None and one.chart.readings]
    exams, contexts = [measured_exam(c) for c in charts], [context_of(c) for c in charts]
    found = interpret_many(exams, criteria, contexts)
    return packed(
        (_said(one), next(found) if one.chart is not None and one.chart.readings else None) for one in taken
    )


def _said(one: Judged) -> dict[str, Any]:
    draft = one.draft
    said: dict[str, Any] = {
        "row": draft.row,
        "identifier": draft.identifier,
        "key": draft.identifier_key,
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
