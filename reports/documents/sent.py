"""What a program sends and is answered of reports, field by field."""

from typing import Any

from drf_spectacular.utils import extend_schema_field, extend_schema_serializer
from rest_framework import serializers

from access.taken import Lines, Number, PagedOfPatient, Strict
from reports.documents.forms import LONGEST
from reports.documents.models import Status

# A report's state: that of the job that makes its file, and then "ready".
STATES = [
    ("waiting", "waiting"),
    ("running", "being made"),
    ("ready", "ready"),
    ("failed", "could not be made"),
]


class ReportsAsked(PagedOfPatient):
    exam = Number(required=False)


class ReportSent(Strict):
    """A report to be made: its conclusion, and which findings that is about."""

    conclusion = Lines(max_length=LONGEST, help_text="RIGHT then LEFT. The findings come with a draft of it.")
    findings_etag = serializers.CharField(
        max_length=40,
        help_text="The ETag of the findings the conclusion is about. If they changed since, the report is "
        "refused (412).",
    )
    remarks_read = serializers.BooleanField(
        required=False,
        help_text="A person has read the remarks with which it was refused (422), and wants it all the same.",
    )


@extend_schema_serializer(component_name="Report")
class ReportAnswer(serializers.Serializer):
    """A report of an exam. None is ever altered: a new one stands beside the earlier."""

    report = serializers.IntegerField(source="pk", help_text="Its number here.")
    exam = serializers.IntegerField(source="exam_id")
    patient = serializers.IntegerField(source="exam.patient_id")
    number = serializers.IntegerField(help_text="1 for the first report of its exam, 2 for the next.")
    status = serializers.ChoiceField(Status.choices)
    state = serializers.SerializerMethodField(help_text="Of its file; “ready” can be downloaded.")
    problem = serializers.SerializerMethodField(help_text="Why the file could not be made.")
    conclusion = serializers.CharField()
    created_at = serializers.DateTimeField()
    created_by = serializers.CharField(source="created_by.full_name")
    pages = serializers.IntegerField(allow_null=True)
    pdf_sha256 = serializers.CharField(allow_blank=True)
    replaced_by = serializers.SerializerMethodField(help_text="The report made after it, if any.")

    @extend_schema_field(serializers.ChoiceField(STATES))
    def get_state(self, document: Any) -> str:
        if document.is_ready:
            return "ready"
        state = document.job.state if document.job else "waiting"
        return "running" if state == "done" else str(state)

    def get_problem(self, document: Any) -> str:
        return str(document.job.reason) if document.job else ""

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_replaced_by(self, document: Any) -> int | None:
        later = getattr(document, "superseded_by", None)
        return later.pk if later else None
