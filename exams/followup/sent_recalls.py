"""What a program sends and is answered of recalls and promises, field by field."""

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Day, Line, Number, PagedOfPatient, Strict
from exams.followup.course import (
    ENDS_CHOSEN,
    ContactOutcome,
    ContactWay,
    PromiseKind,
    RecallEnd,
    RecallKind,
)
from exams.followup.risk import CATEGORIES
from exams.patients.models import Side

# ---- recalls


class RecallsAsked(PagedOfPatient):
    """``since`` and ``until`` are about the last day on which the person is due."""

    kind = Choice(RecallKind.choices, required=False)
    standing = serializers.BooleanField(default=False, help_text="Only those that nobody has ended.")


class RecallSent(Strict):
    """Somebody to be seen again by the risk of their feet; how soon follows from the category."""

    category = serializers.IntegerField(
        min_value=min(CATEGORIES), max_value=max(CATEGORIES), help_text="Of the foot at higher risk."
    )
    counted_from = Day(help_text="The day on which the feet were seen.")
    because = Line(
        max_length=300, required=False, allow_blank=True, help_text="Where it is not what the record says."
    )


class ContactSent(Strict):
    """A try to reach the person."""

    tried_on = Day()
    way = Choice(ContactWay.choices)
    outcome = Choice(ContactOutcome.choices)
    words = Line(max_length=300, required=False, allow_blank=True)


class SeenSent(Strict):
    """The person came. ``category`` is of the next recall, wanted where this one is by category."""

    on = Day()
    how = Line(max_length=300, help_text="What was done.")
    category = serializers.IntegerField(
        min_value=min(CATEGORIES), max_value=max(CATEGORIES), required=False, allow_null=True
    )
    because = Line(max_length=300, required=False, allow_blank=True)


class RecallEnded(Strict):
    """How a recall ends though the person was not seen, and why."""

    how = Choice([(one.value, one.label) for one in ENDS_CHOSEN])
    because = Line(max_length=300)


@extend_schema_serializer(component_name="Recall")
class RecallAnswer(serializers.Serializer):
    """A recall as it stands, or ended."""

    recall = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    kind = serializers.ChoiceField(RecallKind.choices)
    category = serializers.IntegerField(allow_null=True, help_text="Of risk, 0 to 3; null of an event.")
    scheme = serializers.CharField(help_text="By which rule the days were counted.")
    because = serializers.CharField(allow_blank=True)
    limb_fact = serializers.IntegerField(source="fact_id", allow_null=True, help_text="The event.")
    counted_from = serializers.DateField()
    due_from = serializers.DateField()
    due_by = serializers.DateField()
    follows = serializers.IntegerField(source="follows_id", allow_null=True)
    made_at = serializers.DateTimeField()
    made_by = serializers.CharField(source="made_by.full_name")
    ended_at = serializers.DateTimeField(allow_null=True)
    ended_as = serializers.ChoiceField(RecallEnd.choices, allow_blank=True)
    ended_because = serializers.CharField(allow_blank=True)


@extend_schema_serializer(component_name="RecallContact")
class ContactAnswer(serializers.Serializer):
    """One try to reach the person, by whom."""

    contact = serializers.IntegerField(source="pk")
    tried_on = serializers.DateField()
    way = serializers.ChoiceField(ContactWay.choices)
    outcome = serializers.ChoiceField(ContactOutcome.choices)
    words = serializers.CharField(allow_blank=True)
    entered_at = serializers.DateTimeField()
    entered_by = serializers.CharField(source="entered_by.full_name")


@extend_schema_serializer(component_name="RecallWhole")
class WholeRecallAnswer(RecallAnswer):
    """The same, with every try, and the recall that came after it."""

    contacts = ContactAnswer(many=True)
    followed_by = serializers.IntegerField(allow_null=True)


# ---- promises


class PromisesAsked(PagedOfPatient):
    """``since`` and ``until`` are about the last day on which it is kept in time."""

    standing = serializers.BooleanField(default=False, help_text="Neither kept nor called off.")


class PromiseSent(Strict):
    """Something said to a person."""

    kind = Choice(PromiseKind.choices)
    words = Line(max_length=300, help_text="As the person heard it.")
    due_on = Day(help_text="The last day on which it is kept in time.")
    side = Choice(Side.choices, required=False, allow_blank=True, help_text="Empty: both, or the person.")
    exam = Number(required=False, allow_null=True, help_text="The exam at which it was said.")


class PromiseKept(Strict):
    """By what it was kept."""

    how = Line(max_length=300)


class PromiseCalledOff(Strict):
    """Why it is not done any more."""

    because = Line(max_length=300)


@extend_schema_serializer(component_name="Promise")
class PromiseAnswer(serializers.Serializer):
    """A promise as it stands, or what became of it."""

    promise = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    exam = serializers.IntegerField(source="exam_id", allow_null=True)
    kind = serializers.ChoiceField(PromiseKind.choices)
    side = serializers.ChoiceField(Side.choices, allow_blank=True)
    words = serializers.CharField()
    due_on = serializers.DateField()
    made_at = serializers.DateTimeField()
    made_by = serializers.CharField(source="made_by.full_name")
    kept_at = serializers.DateTimeField(allow_null=True)
    kept_how = serializers.CharField(allow_blank=True)
    kept_by_exam = serializers.IntegerField(source="kept_exam_id", allow_null=True)
    called_off_at = serializers.DateTimeField(allow_null=True)
    called_off_because = serializers.CharField(allow_blank=True)
