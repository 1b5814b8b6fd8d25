"""What a program sends and is answered of wounds and their assessments, field by field."""

from typing import Any

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Codes, Day, Line, Number, PagedByDay, PagedOfPatient, Strict, corrected
from exams.patients.events import PRECISIONS
from exams.patients.models import Side
from exams.wounds.codes import (
    AreaHow,
    Cause,
    DeepSign,
    Depth,
    ExplainedBy,
    Gangrene,
    InfectionJudged,
    InfectionLooked,
    LocalSign,
    Offloading,
    Status,
    Tissue,
    Yes,
)
from exams.wounds.models.assessments import MOST_MM, MOST_MM2
from exams.wounds.places import CHOICES

# ---- wounds


class WoundsAsked(PagedOfPatient):
    side = Choice(Side.choices, required=False)
    status = Choice(Status.choices, required=False)


class WoundSent(Strict):
    """An open wound."""

    side = Choice(Side.choices)
    place = Choice(CHOICES)
    cause = Choice(Cause.choices)
    began_on = Day(help_text="Of a month or year, its first day.")
    began_precision = Choice(PRECISIONS, required=False)
    presented_on = Day(required=False, help_text="First shown to a professional; today if left out.")
    note = Line(max_length=200, required=False, allow_blank=True)
    recurrence_of = Number(
        required=False, allow_null=True, help_text="The healed wound that it is again, by its number."
    )


WoundCorrected = corrected(
    WoundSent,
    "WoundCorrected",
    "How it really was, and why it is changed; what is left out stays as it was said.",
    status=Choice(Status.choices, required=False),
    closed_on=Day(required=False, allow_null=True),
    because=Line(max_length=200),
)


class WoundClosed(Strict):
    """What became of it, and on which day."""

    status = Choice([(code, words) for code, words in Status.choices if code != Status.OPEN])
    closed_on = Day()


