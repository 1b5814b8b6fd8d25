"""The rules of the audit as they stand, the year that runs, and who sees exact figures."""

from datetime import date

from access import clock
from access.models import Clinic
from access.people import Person
from access.permissions import allowed
from reports.audit.calendar import Period, year_of
from reports.audit.definitions import FIRST_TWELVE, Measure, measures
from reports.audit.models import Choice, Holiday, Rules


def rules_now() -> Rules:
    """The newest rules, or those the house begins with."""
    return Rules.objects.order_by("-pk").first() or Rules()


def year_now(by: Person, starts_in: int | None = None) -> Period:
    """The audit year of today on the clinic's calendar; ``starts_in`` where the rules were read before."""
    return year_of(today_of(by), starts_in or rules_now().year_starts_in)


def today_of(by: Person) -> date:
    now = clock.now()
    return now.astimezone(by.clinic.zone).date() if by.clinic else now.date()


def sees_exact(by: Person) -> bool:
    """Whether exact figures of the clinic acted in are shown: to those who care for its patients.

    The rules of small numbers bind exports, and people without a care role (workflow.md 5.2).
    """
    return allowed(by, "see exam")


def chosen_measures(clinic: Clinic | None) -> tuple[Measure, ...]:
    """Which measures the clinic sees first; those that are no longer counted are left out."""
    newest = Choice.objects.filter(clinic=clinic).order_by("-pk").first()
    wanted = newest.measures if newest else FIRST_TWELVE
    known = measures()
    return tuple(known[name] for name in wanted if name in known and known[name].is_counted)


def holidays_of(clinic: Clinic) -> list[Holiday]:
    return list(Holiday.objects.filter(clinic=clinic))
