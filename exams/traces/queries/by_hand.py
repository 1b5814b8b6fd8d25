"""What became in the exam sheet of a value that was read from a recording. Asks the database nothing."""

from collections.abc import Collection, Iterable

from exams.visits.models import Reading
from exams.visits.wording import reading_shown


def read_first(row: Reading, readings: Iterable[Reading], wrote: Collection[int | None]) -> Reading | None:
    """The row of the exam sheet that a mark wrote and this one goes back to: itself, or one it replaces.

    ``wrote`` are the rows that marks wrote. None where nothing of it was read from a recording.
    """
    rows = {one.pk: one for one in readings}
    here: Reading | None = row
    while here is not None and here.pk not in wrote:
        here = rows.get(here.replaces_id or 0)
    return here


def words_of(row: Reading) -> str:
    return reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text)


def by_hand_words(first: Reading) -> str:
    """What stands beside a value that is no longer the one of its recording."""
    return f"corrected by hand; read from the recording as {words_of(first)}"
