"""Example objects of the documents room for the walk through every page."""

from reports.documents import queries, services
from tests.build import whole_exam


def examples(cast):
    exam = whole_exam(cast.measurer)
    draft = queries.draft_for(cast.measurer, exam.pk)
    document = services.make_report(
        exam=exam, conclusion=draft.drafted, drafted=draft.drafted, seen=draft.seen, by=cast.measurer
    )
    about_the_report = {"document_id": document.pk}
    about_the_exam = {"exam_id": exam.pk}
    return {
        "documents:exam": about_the_exam,
        "documents:make": about_the_exam,
        "documents:document": about_the_report,
        "documents:pdf": about_the_report,
        "documents_api:report": about_the_report,
        "documents_api:pdf": about_the_report,
        "documents_api:exam_reports": about_the_exam,
    }
