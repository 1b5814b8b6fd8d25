"""Photographs of wounds: drawn anew, kept with their checksum, never altered; and areas traced on them."""

import hashlib
from datetime import date
from uuid import uuid4

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.services.common import refuse_merged
from exams.wounds.codes import AreaHow
from exams.wounds.models import Assessment, Photograph, Wound
from exams.wounds.pictures import Picture, PictureRefused, drawn_anew
from exams.wounds.services.assessments import correct_assessment
from exams.wounds.services.common import check, reason_given, refuse_outside_wound, standing_entry
from exams.wounds.tracing import DrawnLine

_TRACED = "area traced on the photograph"


def keep_photograph(*, wound: Wound, content: bytes, taken_on: date, by: Person) -> Photograph:
    """Draw a photograph anew and keep it with the wound.

    Raises
    ------
    ValidationError
        At ``photograph``: too large, of another kind, broken; at ``taken_on``: a day outside the wound.
    """
    require(by, "record wounds", wound)
    try:
        picture = drawn_anew(content)
    except PictureRefused as refused:
        raise ValidationError({"photograph": str(refused)}) from None
    # A name of its own that says nothing of anybody.
    clinic = wound.episode.clinic_id
    kept = default_storage.save(f"wounds/{clinic}/{uuid4().hex}.jpg", ContentFile(picture.content))
    try:
        return _keep(wound, kept, picture, taken_on, by)
    except BaseException:
        default_storage.delete(kept)
        raise


@one_act()
def _keep(wound: Wound, kept: str, picture: Picture, taken_on: date, by: Person) -> Photograph:
    refuse_merged(wound.patient)
    entry = standing_entry(wound)
    refuse_outside_wound(entry, "taken_on", taken_on)
    photograph = Photograph(
        clinic_id=wound.episode.clinic_id,
        wound=entry.wound,
        taken_on=taken_on,
        picture=kept,
        sha256=hashlib.sha256(picture.content).hexdigest(),
        size=len(picture.content),
        width=picture.width,
        height=picture.height,
        entered_at=clock.now(),
        entered_by=by.user,
    )
    check(photograph)
    photograph.save()
    record(by, "wound photographed", photograph, details={"taken_on": taken_on, "sha256": photograph.sha256})
    return photograph


@one_act()
def withdraw_photograph(*, photograph: Photograph, reason: str, by: Person) -> Photograph:
    """Say that a photograph is of something else. It stays in the record and is shown no more."""
    require(by, "record wounds", photograph)
    refuse_merged(photograph.patient)
    standing = Photograph.objects.select_for_update(of=("self",)).get(pk=photograph.pk)
    if standing.withdrawn_at:
        raise ValidationError("This photograph is withdrawn already.")
    standing.withdrawn_at, standing.withdrawn_by = clock.now(), by.user
    standing.withdrawn_because = reason_given(reason)
    check(standing)
    standing.save()
    record(by, "wound photograph withdrawn", standing, details={"because": standing.withdrawn_because})
    return standing


def trace_area(
    *,
    assessment: Assessment,
    photograph: Photograph,
    line: DrawnLine,
    by: Person,
    size_confirmed: bool = False,
) -> Assessment:
    """The area inside a line drawn on the photograph, as a correction of the assessment."""
    inside = all(
        0 <= x <= photograph.width and 0 <= y <= photograph.height for x, y in (*line.points, *line.scale)
    )
    if not inside:
        raise ValidationError({"trace": "These points are not on the photograph. Clear them and mark again."})
    return correct_assessment(
        assessment=assessment,
        reason=_TRACED,
        photograph_id=photograph.pk,
        area_mm2=line.area_mm2,
        area_how=AreaHow.TRACED,
        trace=line.to_json(),
        size_confirmed=size_confirmed,
        by=by,
    )
