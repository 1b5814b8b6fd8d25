"""Draft criteria: one limit moved, tried on the last exams by a job, approved or refused by a second person.

An approved draft is a file: criteria stay files that are adopted whole, with their cases
(docs/add-criteria.md). Nothing here changes what a clinic reads its exams by.
"""

import hashlib

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import CriteriaError, read_criteria
from exams.visits.queries.criteria import in_force
from jobs import services as jobs
from reports.audit.draft_text import Edge, moved
from reports.audit.models import CriteriaDraft
from reports.audit.queries.what_if import Tell, read_again

TRY = "draft criteria on the last exams"


@one_act()
def draft_criteria(*, edge: Edge, limit: int, last: int, by: Person) -> CriteriaDraft:
    """Store the criteria in force with one limit moved, and ask for the last exams to be read by them.

    Raises
    ------
    ValidationError
        If the limit is where it was, or the criteria would not be whole.
    """
    require(by, "try criteria")
    if by.clinic is None:
        raise ValidationError("Choose the clinic you act in first.")
    if limit == edge.limit:
        raise ValidationError({"limit": "It lies there already. Write where it would lie instead."})
    base = in_force(by)
    text = moved(base, edge, limit)
    try:
        trial = read_criteria(text)
    except CriteriaError as refused:
        raise ValidationError({"limit": f"{refused} Choose another limit."}) from None
    draft = CriteriaDraft(
        clinic=by.clinic,
        base_name=base.name,
        base_version=base.version,
        words=edge.words,
        moved_to=edge.said(limit),
        last=last,
        text=text,
        content_sha256=trial.content_hash,
        made_at=clock.now(),
        made_by=by.user,
    )
    draft.full_clean()
    draft.save()
    draft.job = jobs.start(TRY, by, {"draft": draft.pk})
    draft.save(update_fields=["job"])
    record(
        by,
        "draft criteria made",
        draft,
        details={
            "of": base.label,
            "what": f"{edge.words}, moved to {draft.moved_to}",
            "sha256": trial.content_hash,
        },
    )
    return draft


def try_draft(*, draft: CriteriaDraft, by: Person, tell: Tell = lambda part: None) -> CriteriaDraft:
    """Read the last exams by the draft and keep what changes; run twice it ends as if once."""
    require(by, "try criteria", draft)
    if draft.outcome is None:
        _keep(draft, read_again(draft, tell), by)
        draft.refresh_from_db()
    return draft


@one_act()
def _keep(draft: CriteriaDraft, outcome: dict[str, object], by: Person) -> None:
    kept = CriteriaDraft.objects.filter(pk=draft.pk, outcome__isnull=True).update(outcome=outcome)
    if kept:
        record(by, "draft criteria tried", draft, details={"count": outcome["exams"]})


@one_act()
def ask_for_approval(*, draft: CriteriaDraft, because: str, by: Person) -> CriteriaDraft:
    """Ask a second person to approve a draft that was tried.

    Raises
    ------
    ValidationError
    """
    require(by, "try criteria", draft)
    draft = _held(draft)
    if draft.outcome is None or draft.asked_at is not None:
        raise ValidationError("A draft is sent for approval once, after it was tried.")
    draft.asked_at, draft.asked_because = clock.now(), because
    draft.full_clean()
    draft.save()
    record(by, "draft criteria sent for approval", draft, details={"because": because})
    return draft


@one_act()
def decide_draft(*, draft: CriteriaDraft, approve: bool, because: str, by: Person) -> CriteriaDraft:
    """Approve a draft or refuse it: an administrator of the clinic, never the person who made it.

    Raises
    ------
    ValidationError
    """
    require(by, "decide on criteria", draft)
    draft = _held(draft)
    if draft.asked_at is None or draft.decided_at is not None:
        raise ValidationError("This draft does not wait for a decision.")
    if draft.made_by == by.user:
        raise ValidationError("You made this draft yourself: somebody else has to decide.")
    draft.approved, draft.decided_by, draft.decided_at = approve, by.user, clock.now()
    draft.decided_because = because
    draft.full_clean()
    draft.save()
    words = "draft criteria approved" if approve else "draft criteria refused"
    record(by, words, draft, details={"because": because, "sha256": draft.content_sha256})
    return draft


@one_act()
def open_draft(*, draft: CriteriaDraft, by: Person) -> bytes:
    """The file of an approved draft.

    Raises
    ------
    ValidationError
        If it is not approved, or is not the text that was.
    """
    require(by, "try criteria", draft)
    if not draft.approved:
        raise ValidationError("Only an approved draft is handed out as a file.")
    data = draft.text.encode()
    if hashlib.sha256(data).hexdigest() != draft.content_sha256:
        raise ValidationError("The stored text is not the one that was approved. Make a new draft.")
    record(by, "draft criteria downloaded", draft, details={"sha256": draft.content_sha256})
    return data


def _held(draft: CriteriaDraft) -> CriteriaDraft:
    return CriteriaDraft.objects.select_for_update(of=("self",)).select_related("made_by").get(pk=draft.pk)
