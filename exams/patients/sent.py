"""What a program sends and is answered of patients and of facts of their limbs, field by field."""

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Codes, Day, Line, Lines, Paged, PagedByDay, Strict, corrected
from exams.patients.events import APPROACHES, DEVICES, GRADES, LEVELS, PRECISIONS, VESSELS, FactKind
from exams.patients.models import Answer, CautionKind, Region, Sex, Side, Tobacco

# ---- patients


class PatientsAsked(Paged):
    q = Line(required=False, max_length=120, help_text="Words of names or identifiers, in any order.")
    identifier = Line(required=False, max_length=60, help_text="Spaces, hyphens and case do not matter.")
    issuer = Line(required=False, max_length=80)
    born = Day(required=False)


class IdentifiersAsked(Paged):
    """Of one patient."""


class IdentifierSent(Strict):
    """A number given to a person."""

    issuer = Line(max_length=80, help_text="Who gave it, such as a hospital; spelt alike each time.")
    value = Line(max_length=60, help_text="As it is printed.")


class PatientSent(Strict):
    """A person. What is not known is "unknown", never left to be guessed."""

    family_name = Line(max_length=80)
    given_name = Line(max_length=80)
    birth_date = Day()
    sex = Choice(Sex.choices)
    telephone = Line(max_length=40, required=False, allow_blank=True)
    address = Lines(max_length=400, required=False, allow_blank=True)
    referrer = Line(max_length=160, required=False, allow_blank=True)
    diabetes = Choice(Answer.choices, required=False)
    kidney_disease = Choice(Answer.choices, required=False)
    neuropathy = Choice(Answer.choices, required=False)
    tobacco = Choice(Tobacco.choices, required=False)


class NewPatientSent(PatientSent):
    """A person who has no record here yet. What is left out is "unknown", or empty."""

    identifiers = IdentifierSent(many=True, required=False)
    duplicate_reason = Line(
        max_length=200,
        required=False,
        allow_blank=True,
        help_text="Why this is another person than one who looks like it; wanted only where one does.",
    )

    def validate_identifiers(self, said: list[dict[str, str]]) -> list[tuple[str, str]]:
        if len(said) > 10:
            raise serializers.ValidationError("At most 10 identifiers.", code="too_many")
        return [(one["issuer"], one["value"]) for one in said]


PatientChanged = corrected(
    PatientSent,
    "PatientChanged",
    "What is to be changed of a person; what is left out stays.",
    died_on=Day(required=False, allow_null=True),
)


@extend_schema_serializer(component_name="Identifier")
class IdentifierAnswer(serializers.Serializer):
    """A number given to a person, in use."""

    identifier = serializers.IntegerField(source="pk", help_text="Its number here.")
    issuer = serializers.CharField()
    value = serializers.CharField()


@extend_schema_serializer(component_name="IdentifierWhole")
class WholeIdentifierAnswer(IdentifierAnswer):
    """The same, also of one that was withdrawn."""

    patient = serializers.IntegerField(source="patient_id")
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    withdrawn_because = serializers.CharField(allow_blank=True)


class PatientAnswer(serializers.Serializer):
    """A person as the record has them."""

    patient = serializers.IntegerField(source="pk", help_text="The record's number here.")
    family_name = serializers.CharField()
    given_name = serializers.CharField()
    birth_date = serializers.DateField()
    sex = serializers.ChoiceField(Sex.choices)
    telephone = serializers.CharField(allow_blank=True)
    address = serializers.CharField(allow_blank=True)
    referrer = serializers.CharField(allow_blank=True)
    died_on = serializers.DateField(allow_null=True)
    diabetes = serializers.ChoiceField(Answer.choices)
    kidney_disease = serializers.ChoiceField(Answer.choices)
    neuropathy = serializers.ChoiceField(Answer.choices)
    tobacco = serializers.ChoiceField(Tobacco.choices)
    identifiers = IdentifierAnswer(source="identifiers_in_use", many=True)


# ---- facts of limbs


class FactsAsked(PagedByDay):
    side = Choice(Side.choices, required=False)
    kind = Choice(FactKind.choices, required=False)


