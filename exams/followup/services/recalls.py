"""Who is to come again, when, and how it ended: by the foot's risk, or because of an event of a limb."""

from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.followup.course import (
    ENDS_CHOSEN,
    EVENT_KINDS,
    ContactOutcome,
    ContactWay,
    RecallEnd,
    RecallKind,
)
from exams.followup.models import ContactAttempt, Recall
from exams.followup.queries.settings import days_of
from exams.followup.risk import CATEGORIES, SCHEME, due_between
from exams.followup.services.common import check, living, need, one_of, refuse_not_past
from exams.followup.targets import DAYS, due_after, event_key
from exams.patients.events import DONE_ONCE
from exams.patients.models import LimbFact, Patient
from exams.patients.queries import today_in
from exams.patients.typed_date import written
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES

BY_EVENT = "event before calendar: a new baseline is due"
_MAY = "keep recall"


@one_act()
def plan_recall(
    *, patient: Patient, category: int | None, counted_from: date, because: str, by: Person
) -> Recall:
    """Put somebody on the recall list by foot-risk category, counted from the day the feet were seen.

    Raises
    ------
    ValidationError
        By field; where a recall by category stands already: that one is to be marked seen, or ended.
    """
    require(by, _MAY, patient)
    patient = living(patient)
    if Recall.objects.filter(patient=patient, kind=RecallKind.RISK, ended_at=None).exists():
        raise ValidationError(
            "A recall by risk category stands already. Say that the person was seen, or end it; "
            "then plan anew."
        )
    return _plan(patient, category, counted_from, because, by)


@one_act()
def mark_seen(
    *, recall: Recall, on: date, how: str, by: Person, category: int | None = None, because: str = ""
) -> Recall | None:
    """The person came: this recall ends, and the next one by risk category begins if one is given.

    Parameters
    ----------
    on : the day they were seen.
    how : in which words: what was done.
    category : of the next recall; None plans none, which a recall by category does not allow.

    Returns
    -------
    The next recall, None where none was planned.
    """
    require(by, _MAY, recall)
    patient, recall = _held(recall)
    refuse_not_past("on", on, patient, since=recall.counted_from)
    how = need(how, "how", "Say what was done, for example: both feet seen, pressures measured.")
    if recall.kind == RecallKind.RISK and category is None:
        raise ValidationError(
            {"category": "Choose the category for the next date. To stop recalling, end the recall instead."}
        )
    _end(recall, RecallEnd.SEEN, f"Seen {written(on)}: {how}"[:300], by)
    if category is None:
        return None
    if recall.kind != RecallKind.RISK:
        for other in Recall.objects.filter(patient=patient, kind=RecallKind.RISK, ended_at=None):
            _end(other, RecallEnd.SEEN, f"Seen {written(on)}: {how}"[:300], by)
    return _plan(patient, category, on, because, by, follows=recall)


@one_act()
def end_recall(*, recall: Recall, how: str, because: str, by: Person) -> Recall:
    """Nobody is recalled for this any more, by this person's decision."""
    require(by, _MAY, recall)
    _, recall = _held(recall)
    one_of(how, ENDS_CHOSEN, "how", "Choose how it ends.")
    return _end(recall, how, need(because, "because", "Say why: the reason is kept with the record."), by)


@one_act()
def record_contact(
    *, recall: Recall, tried_on: date, way: str, outcome: str, by: Person, words: str = ""
) -> ContactAttempt:
    """A try to reach the person. The recall stands until somebody marks them seen or ends it."""
    require(by, _MAY, recall)
    patient, recall = _held(recall)
    refuse_not_past("tried_on", tried_on, patient, since=recall.counted_from)
    attempt = ContactAttempt(
        recall=recall,
        tried_on=tried_on,
        way=one_of(way, ContactWay.values, "way", "Choose in which way."),
        outcome=one_of(outcome, ContactOutcome.values, "outcome", "Choose what came of it."),
        words=words.strip(),
        entered_at=clock.now(),
        entered_by=by.user,
    )
    check(attempt)
    attempt.save()
    record(by, "recall contact tried", recall, details={"way": way, "outcome": outcome, "on": tried_on})
    return attempt


