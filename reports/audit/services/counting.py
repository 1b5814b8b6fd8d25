"""Counting a year: asked for by a person, done by a job, stored whole or not at all."""

from collections.abc import Callable
from datetime import date
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction

from access import clock
from access.models import Clinic
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs import services as jobs
from reports.audit.calendar import Period, Span
from reports.audit.definitions import measures
from reports.audit.figures import families, figures_of
from reports.audit.models import Count, Figure, Holiday
from reports.audit.queries.figures import newest_count
from reports.audit.queries.rules import rules_now, year_now
from reports.audit.tally import tally

COUNT = "audit figures of a year"
# Told of a measure that is being counted: its place among all, and its id.
Tell = Callable[[float, str], None]


@one_act()
def ask_count(*, year: Period, by: Person) -> Count:
    """Ask for a year to be counted anew; one that is being counted already is not asked for twice.

    Raises
    ------
    ValidationError
        If the year has not begun.
    """
    require(by, "see audit")
    if year.first > year_now(by).first:
        raise ValidationError("That audit year has not begun. Choose this year or an earlier one.")
    open_one = Count.objects.filter(year_first=year.first, counted_at=None).select_related("job").last()
    if open_one is not None and open_one.job is not None and open_one.job.is_open:
        return open_one
    count = new_count(year, by)
    count.job = jobs.start(COUNT, by, {"count": count.pk})
    count.save(update_fields=["job"])
    record(by, "audit figures asked for", count, details={"year": year.key})
    return count


@transaction.atomic
def new_count(year: Period, by: Person) -> Count:
    """The row of a count that is still to be filled."""
    rules = rules_now()
    if by.clinic is None:
        raise ValidationError("Choose the clinic you act in first.")
    count = Count(
        year_first=year.first,
        software=settings.VERSION,
        threshold=rules.threshold,
        base=rules.base,
        asked_at=clock.now(),
        asked_by=by.user,
        clinic=by.clinic,
    )
    count.full_clean()
    count.save()
    return count


def count_year(*, count: Count, by: Person, tell: Tell = lambda part, words: None) -> Count:
    """Count every measure of every clinic and store the figures together. Run twice, it ends as if once."""
    require(by, "see audit")
    if count.counted_at is not None:
        return count
    year = Period(count.year_first, Span.YEAR)
    now = clock.now()
    clinics = list(Clinic.objects.order_by("pk"))
    holidays = {clinic: _holidays(clinic) for clinic in clinics}
    counted = [one for one in measures().values() if one.is_counted]
    figures: list[Figure] = []
    # A period is over when it is over everywhere.
    today = min(now.astimezone(clinic.zone).date() for clinic in clinics)
    before, done = newest_count(year), 0
    for family in families(counted):
        tallies = {}
        for measure in family:
            tell(done / len(counted), f"counting {measure.id}")
            done += 1
            tallies[measure] = {
                clinic: tally(measure, clinic, year, now, holidays[clinic]) for clinic in clinics
            }
        told = Figure.objects.filter(tally=before, measure__in=[one.id for one in family])
        figures += figures_of(tallies, year, today, count, list(told.select_related("clinic", "tally")))
    _keep(count, figures, now, by)
    count.refresh_from_db()
    return count


@one_act()
def _keep(count: Count, figures: list[Figure], now: Any, by: Person) -> None:
    """Store the figures, and let go of earlier counts of the year that nothing printed rests on."""
    if not Count.objects.filter(pk=count.pk, counted_at=None).update(counted_at=now):
        return  # another worker was first
    Figure.objects.bulk_create(figures, batch_size=500)
    Count.objects.filter(year_first=count.year_first, reports=None, exports=None).exclude(pk=count.pk).filter(
        counted_at__isnull=False
    ).delete()
    record(by, "audit figures counted", count, details={"count": len(figures)})


def _holidays(clinic: Clinic) -> set[date]:
    return set(Holiday.objects.filter(clinic=clinic).values_list("day", flat=True))
