"""The dry run: every row read and judged, every problem named, nothing written but what was found."""

from dataclasses import asdict
from itertools import islice
from typing import Any

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs.services import start
from reports.exchange.collecting import BLOCKS, after_every, set_aside
from reports.exchange.draft import Problem
from reports.exchange.models import Batch, BatchState, Issue
from reports.exchange.services.common import (
    ABILITY,
    Tell,
    content_of,
    counting,
    judge_of,
    refused,
    rows_below_headings,
    rows_in,
)
from reports.exchange.services.readying import GET_READY, MOST_READY, drop_ready
from reports.exchange.sheets import TableRefused

# More than anybody reads; the counts are whole.
MOST_ISSUES = 20_000


@set_aside()
def check_table(*, batch: Batch, by: Person, tell: Tell) -> None:
    """Judge every row; keep counts and problems. Safe to run twice.

    Raises
    ------
    ValidationError
        Where the file cannot be read to its end; nothing is kept then.
    """
    require(by, ABILITY, batch)
    if batch.state != BatchState.CHECKING:
        return
    judge = judge_of(batch)
    found: list[Problem] = []
    try:
        rows = rows_below_headings(batch, content_of(batch))
        for block in after_every(
            BLOCKS, judge.judged(counting(rows, rows_in(batch), tell, 0, 95, "Reading rows"))
        ):
            for one in block:
                found += one.draft.problems[: max(0, MOST_ISSUES - len(found))]
    except TableRefused as error:
        raise refused(error) from None
    _keep(batch, found, counts_of(judge), by)


@one_act()
def _keep(batch: Batch, found: list[Problem], counts: dict[str, Any], by: Person) -> None:
    standing = Batch.objects.select_for_update().get(pk=batch.pk)
    if standing.state != BatchState.CHECKING:
        return
    standing.issues.all().delete()
    drop_ready(standing)
    rows = iter(Issue(batch=standing, **_fitting(problem)) for problem in found)
    while some := list(islice(rows, 1_000)):
        Issue.objects.bulk_create(some)
    standing.state, standing.checked_at, standing.counts = BatchState.CHECKED, clock.now(), counts
    standing.save()
    record(by, "table checked", standing, details=counts)
    if 0 < counts["exam"] + counts["person"] <= MOST_READY:
        start(GET_READY, by, {"batch": standing.pk})


def counts_of(judge: Any) -> dict[str, int]:
    names = (
        "drafts", "exam", "person", "nothing", "duplicate", "refused", "new_people", "readings", "problems",
        "remarks",
    )  # fmt: skip
    return {name: judge.counts[name] for name in names}


def _fitting(problem: Problem) -> dict[str, Any]:
    said = asdict(problem)
    for name, most in (("column", 80), ("value", 80), ("reason", 300), ("suggestion", 300)):
        said[name] = said[name].replace("\x00", "")[:most]
    return said