def follow_events(*, patient: Patient, by: Person) -> None:
    """Raise a recall for every event of a limb that needs a new baseline; part of the act that recorded it.

    An event that is over, or since which an exam was measured, raises none. One that was withdrawn or
    corrected ends its recall: who withdrew it decided that. Nobody is recalled who has died.
    """
    facts = list(LimbFact.objects.filter(patient=patient, kind__in=EVENT_KINDS).order_by("pk"))
    raised = {one.fact_id: one for one in Recall.objects.filter(patient=patient, fact__isnull=False)}
    replaced = {fact.replaces_id: fact for fact in facts if fact.replaces_id}
    patient = Patient.objects.select_related("clinic").get(pk=patient.pk)
    for fact in facts:
        recall = raised.get(fact.pk)
        newer = replaced.get(fact.pk)
        if recall is not None and recall.ended_at is None and (fact.withdrawn_at or newer):
            why = newer.replaced_because if newer else fact.withdrawn_because
            _end(recall, RecallEnd.NEVER_WAS, why or "withdrawn", by)
    if patient.died_on is not None:
        return
    for fact in facts:
        if fact.pk in raised or fact.withdrawn_at or fact.pk in replaced or fact.ended_on:
            continue
        # A correction of an event already answered asks for nothing new, unless it says another thing or day.
        before = next((one for one in facts if one.pk == fact.replaces_id), None)
        if before is not None and _same_event(before, fact):
            earlier = raised.get(before.pk)
            if earlier is not None and earlier.ended_as == RecallEnd.SEEN:
                continue
        if not _measured_since(fact):
            raised[fact.pk] = _raise(patient, fact, by)


def _raise(patient: Patient, fact: LimbFact, by: Person) -> Recall:
    days = days_of(patient.clinic, event_key(fact.kind)) or 0
    # Of what is known to the month or year only, the last possible day, but none to come.
    first = min(fact.dated.latest, today_in(patient.clinic))
    recall = Recall(
        clinic=patient.clinic,
        patient=patient,
        kind=fact.kind,
        scheme=BY_EVENT,
        because=f"{fact.whose} {fact.words}, {fact.when}"[:300],
        fact=fact,
        counted_from=first,
        due_from=first,
        due_by=due_after(first, days, DAYS),
        made_at=clock.now(),
        made_by=by.user,
    )
    check(recall)
    recall.save()
    record(by, "recall raised", recall, details={"because of": fact.kind, "fact": fact.pk})
    return recall


def _plan(
    patient: Patient,
    category: int | None,
    counted_from: date,
    because: str,
    by: Person,
    follows: Recall | None = None,
) -> Recall:
    if category not in CATEGORIES:
        raise ValidationError({"category": "Choose the risk category, 0 to 3."})
    refuse_not_past("counted_from", counted_from, patient)
    due_from, due_by = due_between(category, counted_from)
    recall = Recall(
        clinic=patient.clinic,
        patient=patient,
        kind=RecallKind.RISK,
        category=category,
        scheme=SCHEME,
        because=because.strip(),
        counted_from=counted_from,
        due_from=due_from,
        due_by=due_by,
        made_at=clock.now(),
        made_by=by.user,
        follows=follows,
    )
    check(recall)
    recall.save()
    details = {"category": category, "due from": due_from, "due by": due_by}
    record(by, "recall planned", recall, details=details)
    return recall


def _end(recall: Recall, how: str, because: str, by: Person) -> Recall:
    recall.ended_at, recall.ended_by = clock.now(), by.user
    recall.ended_as, recall.ended_because = how, because
    check(recall)
    recall.save()
    record(by, "recall ended", recall, details={"how": how, "because": because})
    return recall


def _held(recall: Recall) -> tuple[Patient, Recall]:
    patient = living(recall.patient)
    found = Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    found.patient = patient
    if found.ended_at is not None:
        raise ValidationError("This recall was ended meanwhile. Nothing was changed; see what stands there.")
    return patient, found


def _measured_since(fact: LimbFact) -> bool:
    zone = fact.patient.clinic.zone
    newest = (
        Exam.objects.filter(patient_id=fact.patient_id, state__in=DONE_STATES, measured_at__isnull=False)
        .order_by("-measured_at")
        .values_list("measured_at", flat=True)
        .first()
    )
    if newest is None:
        return False
    on = newest.astimezone(zone).date()
    # Pressures of the very day are those of the ulcer found, but may be from before a procedure.
    return on > fact.dated.latest or (on == fact.dated.latest and fact.kind not in DONE_ONCE)


def _same_event(one: LimbFact, other: LimbFact) -> bool:
    names = ("side", "kind", "level", "toe", "started_on", "started_precision")
    return all(getattr(one, name) == getattr(other, name) for name in names)
