"""Hand-over of a critical result: raised by a stored value, closed when someone was told, or in error."""

from datetime import datetime, timedelta

from django.core.exceptions import ValidationError

from access import clock
from access.models import User
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import Finding, Interpretation
from exams.visits.models import Exam, HandOver, HandOverAttempt
from exams.visits.queries.results import stored_interpretation
from exams.visits.services.acts import check, held
from exams.visits.wording import NOT_URGENT_NOW

# Severe figures without wound, rest pain or infection: somebody must know within a working day.
WITHIN_A_WORKING_DAY = "SEVERE_ISCHAEMIA"
# The urgencies of a limb, the mildest first: an open slip of a limb covers its own and every milder one.
GRAVITY = (
    WITHIN_A_WORKING_DAY,
    "URGENT_VASCULAR",
    "INFECTION_WITH_ARTERIAL_DISEASE",
    "POSSIBLE_ACUTE_ISCHAEMIA",
)
SATURDAY = 5


def follow(*, exam: Exam, found: Interpretation, by: Person) -> None:
    """See that every urgent limb has its slip, and say on the others what they read now.

    Part of `refresh_results`. One slip a limb is open at a time. It stays when its value is corrected or what
    it says becomes milder; what is graver opens a slip that takes over from it. A closed slip covers only
    the value it was closed for: an urgent value that comes back, or another one, opens a new slip.
    """
    slips = list(HandOver.objects.filter(exam=exam).order_by("pk"))
    urgent = {_limb(finding): finding for finding in found.urgent}
    covered = {limb for limb, finding in urgent.items() if any(_covers(slip, finding) for slip in slips)}
    for slip in slips:
        if slip.closed_at is None or not slip.reads_now:
            finding = urgent.get(slip.limb)
            now = finding.sentence if finding else NOT_URGENT_NOW
            _say_what_it_reads_now(slip, "" if now == slip.sentence else now)
    for limb, finding in urgent.items():
        if limb not in covered:
            graver = _raise_slip(exam, finding, by)
            for slip in slips:
                if slip.limb == limb and slip.closed_at is None:
                    _take_over(slip, graver, by)


def _covers(slip: HandOver, finding: Finding) -> bool:
    """Whether somebody was told, or is to be told by an open slip, of this finding or of a graver one."""
    asked, its_own = GRAVITY.index(_flag(finding)), GRAVITY.index(slip.flag)
    if slip.limb != _limb(finding) or slip.taken_over_by_id is not None:
        return False
    if slip.closed_at is None:
        return its_own >= asked
    # What the person was told is what the limb read when the slip was closed, not what first raised it.
    told = slip.reads_now or slip.sentence
    in_error = bool(slip.raised_in_error_because)
    return told == finding.sentence and (its_own == asked if in_error else its_own >= asked)


def _raise_slip(exam: Exam, finding: Finding, by: Person) -> HandOver:
    now, flag = clock.now(), _flag(finding)
    slip = HandOver.objects.create(
        exam=exam,
        limb=_limb(finding),
        flag=flag,
        sentence=finding.sentence,
        raised_at=now,
        raised_by=by.user,
        due_at=_due(flag, exam, now),
    )
    record(by, "hand-over raised", slip, details={"limb": slip.limb, "flag": flag})
    return slip


def _take_over(milder: HandOver, graver: HandOver, by: Person) -> None:
    """The graver slip stands alone on Today; the milder one keeps its words and tries, and names it."""
    milder.taken_over_by = graver
    milder.closed_at, milder.closed_by = clock.now(), by.user
    milder.save()
    record(by, "hand-over taken over", milder, details={"limb": milder.limb, "by slip": graver.pk})


