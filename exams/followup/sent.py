"""What a program sends and is answered of referrals, field by field."""

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Day, Line, Lines, Number, PagedOfPatient, Strict
from exams.followup.course import State, Urgency
from exams.patients.models import Side


class ReferralsAsked(PagedOfPatient):
    state = Choice(State.choices, required=False)


class ReferralSent(Strict):
    """Somebody sent to the surgeon's side."""

    sent_to = Line(max_length=160, help_text="The team, and the person if known.")
    urgency = Choice(Urgency.choices)
    reasons = Lines(max_length=4000)
    side = Choice(Side.choices, required=False, allow_blank=True, help_text="Empty: both, or the person.")
    exam = Number(required=False, allow_null=True, help_text="The exam whose findings it rests on.")


class ReferralStepSent(Strict):
    """One step of a referral."""

    after = Choice(State.choices, help_text="The state it leads to; those that may follow are answered.")
    words = Lines(max_length=2000, required=False, allow_blank=True)
    day = Day(required=False, allow_null=True, help_text="To be seen, or on which it happened.")
    said_by = Line(max_length=160, required=False, allow_blank=True, help_text="Who told it, if not you.")
    urgency = Choice(Urgency.choices, required=False, allow_blank=True, help_text="Where it changes.")


@extend_schema_serializer(component_name="Referral")
class ReferralAnswer(serializers.Serializer):
    """A referral as it stands."""

    referral = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    exam = serializers.IntegerField(source="exam_id", allow_null=True)
    side = serializers.ChoiceField(Side.choices, allow_blank=True)
    sent_to = serializers.CharField()
    reasons = serializers.CharField()
    state = serializers.ChoiceField(State.choices)
    urgency = serializers.ChoiceField(Urgency.choices)
    made_at = serializers.DateTimeField()
    made_by = serializers.CharField(source="made_by.full_name")


@extend_schema_serializer(component_name="ReferralStep")
class StepAnswer(serializers.Serializer):
    """One step, by whom and in what words."""

    step = serializers.IntegerField(source="pk")
    state = serializers.ChoiceField(State.choices)
    urgency = serializers.ChoiceField(Urgency.choices)
    words = serializers.CharField(allow_blank=True)
    day = serializers.DateField(allow_null=True)
    said_by = serializers.CharField(allow_blank=True)
    at = serializers.DateTimeField()
    by = serializers.CharField(source="by.full_name")
    takes_back = serializers.IntegerField(
        source="takes_back_id", allow_null=True, help_text="The step that was a slip, where this undoes one."
    )


@extend_schema_serializer(component_name="ReferralWhole")
class WholeReferralAnswer(ReferralAnswer):
    """The same, with its steps and those that may follow."""

    steps = StepAnswer(many=True)
    may_follow = serializers.ListField(child=serializers.ChoiceField(State.choices))
