"""The audit's figures of the demonstration: this audit year and the one before, as of today."""

from collections.abc import Callable

from access.models import Membership
from access.people import person_for
from access.roles import Role
from reports.audit.queries.figures import period_before
from reports.audit.queries.rules import year_now
from reports.audit.services import count_year, new_count


def count_two_years(say: Callable[[str], None]) -> None:
    """Count what the stories tell, as an administrator would ask for it."""
    held = Membership.objects.filter(role=Role.ADMINISTRATOR).select_related("user").order_by("pk")[0]
    by = person_for(held.user, held.clinic_id)
    this = year_now(by)
    for year in (period_before(this), this):
        say(f"counting the audit year {year.words}")
        count_year(count=new_count(year, by), by=by)