class FactSent(Strict):
    """A dated fact of a limb, or an event in its life. A dialysis and an irregular heartbeat have no side."""

    side = Choice(Side.choices, required=False, allow_blank=True)
    kind = Choice(FactKind.choices)
    started_on = Day(help_text="Of a month or year, its first day.")
    started_precision = Choice(PRECISIONS, required=False)
    level = Choice(LEVELS, required=False, allow_blank=True, help_text="Of an amputation.")
    toe = serializers.IntegerField(min_value=1, max_value=5, required=False, allow_null=True)
    approach = Choice(APPROACHES, required=False, allow_blank=True, help_text="Of a revascularisation.")
    vessels = Codes(VESSELS, required=False)
    device = Choice(DEVICES, required=False, allow_blank=True)
    grade = Choice(GRADES, required=False, allow_blank=True, help_text="Of a foot infection.")
    osteomyelitis = serializers.BooleanField(required=False)
    note = Line(max_length=200, required=False, allow_blank=True)
    source = Line(max_length=120, help_text="Who says so.")  # type: ignore[assignment]


FactCorrected = corrected(
    FactSent,
    "FactCorrected",
    "How it really was, and why it is changed; what is left out stays as it was said.",
    ended_on=Day(required=False, allow_null=True),
    because=Line(max_length=200),
)


class FactEnded(Strict):
    """From which day on it no longer held."""

    ended_on = Day()
    because = Line(max_length=200)


class Because(Strict):
    """Why."""

    because = Line(max_length=200)


@extend_schema_serializer(component_name="LimbFact")
class FactAnswer(serializers.Serializer):
    """A fact as it stands."""

    fact = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    side = serializers.ChoiceField(Side.choices, allow_blank=True, help_text="Empty: the whole person.")
    kind = serializers.ChoiceField(FactKind.choices)
    words = serializers.CharField(help_text="The fact in words, without its side.")
    started_on = serializers.DateField()
    started_precision = serializers.ChoiceField(PRECISIONS)
    level = serializers.CharField(allow_blank=True)
    toe = serializers.IntegerField(allow_null=True)
    approach = serializers.CharField(allow_blank=True)
    vessels = Codes(VESSELS)
    device = serializers.CharField(allow_blank=True)
    grade = serializers.CharField(allow_blank=True)
    osteomyelitis = serializers.BooleanField()
    ended_on = serializers.DateField(allow_null=True)
    ended_reason = serializers.CharField(allow_blank=True)
    note = serializers.CharField(allow_blank=True)
    source = serializers.CharField()  # type: ignore[assignment]
    replaces = serializers.IntegerField(source="replaces_id", allow_null=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")


# ---- cautions


class CautionsAsked(Paged):
    side = Choice(Side.choices, required=False)
    in_force = serializers.BooleanField(
        default=False, help_text="Only those that stand today; otherwise also those that were ended."
    )


class CautionSent(Strict):
    """A reason not to inflate a cuff, or to take care. Isolation is of the whole person, without side."""

    side = Choice(Side.choices, required=False, allow_blank=True)
    region = Choice(Region.choices)
    kind = Choice(CautionKind.choices)
    do_not_inflate = serializers.BooleanField(help_text="No cuff there; otherwise: with care.")
    note = Line(max_length=200, required=False, allow_blank=True, help_text="Wanted of kind other.")
    source = Line(max_length=120, help_text="Who says so.")  # type: ignore[assignment]
    started_on = Day(required=False, allow_null=True)
    review_on = Day(required=False, allow_null=True, help_text="When to ask again; null: it will not change.")


@extend_schema_serializer(component_name="Caution")
class CautionAnswer(serializers.Serializer):
    """A caution as it stands, or stood."""

    caution = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    side = serializers.ChoiceField(Side.choices, allow_blank=True, help_text="Empty: the whole person.")
    region = serializers.ChoiceField(Region.choices)
    kind = serializers.ChoiceField(CautionKind.choices)
    do_not_inflate = serializers.BooleanField()
    words = serializers.CharField(help_text="The whole caution in one line.")
    note = serializers.CharField(allow_blank=True)
    source = serializers.CharField()  # type: ignore[assignment]
    started_on = serializers.DateField(allow_null=True)
    review_on = serializers.DateField(allow_null=True)
    confirmed_at = serializers.DateTimeField(allow_null=True, help_text="When it was last said to stand.")
    ended_on = serializers.DateField(allow_null=True)
    ended_reason = serializers.CharField(allow_blank=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")