@extend_schema_serializer(component_name="Wound")
class WoundAnswer(serializers.Serializer):
    """What is said of a wound now."""

    wound = serializers.IntegerField(source="wound_id", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    entry = serializers.IntegerField(source="pk", help_text="Number of what is said; lists go by it.")
    side = serializers.ChoiceField(Side.choices)
    place = serializers.ChoiceField(CHOICES)
    words = serializers.CharField()
    cause = serializers.ChoiceField(Cause.choices)
    note = serializers.CharField(allow_blank=True)
    began_on = serializers.DateField()
    began_precision = serializers.ChoiceField(PRECISIONS)
    presented_on = serializers.DateField()
    recurrence_of = serializers.IntegerField(source="recurrence_of_id", allow_null=True)
    status = serializers.ChoiceField(Status.choices)
    closed_on = serializers.DateField(allow_null=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")


# ---- assessments


class AssessmentsAsked(PagedByDay):
    """Of one wound, by the day it was seen."""


def _number(low: int, high: int, places: int = 0, **more: Any) -> serializers.Field:
    said: dict[str, Any] = {"min_value": low, "max_value": high, "required": False, "allow_null": True}
    if not places:
        return serializers.IntegerField(**said, **more)
    return serializers.DecimalField(
        max_digits=5, decimal_places=places, coerce_to_string=False, **said, **more
    )


class AssessmentSent(Strict):
    """How a wound was found on a day. Photographs are kept on the page of the wound."""

    assessed_on = Day()
    length_mm = _number(1, MOST_MM)
    width_mm = _number(1, MOST_MM)
    area_mm2 = _number(1, MOST_MM2, help_text="Where it was traced; counts before length × width.")
    size_confirmed = serializers.BooleanField(
        required=False, help_text="A person says that an area ten times the last one is right."
    )
    depth = Choice(Depth.choices)
    extensive = Choice(Yes.choices)
    gangrene = Choice(Gangrene.choices)
    tissue = Codes(Tissue.choices, required=False)
    infection_looked = Choice(InfectionLooked.choices)
    local_signs = Codes(LocalSign.choices, required=False)
    redness_mm = _number(0, MOST_MM)
    deep_signs = Codes(DeepSign.choices, required=False)
    bone_infection = Choice(Yes.choices)
    explained_by = Codes(ExplainedBy.choices, required=False)
    celsius = _number(25, 45, 1)
    heart_rate = _number(20, 300)
    breaths = _number(4, 80)
    white_cells = _number(0, 500, 1, help_text="10⁹ a litre.")
    infection_judged = Choice(InfectionJudged.choices, required=False, allow_blank=True)
    judged_because = Line(max_length=200, required=False, allow_blank=True)
    pulses = Choice(Yes.choices)
    feeling_lost = Choice(Yes.choices)
    deformity = Choice(Yes.choices)
    offloading = Choice(Offloading.choices)
    dressing = Line(max_length=200, required=False, allow_blank=True)
    note = Line(max_length=400, required=False, allow_blank=True)


AssessmentCorrected = corrected(
    AssessmentSent,
    "AssessmentCorrected",
    "How it really was found, and why it is changed; what is left out stays as it was said.",
    because=Line(max_length=200),
)

LISTS_OF_CODES = ("tissue", "local_signs", "deep_signs", "explained_by")


@extend_schema_serializer(component_name="Grade")
class GradeAnswer(serializers.Serializer):
    """One grade as it was computed at an assessment."""

    measure = serializers.CharField()
    value = serializers.FloatField(allow_null=True, help_text="Null where it cannot be stated.")
    criteria = serializers.CharField()
    criteria_version = serializers.CharField()


@extend_schema_serializer(component_name="Assessment")
class AssessmentAnswer(serializers.Serializer):
    """An assessment that stands, with the grades that follow."""

    assessment = serializers.IntegerField(source="pk", help_text="Its number here.")
    wound = serializers.IntegerField(source="wound_id")
    patient = serializers.IntegerField(source="patient_id")
    assessed_on = serializers.DateField()
    length_mm = serializers.IntegerField(allow_null=True)
    width_mm = serializers.IntegerField(allow_null=True)
    area_mm2 = serializers.IntegerField(allow_null=True)
    area_how = serializers.ChoiceField(AreaHow.choices, allow_blank=True)
    depth = serializers.ChoiceField(Depth.choices)
    extensive = serializers.ChoiceField(Yes.choices)
    gangrene = serializers.ChoiceField(Gangrene.choices)
    tissue = Codes(Tissue.choices)
    infection_looked = serializers.ChoiceField(InfectionLooked.choices)
    local_signs = Codes(LocalSign.choices)
    redness_mm = serializers.IntegerField(allow_null=True)
    deep_signs = Codes(DeepSign.choices)
    bone_infection = serializers.ChoiceField(Yes.choices)
    explained_by = Codes(ExplainedBy.choices)
    celsius = serializers.FloatField(allow_null=True)
    heart_rate = serializers.IntegerField(allow_null=True)
    breaths = serializers.IntegerField(allow_null=True)
    white_cells = serializers.FloatField(allow_null=True)
    infection_judged = serializers.ChoiceField(InfectionJudged.choices, allow_blank=True)
    judged_because = serializers.CharField(allow_blank=True)
    pulses = serializers.ChoiceField(Yes.choices)
    feeling_lost = serializers.ChoiceField(Yes.choices)
    deformity = serializers.ChoiceField(Yes.choices)
    offloading = serializers.ChoiceField(Offloading.choices)
    dressing = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)
    grades = GradeAnswer(many=True)
    replaces = serializers.IntegerField(source="replaces_id", allow_null=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")


# ---- photographs


class PhotographsAsked(PagedByDay):
    """Of one wound, by the day it was taken."""


class PhotographSent(Strict):
    """A photograph of a wound, as a form with a file."""

    taken_on = Day()
    photograph = serializers.FileField(
        max_length=255,
        help_text="A JPEG, PNG or WebP. It is drawn anew: place, device and all else beside the picture go.",
    )


@extend_schema_serializer(component_name="Photograph")
class PhotographAnswer(serializers.Serializer):
    """A photograph that is kept with a wound. The picture itself is downloaded at its own address."""

    photograph = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="wound.episode.patient_id")
    wound = serializers.IntegerField(source="wound_id")
    taken_on = serializers.DateField()
    width = serializers.IntegerField(help_text="In picture points.")
    height = serializers.IntegerField()
    size = serializers.IntegerField(help_text="In bytes.")
    sha256 = serializers.CharField()
    withdrawn_because = serializers.CharField(allow_blank=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")
