"""The kinds of job there are. A room adds one in its tasks.py::

@job("PDF of an exam report")
def render_exam_report(job):
    report = services.render(number=job.numbers["report"], by=job.person())
    return {"open": report.address}
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jobs.models import Job

Work = Callable[["Job"], dict[str, Any] | None]

_kinds: dict[str, Work] = {}
# What rooms clear away of their own, now and then.
tidying: list[Callable[[], None]] = []


def job(kind: str) -> Callable[[Work], Work]:
    """Name a function as the work of one kind of job.

    The work may be run twice, after a worker died halfway: it must then end as if run once. It is called
    outside any transaction. What it returns is kept with the job; ``{"open": address}`` becomes a link.

    Raises
    ------
    ValueError
        If two functions claim one kind, or the kind is longer than its column.
    """

    def name(work: Work) -> Work:
        if kind in _kinds:
            raise ValueError(f"Two functions do the job “{kind}”.")
        if not 0 < len(kind) <= 60:
            raise ValueError(f"The kind “{kind}” must have 1 to 60 letters.")
        _kinds[kind] = work
        return work

    return name


def tidies(work: Callable[[], None]) -> Callable[[], None]:
    """Have a function called every hour or so by each worker; two at once must do no harm."""
    tidying.append(work)
    return work


def work_for(kind: str) -> Work:
    """The function that does this kind of job.

    Raises
    ------
    LookupError
        If no room knows the kind.
    """
    try:
        return _kinds[kind]
    except KeyError:
        raise LookupError(f"No room does the job “{kind}”.") from None
