"""Single rows of this room, for whom may have them: counts, printed quarters, files."""

from collections.abc import Sequence

from access import clock
from access.people import Person
from access.permissions import NotHere, allowed, require
from reports.audit.models import Count, Export, QuarterReport

SHOWN = 50


def count_to_fill(by: Person, number: int) -> Count:
    require(by, "see audit")
    found = Count.objects.filter(pk=number).first()
    if found is None:
        raise NotHere("no such count")
    return found


def report_for(by: Person, number: int) -> QuarterReport:
    """A printed quarter of the clinic acted in; one with exact figures only for who may see them."""
    require(by, "see audit")
    found = reports_of(by, number=number)
    if not found:
        raise NotHere("no such report in this clinic")
    return found[0]


def reports_of(by: Person, number: int | None = None) -> Sequence[QuarterReport]:
    require(by, "see audit")
    found = QuarterReport.objects.filter(clinic=by.clinic).select_related("made_by", "job", "tally")
    if not allowed(by, "see exam"):
        found = found.filter(exact=False)
    return list((found.filter(pk=number) if number is not None else found)[:SHOWN])


def exports_of(by: Person) -> Sequence[Export]:
    """The clinic's files and requests, newest first."""
    require(by, "see audit")
    found = Export.objects.filter(clinic=by.clinic).select_related("asked_by", "decided_by", "job")
    return list(found[:SHOWN])


def export_for(by: Person, number: int) -> Export:
    require(by, "see audit")
    found = (
        Export.objects.filter(clinic=by.clinic, pk=number)
        .select_related("asked_by", "decided_by", "job", "tally", "clinic")
        .first()
    )
    if found is None:
        raise NotHere("no such export in this clinic")
    return found


def state_of(export: Export) -> str:
    """Where a file or request stands, in words."""
    if export.cancelled_at:
        return "cancelled"
    if export.downloaded_at and export.has_rows:
        return "taken"
    if export.expires_at <= clock.now():
        return "its time is over"
    if export.has_rows and export.approved is None:
        return "waits for a second person"
    if export.approved is False:
        return "refused"
    return "ready" if export.is_ready else "being written"


def may_decide(by: Person, export: Export) -> bool:
    """Whether this person may decide about the request: with the right, and not who asked."""
    right = "decide on names" if export.holds == Export.Holds.NAMED else "see audit"
    return export.asked_by != by.user and allowed(by, right)


def earlier_rows(export: Export) -> int:
    """How many approved exports of rows of the same year and clinic were made before this one.

    Pseudonyms and days do not link two of them; the same pressures in both may.
    """
    if export.holds != Export.Holds.ROWS:
        return 0
    others = Export.objects.filter(
        clinic=export.clinic, holds=Export.Holds.ROWS, year_first=export.year_first, approved=True
    )
    return others.filter(pk__lt=export.pk).count()
