"""What is found of a wound on a day: recorded, corrected by a new row, withdrawn; graded each time anew."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import InputError, area_question
from exams.patients.services.common import refuse_merged
from exams.patients.typed_date import written
from exams.wounds.asked import area_readings, assessed_wound
from exams.wounds.codes import AreaHow, EpisodeEnd, InfectionJudged
from exams.wounds.grading import Graded, graded
from exams.wounds.models import Assessment, Grade, Photograph, Wound, WoundEntry
from exams.wounds.services.common import (
    check,
    reason_given,
    refuse_outside_wound,
    standing_entry,
    told,
)
from exams.wounds.services.gangrene import follow_gangrene
from exams.wounds.services.infection import follow_infection
from exams.wounds.services.outcomes import keep_outcome
from exams.wounds.wording import refused_words, size_words

# All that is said at an assessment: what a correction says again, and what the trail keeps.
FOUND = (
    "assessed_on",
    "length_mm",
    "width_mm",
    "area_mm2",
    "area_how",
    "photograph_id",
    "trace",
    "depth",
    "extensive",
    "gangrene",
    "tissue",
    "infection_looked",
    "local_signs",
    "redness_mm",
    "deep_signs",
    "bone_infection",
    "explained_by",
    "celsius",
    "heart_rate",
    "breaths",
    "white_cells",
    "infection_judged",
    "judged_because",
    "pulses",
    "feeling_lost",
    "deformity",
    "offloading",
    "dressing",
    "note",
)
_NOTHING_DIFFERS = "Nothing differs from what is recorded, so there is nothing to correct."
_GONE = "Somebody corrected or withdrew this while your page was open. Open the wound again and look."
_JUDGED = {
    InfectionJudged.NONE: 1,
    InfectionJudged.MILD: 2,
    InfectionJudged.MODERATE: 3,
    InfectionJudged.SEVERE: 4,
}


@one_act()
def assess_wound(
    *, wound: Wound, assessed_on: date, by: Person, size_confirmed: bool = False, **found: Any
) -> Assessment:
    """Record how a wound was found, and the grades that follow.

    Parameters
    ----------
    size_confirmed : whether a person has said that an area ten times the last one is right.
    found : any of ``FOUND``; the area follows from length and width where it is left out.

    Raises
    ------
    ValidationError
        At its field: days outside the wound or the life, an area ten times the last, signs that contradict
        the grade given by eye, things that cannot be together.
    """
    require(by, "record wounds", wound)
    entry = _held(wound)
    assessment = Assessment(
        wound=entry.wound, assessed_on=assessed_on, entered_at=clock.now(), entered_by=by.user, **found
    )
    _keep(entry, assessment, size_confirmed=size_confirmed, by=by)
    details = {name: value for name, value in told(assessment, FOUND).items() if value not in ("", None)}
    record(by, "wound assessed", assessment, details=details)
    _follow(entry, by)
    return assessment


@one_act()
def correct_assessment(
    *, assessment: Assessment, reason: str, by: Person, size_confirmed: bool = False, **found: Any
) -> Assessment:
    """Put a new row in place of an assessment; both stay, with who and why. Graded anew.

    ``found`` is how it really was, any of ``FOUND``; what is left out stays as it was said.
    """
    require(by, "record wounds", assessment)
    unknown = set(found) - set(FOUND)
    if unknown:
        raise TypeError(f"{sorted(unknown)} cannot be said of an assessment.")
    entry, standing = _held_with(assessment)
    was = told(standing, FOUND)
    if found.get("area_mm2", was["area_mm2"]) != was["area_mm2"]:
        found = {"trace": None, **found}  # the line on the photograph gave another area
    replacement = Assessment(
        wound=entry.wound,
        **{**was, **found},
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=standing,
        replaced_because=reason_given(reason),
    )
    _complete(replacement)
    if told(replacement, FOUND) == was:
        raise ValidationError(_NOTHING_DIFFERS)
    _keep(entry, replacement, size_confirmed=size_confirmed, by=by)
    now = told(replacement, FOUND)
    changed = {name: [was[name], now[name]] for name in FOUND if was[name] != now[name]}
    details = {"replaces": standing.pk, "changed": changed, "because": replacement.replaced_because}
    record(by, "wound assessment corrected", replacement, details=details)
    _follow(entry, by)
    return replacement


@one_act()
def withdraw_assessment(*, assessment: Assessment, reason: str, by: Person) -> Assessment:
    """Say that an assessment was entered in error. It stays, struck through."""
    require(by, "record wounds", assessment)
    entry, standing = _held_with(assessment)
    standing.withdrawn_at, standing.withdrawn_by = clock.now(), by.user
    standing.withdrawn_because = reason_given(reason)
    check(standing)
    standing.save()
    record(by, "wound assessment withdrawn", standing, details={"because": standing.withdrawn_because})
    _follow(entry, by)
    return standing


def _held(wound: Wound) -> WoundEntry:
    refuse_merged(wound.patient)
    entry = standing_entry(wound)
    if entry.wound.withdrawn_at is not None:
        raise ValidationError(_GONE)
    return entry


def _held_with(assessment: Assessment) -> tuple[WoundEntry, Assessment]:
    entry = _held(assessment.wound)
    standing = Assessment.objects.select_for_update().get(pk=assessment.pk)
    if standing.withdrawn_at or Assessment.objects.filter(replaces=standing).exists():
        raise ValidationError(_GONE)
    return entry, standing


def _complete(assessment: Assessment) -> None:
    """The area from length and width, where no other is given."""
    if assessment.area_how == AreaHow.TRACED and assessment.area_mm2 is not None:
        return
    if assessment.length_mm is not None and assessment.width_mm is not None:
        assessment.area_mm2 = assessment.length_mm * assessment.width_mm
        assessment.area_how = AreaHow.BY_LENGTH
    else:
        assessment.area_mm2, assessment.area_how = None, ""


def _keep(entry: WoundEntry, assessment: Assessment, *, size_confirmed: bool, by: Person) -> None:
    refuse_outside_wound(entry, "assessed_on", assessment.assessed_on)
    _complete(assessment)
    if (assessment.length_mm is None) != (assessment.width_mm is None):
        missing = "width_mm" if assessment.width_mm is None else "length_mm"
        raise ValidationError({missing: "Write both length and width, or neither."})
    if assessment.photograph_id is not None:
        mine = Photograph.objects.filter(pk=assessment.photograph_id, wound=entry.wound, withdrawn_at=None)
        if not mine.exists():
            raise ValidationError({"photograph": "That photograph is not of this wound."})
    check(assessment)
    before = _before(assessment)
    if not size_confirmed:
        _ask_about_tenfold(assessment, before)
    try:
        assessed_wound(entry, assessment)
    except InputError as error:
        raise ValidationError({_field_of(error): refused_words(error)}) from None
    found = graded(entry, assessment, before)
    _refuse_contradiction(assessment, found)
    assessment.save()
    Grade.objects.bulk_create(
        Grade(
            assessment=assessment,
            measure=one.measure,
            value=one.value,
            graded=one.graded,
            criteria=found.criteria.name,
            criteria_version=found.criteria.version,
            computed_at=clock.now(),
        )
        for one in found.grades
    )


def _before(assessment: Assessment) -> list[Assessment]:
    """Every other standing assessment of the wound up to that day, the oldest first."""
    standing = Assessment.objects.filter(
        wound=assessment.wound,
        replaced_by=None,
        withdrawn_at=None,
        assessed_on__lte=assessment.assessed_on,
    )
    if assessment.replaces_id is not None:
        standing = standing.exclude(pk=assessment.replaces_id)
    return list(standing.order_by("assessed_on", "pk"))


def _ask_about_tenfold(assessment: Assessment, before: list[Assessment]) -> None:
    last = next((one for one in reversed(before) if one.area_mm2), None)
    if last is None or not assessment.area_mm2 or not last.area_mm2:
        return
    was, now = area_readings([last, assessment])
    asked = area_question(was, now)
    if not asked:
        return
    field = "trace" if assessment.area_how == AreaHow.TRACED else "length_mm"
    grown = "grow" if asked == "tenfold_growth" else "shrink"
    words = (
        f"This is {size_words(now.area_mm2)}, and was {size_words(was.area_mm2)} on {written(was.on)}. "
        f"Sizes are in millimetres: 2 cm is 20. If it did {grown} like this, tick “the size is right” and "
        "save again."
    )
    raise ValidationError({field: ValidationError(words, code="tenfold")})


def _refuse_contradiction(assessment: Assessment, found: Graded) -> None:
    if not assessment.infection_judged or assessment.judged_because.strip():
        return
    computed = found.infection
    if _JUDGED[InfectionJudged(assessment.infection_judged)] not in computed.possible:
        raise ValidationError(
            {
                "infection_judged": f"The signs entered make it {computed.shown} ({computed.words}). Mend "
                "the signs or this grade, leave the grade empty, or say below why you judge otherwise."
            }
        )


def _field_of(error: InputError) -> str:
    named = {"bone_only_in_distal_phalanx": "depth", "calcaneus": "depth", "temperature_celsius": "celsius"}
    named |= {"erythema_mm": "redness_mm", "respiratory_rate": "breaths", "white_cells_10_9_l": "white_cells"}
    named |= {"traced_area_mm2": "trace", "area_mm2": "trace", "deepest": "depth"}
    return named.get(error.field, error.field)


def _follow(entry: WoundEntry, by: Person) -> None:
    """What else an assessment changes: the foot's infection and gangrene, and how the episode came out."""
    episode = entry.wound.episode
    follow_infection(episode, entry.side, by)
    follow_gangrene(episode, entry.side, by)
    if episode.ended_how == EpisodeEnd.LOST and entry.is_open:
        episode.ended_on, episode.ended_how, episode.ended_because, episode.ended_by = None, "", "", None
        record(by, "episode of wounds open again", episode)
    keep_outcome(episode)
