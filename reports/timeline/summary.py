"""What a clinician reads in ten seconds: what changed of a limb, and what is overdue. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from exams.hemodynamics import Verdict
from exams.patients.models import Caution
from exams.wounds.queries import Look, OpenCourse
from exams.wounds.wording import size_words
from reports.timeline.figure import NAMES
from reports.timeline.glance import Glance
from reports.timeline.series import Measure, day
from reports.timeline.words import change_words
from reports.timeline.years import LimbYears

# The toe first: it is what the foot lives by, and the ankle may be too stiff to tell.
FOLLOWED = (Measure.TOE_PRESSURE, Measure.TOE_BRACHIAL_INDEX, Measure.ANKLE_BRACHIAL_INDEX)
TOLD_FIRST = (Verdict.LIKELY_FALL, Verdict.SEEN_ONCE, Verdict.LIKELY_RISE, Verdict.WITHIN_NOISE)


@dataclass(frozen=True)
class Overdue:
    """Something that waits; `exam_id` is where it is done, None where it is done elsewhere."""

    words: str
    exam_id: int | None = None


@dataclass(frozen=True)
class Unreported:
    """How many measured exams have no report yet, and the oldest of them."""

    count: int
    exam_id: int
    on: date


def changed_of(limb: LimbYears) -> str:
    """The one sentence on change that matters most: a fall before a rise, and either before noise."""
    for verdict in TOLD_FIRST:
        for measure in FOLLOWED:
            change = limb.changes.get(measure)
            if change and change.verdict is verdict:
                return change_words(limb, measure)
    known = next((measure for measure in FOLLOWED if limb.series[measure].points), None)
    return change_words(limb, known) if known else f"No {NAMES[Measure.TOE_PRESSURE]} or index yet."


def wound_words(course: OpenCourse) -> str:
    """How an open wound goes, in one line: stage of the limb and size, last and before.

    "Wound 1, heel: WIfI stage 3 on 2 Oct 2026, 4 on 2 Sep 2026; 1.2 cm², 2.0 cm² before."
    """
    now, *before = course.looks
    stage = f"WIfI stage {now.stage or 'not stated'} on {day(now.on)}"
    size = _size(now)
    if not before:
        return f"Wound {course.number}, {course.place_words}: {stage}, {size}; assessed once."
    then = before[0]
    earlier = "as" if now.stage == then.stage else then.stage or "not stated"
    stage += f", {earlier} on {day(then.on)}"
    size += f", {_size(then)} before"
    if now.area_mm2 and then.area_mm2 and now.area_how != then.area_how:
        size += " (measured otherwise: not to be compared)"
    return f"Wound {course.number}, {course.place_words}: {stage}; {size}."


def _size(look: Look) -> str:
    return "size not measured" if look.area_mm2 is None else size_words(look.area_mm2)


def limb_overdue(glance: Glance) -> tuple[str, ...]:
    """Whether the pressures of a limb are missing or too old to rely on."""
    if glance.record is None:
        return ("Pressures: never measured.",)
    if glance.old:
        return (f"Pressures: {glance.age}, older than a year. Measure again before you rely on them.",)
    return ()


def unreported_of(exams: Iterable[tuple[int, date]]) -> Unreported | None:
    """Exams measured and without a report, number and day, the oldest first; None where there is none."""
    waiting = list(exams)
    return Unreported(len(waiting), *waiting[0]) if waiting else None


def overdue(unreported: Unreported | None, cautions: Iterable[Caution], today: date) -> tuple[Overdue, ...]:
    """Exams measured and without a report in one line, then cautions whose review has passed."""
    waiting = []
    if unreported:
        oldest = day(unreported.on)
        said = (
            f"The exam of {oldest} has no report yet."
            if unreported.count == 1
            else f"{unreported.count} exams have no report yet, the oldest of {oldest}."
        )
        waiting.append(Overdue(said, unreported.exam_id))
    unreviewed = [
        Overdue(f"“{caution.words}” was to be reviewed on {day(caution.review_on)}.")
        for caution in cautions
        if caution.review_on is not None and caution.review_on < today
    ]
    return (*waiting, *unreviewed)
