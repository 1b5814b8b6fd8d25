"""What programs read of reports: a list by filter, a part at a time."""

from datetime import date

from access.paging import Asked, Part, part_of, within_days
from access.people import Person
from access.permissions import NotHere, require
from reports.documents.models import Document


def documents_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    exam: int | None = None,
    since: date | None = None,
    until: date | None = None,
) -> Part[Document]:
    """The clinic's reports, those made from since to until, without their content. One query."""
    require(person, "see report")
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    made = within_days("created_at", person.clinic, since, until)
    rows = Document.objects.filter(made, clinic=person.clinic)
    for name, value in (("exam__patient_id", patient), ("exam_id", exam)):
        if value is not None:
            rows = rows.filter(**{name: value})
    return part_of(
        rows,
        asked,
        filled=lambda found: found.select_related("exam", "created_by", "job", "superseded_by").defer(
            "content", "superseded_by__content"
        ),
    )