@one_act()
def close_hand_over(
    *,
    slip: HandOver,
    told_name: str,
    told_role: str,
    told_number: str,
    told_by: User,
    told_at: datetime,
    read_back: str,
    agreed: str,
    patient_told: str,
    by: Person,
) -> HandOver:
    """Close a slip: a person was told, read it back, and something was agreed. Every part is required.

    `told_at` may be given to the minute; it is refused before the slip was raised and in the future.
    """
    require(by, "hand over", slip)
    slip = _open_slip(slip)
    told_at = _not_before_it_was_raised(told_at, slip)
    said = {
        "told_name": told_name,
        "told_role": told_role,
        "told_number": told_number,
        "read_back": read_back,
        "agreed": agreed,
        "patient_told": patient_told,
    }
    empty = {
        name: "Needed before the slip can be closed." for name, words in said.items() if not words.strip()
    }
    if empty:
        raise ValidationError(empty)
    for name, words in said.items():
        setattr(slip, name, words.strip())
    slip.told_by, slip.told_at = told_by, told_at
    slip.closed_at, slip.closed_by = clock.now(), by.user
    check(slip)
    slip.save()
    record(by, "hand-over closed", slip, details={"limb": slip.limb, "flag": slip.flag})
    return slip


@one_act()
def record_attempt(
    *, slip: HandOver, whom: str, number: str, outcome: str, tried_at: datetime, by: Person
) -> HandOverAttempt:
    """A try to reach someone that failed. The slip stays open."""
    require(by, "hand over", slip)
    slip = _open_slip(slip)
    attempt = HandOverAttempt(
        hand_over=slip,
        whom=whom,
        number=number,
        outcome=outcome,
        tried_at=_not_before_it_was_raised(tried_at, slip, field="tried_at"),
        tried_by=by.user,
    )
    check(attempt)
    attempt.save()
    record(by, "hand-over tried", slip)
    return attempt


@one_act()
def close_as_raised_in_error(*, slip: HandOver, because: str, by: Person) -> HandOver:
    """Close a slip whose value was never right. The slip and the reason stay on record."""
    require(by, "hand over", slip)
    exam = held(slip.exam)
    slip = _open_slip(slip)
    if not because.strip():
        raise ValidationError({"because": "Say why it was raised in error. The slip stays open."})
    slip.raised_in_error_because = because.strip()
    slip.closed_at, slip.closed_by = clock.now(), by.user
    check(slip)
    slip.save()
    record(by, "hand-over raised in error", slip, details={"because": slip.raised_in_error_because})
    # What the limb reads by now may be urgent still, only milder: that has no slip of its own yet.
    follow(exam=exam, found=stored_interpretation(exam), by=by)
    return slip


def _open_slip(slip: HandOver) -> HandOver:
    slip = HandOver.objects.select_for_update(of=("self",)).select_related("exam__patient").get(pk=slip.pk)
    if slip.closed_at is not None:
        raise ValidationError(
            "This slip was closed meanwhile. Nothing was changed; look at what stands there."
        )
    return slip


def _not_before_it_was_raised(at: datetime, slip: HandOver, field: str = "told_at") -> datetime:
    if at > clock.now():
        raise ValidationError({field: "This is in the future. Give the time it really was."})
    if at < slip.raised_at.replace(second=0, microsecond=0):
        raise ValidationError({field: "This is before the slip was raised. Give the time it really was."})
    # Times are typed to the minute; within the minute of raising, the moment of raising is meant.
    return max(at, slip.raised_at)


def _say_what_it_reads_now(slip: HandOver, words: str) -> None:
    if slip.reads_now != words:
        slip.reads_now = words
        slip.save(update_fields=["reads_now"])


def _due(flag: str, exam: Exam, raised_at: datetime) -> datetime:
    """At once, or the same time on the next working day; public holidays are not known here."""
    if flag != WITHIN_A_WORKING_DAY:
        return raised_at
    there = raised_at.astimezone(exam.clinic.zone)
    due = there + timedelta(days=1)
    while due.weekday() >= SATURDAY:
        due += timedelta(days=1)
    return due


def _limb(finding: Finding) -> str:
    return finding.limb.value if finding.limb else ""


def _flag(finding: Finding) -> str:
    """The gravest flag of an urgent finding: the core lists them in that order."""
    return finding.flags[0]
