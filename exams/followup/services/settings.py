"""A clinic's own figures for how long what may wait."""

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import NotHere, require
from access.trail import one_act, record
from exams.followup.models import TargetChange
from exams.followup.queries.settings import days_of
from exams.followup.services.common import check, need, one_of
from exams.followup.targets import LONGEST, PUBLISHED


@one_act()
def set_target(*, key: str, days: int | None, because: str, by: Person) -> TargetChange | None:
    """Replace one figure in the clinic of ``by``; None where it stood so already.

    Parameters
    ----------
    days : None calls nothing of this kind late.
    because : by which protocol or decision.
    """
    require(by, "manage clinic")
    if by.clinic is None:
        raise NotHere("acting in no clinic")
    one_of(key, PUBLISHED, "key", "Choose which figure.")
    if days is not None and not 0 <= days <= LONGEST:
        raise ValidationError({"days": f"Write a number from 0 (at once) to {LONGEST}, or leave it empty."})
    before = days_of(by.clinic, key)
    if before == days:
        return None
    change = TargetChange(
        clinic=by.clinic,
        key=key,
        days=days,
        because=need(because, "because", "Say by which protocol or decision."),
        set_at=clock.now(),
        set_by=by.user,
    )
    check(change)
    change.save()
    record(by, "follow-up target set", change, details={"key": key, "was": before, "now": days})
    return change
