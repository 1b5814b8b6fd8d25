"""What the services of this room share."""

from collections.abc import Callable, Iterable, Iterator

from django.core.exceptions import ValidationError

from access.people import Person
from access.permissions import require
from exams.hemodynamics import Criteria, load_criteria
from exams.patients.queries import today_in
from exams.visits.queries.criteria import adopted_by
from reports.exchange.columns import Mapping
from reports.exchange.judging import Judge
from reports.exchange.models import BUSY, Batch, BatchState
from reports.exchange.scratch import Memory
from reports.exchange.sheets import Profile, Row, TableRefused, rows_of

ABILITY = "import tables"
Tell = Callable[[int, str], None]


def held(batch: Batch) -> Batch:
    """The batch as it stands now, held until the act is over."""
    return Batch.objects.select_for_update(of=("self",)).select_related("clinic", "job").get(pk=batch.pk)


def is_busy(batch: Batch) -> bool:
    """Whether a job works on it, or is about to."""
    return batch.state in BUSY and batch.job is not None and batch.job.is_open


def open_to_change(batch: Batch, by: Person) -> Batch:
    """The batch, held; ValidationError where a job is at it or it was taken in."""
    require(by, ABILITY, batch)
    batch = held(batch)
    if is_busy(batch):
        raise ValidationError("A job is working on this table. Wait until it has ended; nothing was changed.")
    if batch.state in (BatchState.IMPORTED, BatchState.TAKING_BACK, BatchState.TAKEN_BACK):
        raise ValidationError(
            "This table was taken in already. Send the file again for another try; nothing was changed."
        )
    return batch


def mapping_of(batch: Batch) -> Mapping:
    if batch.mapping is None:
        raise ValidationError("Say first which column is which.")
    return Mapping.from_json(batch.mapping)


def judge_of(batch: Batch, whole: Memory | None = None) -> Judge:
    """The judge of a table; on a second pass the typed indices were compared already."""
    mapping = mapping_of(batch)
    rule: Criteria | None = None
    if whole is None:
        name = mapping.options.index_rule
        rule = load_criteria(name) if name else adopted_by(batch.clinic)
    return Judge(batch.clinic, mapping, today_in(batch.clinic), rule, whole)


def rows_below_headings(batch: Batch, content: bytes) -> Iterator[Row]:
    """The rows of the table itself, one at a time."""
    profile = Profile.from_json(batch.profile)
    return rows_of(content, profile, batch.sheet, batch.heading_row + 1)


def rows_in(batch: Batch) -> int:
    """How many rows the chosen sheet holds that are not empty."""
    sheets: dict[str, int] = {one["name"]: one["rows"] for one in batch.profile["sheets"]}
    return sheets[batch.sheet]


def counting(rows: Iterable[Row], total: int, tell: Tell, begin: int, end: int, words: str) -> Iterator[Row]:
    """The same rows; says how far they are, a few times a table."""
    step = max(total // 20, 500)
    for number, row in enumerate(rows):
        if number % step == 0:
            tell(begin + (end - begin) * number // max(total, 1), words)
        yield row


def content_of(batch: Batch) -> bytes:
    return bytes(batch.file.content)


def refused(error: TableRefused) -> ValidationError:
    return ValidationError(str(error))
