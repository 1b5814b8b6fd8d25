"""That a person has seen what a recording is thought to say, so that no later reading of theirs is blind."""

from collections.abc import Iterable

from access import clock
from access.people import Person
from access.permissions import allowed
from access.trail import one_act, record
from exams.traces.models import Trace, TraceSeen


@one_act()
def show_figures(*, trace: Trace, by: Person, what: str, with_them: Iterable[int] = ()) -> None:
    """Leave the line of a page that shows a recording's figures, and keep that this person has seen them.

    ``with_them``: other recordings whose figures stand on the same page.
    """
    record(by, what, trace, only_seen=True)
    keep_seen(traces=[trace.pk, *with_them], by=by)


def keep_seen(*, traces: Iterable[int], by: Person) -> None:
    """Keep that this person has seen the figures of these recordings; the first time counts."""
    if not allowed(by, "mark traces"):
        return  # nobody asks whether they read blind
    now = clock.now()
    rows = [TraceSeen(trace_id=one, person=by.user, first_seen_at=now) for one in traces]
    TraceSeen.objects.bulk_create(rows, ignore_conflicts=True)
