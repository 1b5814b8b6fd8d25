"""What changes a wound and its episode. The limb's fact "open wound" follows, and with it the latest exam."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.events import FactKind
from exams.patients.models import LimbFact, Patient
from exams.patients.services import (
    correct_limb_fact,
    end_limb_fact,
    record_limb_fact,
    withdraw_limb_fact,
)
from exams.patients.services.common import refuse_merged
from exams.patients.typed_date import written
from exams.wounds.codes import WOUND_NOTES, EpisodeEnd, Status
from exams.wounds.models import (
    Assessment,
    BeyondSalvage,
    Episode,
    Wound,
    WoundEntry,
    without_wound_of_amputation,
)
from exams.wounds.services.common import (
    check,
    newest_of,
    reason_given,
    refuse_impossible_entry,
    standing_entry,
    told,
)
from exams.wounds.services.gangrene import follow_gangrene
from exams.wounds.services.infection import follow_infection
from exams.wounds.services.outcomes import keep_outcome

# All that is said of a wound: what a correction says again, and what the trail keeps.
ENTRY_SAYS = (
    "side",
    "place",
    "cause",
    "note",
    "began_on",
    "began_precision",
    "presented_on",
    "recurrence_of_id",
    "status",
    "closed_on",
)
_NOTHING_DIFFERS = "Nothing differs from what is recorded, so there is nothing to correct."
_GONE = "Somebody corrected or withdrew this while your page was open. Open the wounds again and look."


@one_act()
def record_wound(
    *,
    patient: Patient,
    side: str,
    place: str,
    cause: str,
    began_on: date,
    by: Person,
    began_precision: str = "day",
    presented_on: date | None = None,
    note: str = "",
    recurrence_of: Wound | None = None,
    fact: LimbFact | None = None,
) -> Wound:
    """A new open wound: of the episode that is open, or the first of a new one.

    The limb has an open wound from ``began_on`` on, and the latest exam is interpreted with it.

    Parameters
    ----------
    presented_on : the day it was first shown to a professional; left out, today.
    recurrence_of : the healed wound that it is again, if any.
    fact : an open wound that somebody recorded of this limb; it is this wound, so none is added beside it.
    """
    require(by, "record wounds", patient)
    refuse_merged(patient)
    if recurrence_of is not None and recurrence_of.patient_id != patient.pk:
        raise ValidationError({"recurrence_of": "That wound is another person's."})
    now = clock.now()
    today = now.astimezone(patient.clinic.zone).date()
    entry = WoundEntry(
        side=side,
        place=place,
        cause=cause,
        note=note,
        began_on=began_on,
        began_precision=began_precision,
        presented_on=presented_on or max(today, began_on),
        recurrence_of=recurrence_of,
        entered_at=now,
        entered_by=by.user,
    )
    refuse_impossible_entry(entry, patient)
    if fact is not None and fact.side != entry.side:
        raise ValidationError(
            {"place": f"The open wound on record is of the {fact.whose} limb. Choose a place there."}
        )
    episode = _episode_for(patient, entry, by)
    number = episode.wounds.count() + 1
    if fact is None:
        fact = _open_fact(patient, entry, number, by)
    else:
        fact = correct_limb_fact(
            fact=fact,
            reason=f"described as wound {number}",
            started_on=entry.began_on,
            started_precision=entry.began_precision,
            note=_fact_note(entry, number),
            source=WOUND_NOTES,
            by=by,
        )
    wound = Wound(episode=episode, number=number, fact=fact)
    check(wound)
    wound.save()
    entry.wound = wound
    entry.save()
    record(by, "wound recorded", wound, details=told(entry, ENTRY_SAYS))
    _follow_episode(episode, by)
    return wound


@one_act()
def close_wound(*, wound: Wound, status: str, closed_on: date, by: Person) -> WoundEntry:
    """Say that a wound has healed, or went with an amputation. The last one ends the episode.

    An amputation leaves a wound: until that is recorded and healed, the episode goes on.

    Raises
    ------
    ValidationError
        At ``closed_on``: before the wound began, to come, or before a day on which it was seen open.
    """
    require(by, "record wounds", wound)
    entry = _held_entry(wound)
    if entry.closed_on is not None:
        raise ValidationError(
            {"closed_on": f"It was {entry.get_status_display()} on {written(entry.closed_on)}. Correct that."}
        )
    if status not in (Status.HEALED, Status.AMPUTATED):
        raise ValidationError({"status": "Choose whether it healed or went with an amputation."})
    return _say_anew(entry, {"status": status, "closed_on": closed_on}, "wound closed", status, by)


@one_act()
def correct_wound(*, wound: Wound, reason: str, by: Person, **says: Any) -> WoundEntry:
    """Put a new entry in place of the one that stands; both stay, with who and why.

    ``says`` is how it really was, any of ``ENTRY_SAYS``. A wound that was called healed and is not opens
    again with ``status="open", closed_on=None``.
    """
    require(by, "record wounds", wound)
    unknown = set(says) - set(ENTRY_SAYS)
    if unknown:
        raise TypeError(f"{sorted(unknown)} cannot be said of a wound.")
    entry = _held_entry(wound)
    was = told(entry, ENTRY_SAYS)
    if {**was, **says} == was:
        raise ValidationError(_NOTHING_DIFFERS)
    return _say_anew(entry, says, "wound corrected", reason_given(reason), by)


@one_act()
def withdraw_wound(*, wound: Wound, reason: str, by: Person) -> Wound:
    """Say that there never was such a wound (of another person, say). It stays, struck through."""
    require(by, "record wounds", wound)
    entry = _held_entry(wound)
    wound = entry.wound
    wound.withdrawn_at, wound.withdrawn_by = clock.now(), by.user
    wound.withdrawn_because = reason_given(reason)
    check(wound)
    wound.save()
    fact = newest_of(wound.fact)
    if fact is not None:
        withdraw_limb_fact(fact=fact, reason=wound.withdrawn_because, by=by)
    record(by, "wound withdrawn", wound, details={"because": wound.withdrawn_because})
    follow_infection(wound.episode, entry.side, by)
    follow_gangrene(wound.episode, entry.side, by)
    _follow_episode(wound.episode, by)
    return wound


@one_act()
def lose_episode(*, episode: Episode, ended_on: date, because: str, by: Person) -> Episode:
    """Say that somebody is no longer followed here. The wounds stay open as far as is known."""
    require(by, "record wounds", episode)
    refuse_merged(episode.patient)
    episode = Episode.objects.select_for_update(of=("self",)).select_related("patient").get(pk=episode.pk)
    if episode.ended_on is not None:
        raise ValidationError({"ended_on": f"This episode ended on {written(episode.ended_on)} already."})
    if ended_on < episode.began_on or ended_on > clock.now().astimezone(episode.patient.clinic.zone).date():
        raise ValidationError({"ended_on": "Write a day between the first wound and today."})
    episode.ended_on, episode.ended_how, episode.ended_by = ended_on, EpisodeEnd.LOST, by.user
    episode.ended_because = reason_given(because)
    keep_outcome(episode)
    record(by, "episode of wounds lost to follow-up", episode, details={"because": episode.ended_because})
    return episode


@one_act()
def judge_beyond_salvage(
    *, episode: Episode, side: str, holds: bool, because: str, by: Person
) -> BeyondSalvage:
    """A clinician says that a foot cannot be saved (WIfI stage 5), or takes that back. Never computed."""
    require(by, "judge beyond salvage", episode)
    refuse_merged(episode.patient)
    said = BeyondSalvage(
        episode=episode,
        side=side,
        holds=holds,
        because=reason_given(because),
        said_at=clock.now(),
        said_by=by.user,
    )
    check(said)
    said.save()
    what = "foot judged beyond salvage" if holds else "judgement beyond salvage taken back"
    record(by, what, said, details={"side": side, "because": said.because})
    return said


def _held_entry(wound: Wound) -> WoundEntry:
    """The entry that stands, the record of its patient held; ValidationError of a withdrawn wound."""
    refuse_merged(wound.patient)
    entry = standing_entry(wound)
    if entry.wound.withdrawn_at is not None:
        raise ValidationError(_GONE)
    return entry


def _say_anew(entry: WoundEntry, says: dict[str, Any], what: str, because: str, by: Person) -> WoundEntry:
    was = told(entry, ENTRY_SAYS)
    new = WoundEntry(
        wound=entry.wound,
        **{**was, **says},
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=entry,
        replaced_because=because,
    )
    refuse_impossible_entry(new, entry.patient)
    _refuse_beside_assessments(new)
    new.save()
    _fact_follows(new, because, by)
    changed = {
        name: [was[name], value] for name, value in told(new, ENTRY_SAYS).items() if was[name] != value
    }
    record(by, what, entry.wound, details={"changed": changed, "because": because})
    for side in sorted({entry.side, new.side}):
        follow_infection(entry.wound.episode, side, by)
        follow_gangrene(entry.wound.episode, side, by)
    _follow_episode(entry.wound.episode, by)
    return new


def _refuse_beside_assessments(entry: WoundEntry) -> None:
    """ValidationError where an assessment saw the wound before it began, or after it had closed."""
    seen = Assessment.objects.filter(wound=entry.wound, replaced_by=None, withdrawn_at=None)
    days = sorted(seen.values_list("assessed_on", flat=True))
    if not days:
        return
    if days[0] < entry.began_on:
        raise ValidationError(
            {"began_on": f"It was assessed on {written(days[0])}, before this. Correct that first."}
        )
    if entry.closed_on is not None and days[-1] > entry.closed_on:
        raise ValidationError(
            {
                "closed_on": f"It was seen open on {written(days[-1])}, after this. Write a later day, or "
                "correct that assessment first."
            }
        )


def _episode_for(patient: Patient, entry: WoundEntry, by: Person) -> Episode:
    """The episode that is open, one that closed too early because this wound was not known, or a new one."""
    episodes = (
        Episode.objects.select_for_update().filter(patient=patient).exclude(ended_how=EpisodeEnd.IN_ERROR)
    )
    for episode in episodes.order_by("-began_on", "-pk"):
        if episode.ended_on is None or episode.ended_on > entry.began_on:
            return episode
        if episode.ended_how == EpisodeEnd.LOST and _has_open(episode):
            return episode
    episode = Episode(
        clinic_id=patient.clinic_id,
        patient=patient,
        began_on=entry.began_on,
        presented_on=entry.presented_on,
        index_side=entry.side,
        entered_at=entry.entered_at,
        entered_by=by.user,
    )
    check(episode)
    episode.save()
    return episode


def _has_open(episode: Episode) -> bool:
    entries = list(_standing(episode))
    return any(entry.is_open for entry in entries) or bool(without_wound_of_amputation(entries))


def _standing(episode: Episode) -> Any:
    return WoundEntry.objects.filter(wound__episode=episode, wound__withdrawn_at=None, replaced_by=None)


def _follow_episode(episode: Episode, by: Person) -> None:
    """Let the episode begin with its first wound and end with its last, that of an amputation included."""
    entries = list(_standing(episode))
    if entries:
        episode.began_on = min(entry.began_on for entry in entries)
        episode.presented_on = min(entry.presented_on for entry in entries)
    closed = [entry.closed_on for entry in entries if entry.closed_on is not None]
    over = len(closed) == len(entries) and not without_wound_of_amputation(entries)
    was = episode.ended_how
    if not entries:
        episode.ended_on, episode.ended_how, episode.ended_by = episode.began_on, EpisodeEnd.IN_ERROR, by.user
        episode.ended_because = ""
    elif over:
        episode.ended_on, episode.ended_how, episode.ended_by = max(closed), EpisodeEnd.HEALED, by.user
        episode.ended_because = ""
    else:
        episode.ended_on, episode.ended_how, episode.ended_by, episode.ended_because = None, "", None, ""
    keep_outcome(episode)
    if was != episode.ended_how:
        what = (
            f"episode of wounds ended: {episode.ended_how}"
            if episode.is_over
            else "episode of wounds open again"
        )
        record(by, what, episode, details={"on": episode.ended_on})


def _open_fact(patient: Patient, entry: WoundEntry, number: int, by: Person) -> LimbFact:
    return record_limb_fact(
        patient=patient,
        side=entry.side,
        kind=FactKind.OPEN_WOUND,
        started_on=entry.began_on,
        started_precision=entry.began_precision,
        note=_fact_note(entry, number),
        source=WOUND_NOTES,
        by=by,
    )


def _fact_note(entry: WoundEntry, number: int) -> str:
    return f"wound {number}: {entry.where.words}"


def _fact_follows(entry: WoundEntry, because: str, by: Person) -> None:
    """Make the limb's open wound say what the entry says. Somebody may have changed it on its own page."""
    wound = entry.wound
    fact = newest_of(wound.fact)
    if fact is None:
        fact = _open_fact(entry.patient, entry, wound.number, by)
    says = {
        "side": entry.side,
        "started_on": entry.began_on,
        "started_precision": entry.began_precision,
        "note": _fact_note(entry, wound.number),
    }
    if fact.ended_on is not None and fact.ended_on != entry.closed_on:
        says["ended_on"] = entry.closed_on
    if any(getattr(fact, name) != value for name, value in says.items()):
        fact = correct_limb_fact(fact=fact, reason=because, by=by, **says)
    if entry.closed_on is not None and fact.ended_on is None:
        ended = Status(entry.status).label
        fact = end_limb_fact(fact=fact, ended_on=entry.closed_on, reason=str(ended), by=by)
    if fact.pk != wound.fact_id:
        wound.fact = fact
        wound.save(update_fields=["fact"])
