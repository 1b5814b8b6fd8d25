"""What programs read of wounds: lists by filter, a part at a time, and one held while it is changed."""

from datetime import date

from access.paging import Asked, Part, part_of, within_dates
from access.people import Person
from access.permissions import require
from exams.wounds.models import Assessment, Photograph, Wound, WoundEntry
from exams.wounds.queries.rows import entry_for, photograph_for


def wounds_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    side: str = "",
    status: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[WoundEntry]:
    """What stands of the clinic's wounds, those that began from since to until; none withdrawn. One query.

    Numbered by their entries: a wound comes again once something else is said of it.
    """
    require(person, "see wounds")
    rows = WoundEntry.objects.filter(
        within_dates("began_on", since, until),
        wound__episode__clinic=person.clinic,
        wound__episode__patient__merged_into=None,
        wound__withdrawn_at=None,
        replaced_by=None,
    )
    if patient is not None:
        rows = rows.filter(wound__episode__patient_id=patient)
    for name, words in (("side", side), ("status", status)):
        if words:
            rows = rows.filter(**{name: words})
    return part_of(rows, asked, filled=lambda found: found.select_related("wound__episode", "entered_by"))


def assessments_listed(
    person: Person, entry: WoundEntry, asked: Asked, *, since: date | None = None, until: date | None = None
) -> Part[Assessment]:
    """What stands of a wound's assessments, of days from since to until. Two queries."""
    require(person, "see wounds", entry.patient)
    rows = Assessment.objects.filter(
        within_dates("assessed_on", since, until), wound=entry.wound_id, replaced_by=None, withdrawn_at=None
    )
    return part_of(
        rows,
        asked,
        filled=lambda found: found.select_related("wound__episode", "entered_by").prefetch_related("grades"),
    )


def photographs_listed(
    person: Person, entry: WoundEntry, asked: Asked, *, since: date | None = None, until: date | None = None
) -> Part[Photograph]:
    """A wound's photographs that were not withdrawn, taken from since to until. One query."""
    require(person, "see wounds", entry.patient)
    rows = Photograph.objects.filter(
        within_dates("taken_on", since, until), wound=entry.wound_id, withdrawn_at=None
    )
    return part_of(rows, asked, filled=lambda found: found.select_related("wound__episode", "entered_by"))


def held_photograph(person: Person, patient_id: int, photograph_id: int) -> Photograph:
    """The same as `photograph_for`, held until the act is over."""
    photograph = photograph_for(person, patient_id, photograph_id)
    Photograph.objects.select_for_update(of=("self",)).get(pk=photograph.pk)
    return photograph_for(person, patient_id, photograph_id)


def held_entry(person: Person, patient_id: int, wound_id: int) -> WoundEntry:
    """The same as `entry_for`, its wound held until the act is over."""
    entry = entry_for(person, patient_id, wound_id)
    Wound.objects.select_for_update().get(pk=entry.wound_id)
    return entry_for(person, patient_id, wound_id)
