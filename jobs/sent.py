"""What a program asks and is answered of jobs, field by field."""

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Paged
from jobs.models import JobState


class JobsAsked(Paged):
    state = Choice(JobState.choices, required=False)


@extend_schema_serializer(component_name="Job")
class JobAnswer(serializers.Serializer):
    """A piece of work in the background, and how far it is."""

    job = serializers.IntegerField(source="pk", help_text="Its number here.")
    kind = serializers.CharField()
    state = serializers.ChoiceField(JobState.choices)
    percent = serializers.IntegerField()
    words = serializers.CharField(allow_blank=True, help_text="What is being done.")
    reason = serializers.CharField(allow_blank=True, help_text="Why it failed.")
    asked_by = serializers.CharField(source="user.full_name")
    asked_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)
