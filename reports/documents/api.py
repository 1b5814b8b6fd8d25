"""Reports for programs: listed, made, watched while they are made, downloaded."""

from typing import Any

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api, etag_of
from access.described import creates, errors, lists, looks
from access.paging import Asked
from access.refusals import Conflict, Overtaken
from exams.visits.queries.exams import exam_for
from exams.visits.queries.listed import findings_of
from exams.visits.sent import findings_said
from exams.visits.services.acts import held
from reports.documents import queries, services
from reports.documents.forms import ConclusionForm
from reports.documents.listed import documents_listed
from reports.documents.sent import ReportAnswer, ReportsAsked, ReportSent


def report_said(document: Any) -> dict[str, Any]:
    return dict(ReportAnswer(document).data)


class Reports(Api):
    @lists("list_reports", "reports", "Reports by patient, exam and day", ReportAnswer, ReportsAsked)
    def get(self, request: Request) -> Response:
        asked = self.asked(ReportsAsked)
        part = documents_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of reports read by a program", asked=asked, part=part)
        return self.answer_part(part, report_said)


class ExamReports(Api):
    @creates(
        "make_report",
        "reports",
        "Make a report of an exam",
        ReportSent,
        ReportAnswer,
        "The exam must be measured. The file is made in the background: read the report again until its "
        "state is “ready”. It is preliminary: no clinician has signed it.",
        s404="No such exam in this clinic.",
        s412="The findings changed since they were read.",
    )
    def post(self, request: Request, exam_id: int) -> Response:
        exam_for(self.person, exam_id)
        self.idempotency_key()
        said = self.taken(ReportSent)
        document, new = self.made_once(
            lambda: self._made(exam_id, **said),
            lambda number: queries.document_for(self.person, number),
        )
        shown = queries.document_for(self.person, document.pk)
        return self.answer(report_said(shown), 201 if new else 200)

    def _made(self, exam_id: int, conclusion: str, findings_etag: str, remarks_read: bool = False) -> Any:
        held(exam_for(self.person, exam_id))
        if findings_etag != etag_of(findings_said(findings_of(self.person, exam_id))):
            raise Overtaken(
                "findings_changed",
                "These are not the findings that stand: a reading or a fact of a limb was changed since.",
                "Read the findings again, have the conclusion checked, and send it with the new ETag.",
                field="findings_etag",
            )
        draft = queries.draft_for(self.person, exam_id)
        typed = {"conclusion": conclusion, "remarks_read": "yes" if remarks_read else ""}
        form = ConclusionForm(typed, interpretation=draft.interpretation)
        if not form.is_valid():
            refused = {"remarks_read": [*form.remarks, *form.errors["remarks_read"]]} if form.remarks else {}
            raise ValidationError({**form.errors.as_data(), **refused})
        return services.make_report(
            exam=draft.exam,
            conclusion=form.cleaned_data["conclusion"],
            drafted=draft.drafted,
            seen=draft.seen,
            after=draft.newest_number,
            by=self.person,
        )


class Report(Api):
    @looks("read_report", "reports", "Read a report and how far its file is", ReportAnswer)
    def get(self, request: Request, document_id: int) -> Response:
        document = queries.document_for(self.person, document_id)
        self.note("report read by a program", patient=document.exam.patient_id, subject=document)
        return self.answer(report_said(document))


class ReportPdf(Api):
    @extend_schema(
        operation_id="download_report",
        tags=["reports"],
        summary="Download a report as PDF",
        description="The file that was made, checked against its checksum.",
        responses={
            (200, "application/pdf"): OpenApiResponse(OpenApiTypes.BINARY, description="The PDF."),
            **errors(s404="No such report in this clinic.", s409="It is not made yet, or was damaged."),
        },
    )
    def get(self, request: Request, document_id: int) -> HttpResponse:
        document = queries.document_for(self.person, document_id)
        try:
            data = services.open_pdf(document=document, by=self.person)
        except ValidationError as refused:
            raise Conflict(
                "no_file",
                " ".join(refused.messages),
                "Read the report until its state is “ready”, then ask for the file again.",
            ) from None
        answer = HttpResponse(data, content_type="application/pdf")
        name = f"exam-{document.exam_id}-report-{document.number}.pdf"
        answer["Content-Disposition"] = f'attachment; filename="{name}"'
        return answer
