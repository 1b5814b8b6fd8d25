"""Who is told when an exam is finished, or is not any more."""

from collections.abc import Callable

from access.people import Person
from exams.visits.models import Exam

# Rooms above this one in which a finished exam settles something. They enter themselves while Django starts,
# so every process has the same list (docs/decisions/210-who-hears-of-a-changed-limb.md).
_LISTENERS: list[Callable[..., None]] = []


def on_exam_finished(do: Callable[..., None]) -> None:
    """Have ``do(exam=…, by=…)`` called inside the act that finishes an exam, opens it again or strikes it."""
    if do not in _LISTENERS:
        _LISTENERS.append(do)


def tell_finished(exam: Exam, by: Person) -> None:
    for listener in _LISTENERS:
        listener(exam=exam, by=by)
