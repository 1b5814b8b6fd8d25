"""What a clinic and the service decide: which measures come first, holidays, the rules."""

from collections.abc import Sequence
from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from reports.audit.definitions import measures
from reports.audit.models import Choice, Holiday, Rules


@one_act()
def choose_measures(*, chosen: Sequence[str], by: Person) -> Choice:
    """Which measures the clinic sees first, in this order."""
    require(by, "choose measures")
    counted = {one.id for one in measures().values() if one.is_counted}
    if not chosen or not set(chosen) <= counted:
        raise ValidationError("Choose at least one measure of the list.")
    choice = Choice(clinic=by.clinic, measures=list(chosen), chosen_at=clock.now(), chosen_by=by.user)
    choice.full_clean()
    choice.save()
    record(by, "audit measures chosen", choice, details={"measures": list(chosen)})
    return choice


@one_act()
def add_holiday(*, day: date, words: str, by: Person) -> Holiday:
    """A day on which the clinic does not work."""
    require(by, "choose measures")
    holiday = Holiday(clinic=by.clinic, day=day, words=words, added_at=clock.now(), added_by=by.user)
    holiday.full_clean()
    holiday.save()
    record(by, "holiday added", holiday, details={"day": day})
    return holiday


@one_act()
def set_rules(
    *,
    year_starts_in: int,
    threshold: int,
    base: int,
    least_alike: int,
    because: str,
    by: Person,
) -> Rules:
    """New rules of the service; figures follow them from the next count on."""
    require(by, "set audit rules")
    rules = Rules(
        year_starts_in=year_starts_in,
        threshold=threshold,
        base=base,
        least_alike=least_alike,
        because=because,
        set_at=clock.now(),
        set_by=by.user,
    )
    rules.full_clean()
    rules.save()
    record(by, "audit rules set", rules, details={"threshold": threshold, "base": base})
    return rules
