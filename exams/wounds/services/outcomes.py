"""How an episode began and came out, kept in its own columns so that one query can ask of many."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Max

from access.people import Person
from access.trail import one_act
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState, Result
from exams.visits.queries.chart import moment_of
from exams.wounds.codes import EpisodeEnd, Status
from exams.wounds.models import Assessment, Episode, Grade, WoundEntry

# A toe pressure is "at the start" from so long before the first assessment (the age after which the outlook
# no longer uses one, clinical.md 4.2) to so long after it (ours: it is then measured because of the wound).
TOE_BEFORE, TOE_AFTER = timedelta(days=90), timedelta(days=28)
WEEKS = (12, 24)


@one_act()
def keep_outcomes(*, patient: Patient, by: Person) -> None:
    """Read every episode of a person again: a death, or that it was none, decides how one came out."""
    for episode in Episode.objects.select_for_update().filter(patient=patient):
        episode.patient = patient
        keep_outcome(episode)


def keep_toe_at_start(*, exam: Exam, by: Person) -> None:
    """A toe measured soon after the first assessment is the toe at the start of the episode."""
    keep_outcomes(patient=exam.patient, by=by)


def keep_outcome(episode: Episode) -> None:
    """Work out the columns of one episode from its rows, and save it.

    The index wound is the one with the highest wound grade, then the largest, of those assessed on the first
    day of care; time runs from that day (first expert assessment, C:S46).
    """
    seen = list(
        Assessment.objects.filter(
            wound__episode=episode, wound__withdrawn_at=None, replaced_by=None, withdrawn_at=None
        ).order_by("assessed_on", "pk")
    )
    if not seen:
        episode.toe_band, episode.wound_grade = "", None
        episode.healed_12w = episode.healed_24w = None
        episode.save()
        return
    first = seen[0].assessed_on
    grades = _wound_grades([one for one in seen if one.assessed_on == first])
    index = max(
        (one for one in seen if one.assessed_on == first),
        key=lambda one: (grades.get(one.pk, -1), one.area_mm2 or 0, -one.pk),
    )
    entry = WoundEntry.objects.get(wound_id=index.wound_id, replaced_by=None)
    episode.index_side = entry.side
    episode.wound_grade = grades.get(index.pk)
    episode.toe_band = _toe_band(episode, entry.side, first)
    last_open = _last_seen_open(episode)
    healed = {weeks: _healed_by(episode, first, first + timedelta(weeks=weeks), last_open) for weeks in WEEKS}
    episode.healed_12w, episode.healed_24w = healed[12], healed[24]
    episode.save()


def _healed_by(episode: Episode, first: date, due: date, last_open: date | None) -> bool | None:
    """Alive and free of wounds by ``due``; None while that is not known."""
    died = episode.patient.died_on
    if episode.ended_how == EpisodeEnd.HEALED and episode.ended_on is not None:
        return episode.ended_on <= due and (died is None or died > due)
    if died is not None and died <= due:
        return False
    return False if last_open is not None and last_open >= due else None


def _last_seen_open(episode: Episode) -> date | None:
    open_now = Assessment.objects.filter(
        wound__episode=episode,
        wound__withdrawn_at=None,
        wound__entries__replaced_by=None,
        wound__entries__status=Status.OPEN,
        replaced_by=None,
        withdrawn_at=None,
    )
    last: date | None = open_now.aggregate(last=Max("assessed_on"))["last"]
    return last


def _wound_grades(some: list[Assessment]) -> dict[int, int]:
    rows = Grade.objects.filter(assessment__in=some, measure="wifi_wound", value__isnull=False)
    return {row.assessment_id: int(row.value) for row in rows if row.value is not None}


def _toe_band(episode: Episode, side: str, first: date) -> str:
    """The band of the toe pressure at the start: the newest before, else the first after; "" for none."""
    zone = episode.patient.clinic.zone
    rows: list[tuple[date, Any]] = []
    # A toe without any signal has no value, and the worst band.
    found = Result.objects.filter(exam__patient_id=episode.patient_id, limb=side, measure="toe_pressure")
    for row in found.exclude(band="").exclude(exam__state=ExamState.IN_ERROR).select_related("exam"):
        rows.append((moment_of(row.exam).astimezone(zone).date(), row))
    before = [pair for pair in rows if first - TOE_BEFORE <= pair[0] <= first]
    after = [pair for pair in rows if first < pair[0] <= first + TOE_AFTER]
    if before:
        return str(max(before, key=lambda pair: (pair[0], pair[1].pk))[1].band)
    return str(min(after, key=lambda pair: (pair[0], pair[1].pk))[1].band) if after else ""
