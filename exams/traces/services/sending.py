"""What every recording that a device sends begins with: a key, a place, an exam that is being measured."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from access import clock
from access.people import Person
from access.refusals import Conflict, Unfit
from access.sent_once import once
from exams.traces.models import Format, State, Trace, kind_of
from exams.traces.queries.exam import attempts_taken
from exams.visits.models import Exam, ExamState, Technique
from exams.visits.plan import ATTEMPTS, OPEN_STATES, TECHNIQUES, kind_of_site
from exams.visits.queries.chart import chart_of
from exams.visits.services.acts import WHAT_NEXT, held
from exams.visits.wording import place_words


@dataclass(frozen=True)
class Said:
    """What the device says about its recording. Without ``attempt`` the next free one is meant."""

    side: str
    site: str
    attempt: int | None
    technique: str
    recorded_at: datetime | None = None


def sent_once(
    key: str, content: dict[str, object], by: Person, make: Callable[[], Trace]
) -> tuple[Trace, bool]:
    """The recording that ``make`` makes the first time the device uses this key, and whether it is the first.

    Raises
    ------
    Conflict
        If the key came with other content before.
    """
    said = json.dumps(content, sort_keys=True, default=str)
    return once(
        key=key,
        content_hash=hashlib.sha256(said.encode()).hexdigest(),
        by=by,
        make=make,
        find=lambda number: Trace.objects.select_related("exam").get(pk=number),
    )


def new_trace(exam: Exam, said: Said, key: str, by: Person, **more: object) -> Trace:
    """A recording at its place of an exam that is being measured, stored; ``more`` are its other values.

    A site that is not planned is taken: it is recorded because the planned one would not do.

    Raises
    ------
    Conflict
        If the exam is not being measured, or the attempt has its recording.
    Unfit
        If site or technique cannot be.
    """
    exam = held(exam)
    if exam.state not in OPEN_STATES:
        state = ExamState(exam.state)
        raise Conflict(
            "exam_not_being_measured",
            f"Exam {exam.pk} is {state.label}. {WHAT_NEXT[state]}",
            "Keep the recording, and send it again with the same key once the exam is being measured.",
            field="exam",
        )
    techniques = TECHNIQUES[kind_of_site(said.site)]
    if said.technique not in techniques:
        offered = ", ".join(Technique(one).value for one in techniques)
        raise Unfit(
            "technique_not_of_this_site",
            f"At that site a recording is made by one of: {offered}.",
            "Name the technique that was used.",
            field="technique",
        )
    if said.site in chart_of(exam).lost(said.side):
        raise Unfit(
            "toe_absent",
            f"{place_words(said.side, said.site)} is on record as amputated or absent.",
            "Check side and site at the device, and send it again with the right ones.",
            field="site",
        )
    now = clock.now()
    trace = Trace(
        clinic=exam.clinic,
        exam=exam,
        side=said.side,
        site=said.site,
        attempt=_attempt(exam, said),
        technique=said.technique,
        # A device's clock may run ahead; nothing can have been recorded after it arrived here.
        recorded_at=min(said.recorded_at or now, now),
        kind=kind_of(said.site, said.technique),
        source_key=f"{by.user.pk}:{key}",
        received_at=now,
        received_by=by.user,
        **{"state": State.GROWING, "format": Format.PIECES, **more},
    )
    trace.save()
    return trace


def _attempt(exam: Exam, said: Said) -> int:
    taken = attempts_taken(exam).get((said.side, said.site), set())
    free = [one for one in ATTEMPTS if one not in taken]
    place = place_words(said.side, said.site)
    if not free:
        raise Conflict(
            "no_attempt_left",
            f"{place} has {len(ATTEMPTS)} recordings, as many as an exam holds of one site.",
            "Withdraw one that was made in error on its page, then send this again with the same key.",
            field="attempt",
        )
    if said.attempt is not None and said.attempt not in free:
        raise Conflict(
            "attempt_taken",
            f"Attempt {said.attempt} of {place} has its recording.",
            f"Send it as attempt {free[0]}, or leave the attempt out: the next free one is then taken.",
            field="attempt",
        )
    return said.attempt or free[0]
