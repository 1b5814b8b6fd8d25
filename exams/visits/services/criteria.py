"""Adopting diagnostic criteria for a clinic."""

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import InputError, load_criteria
from exams.visits.models import AdoptedCriteria
from exams.visits.queries.criteria import adopted_by


@one_act()
def adopt_criteria(*, name: str, version: str, by: Person) -> AdoptedCriteria:
    """From now on the clinic of `by` reads its exams by these criteria; measured exams keep theirs."""
    require(by, "adopt criteria")
    if by.clinic is None:
        raise ValidationError({"criteria": "Choose the clinic first: criteria are adopted by a clinic."})
    try:
        criteria = load_criteria(name, version)
    except InputError:
        raise ValidationError(
            {"criteria": "Choose one of the criteria of the list. Nothing was changed."}
        ) from None
    before = adopted_by(by.clinic)
    if (before.name, before.version) == (criteria.name, criteria.version):
        raise ValidationError({"criteria": f"The clinic uses {criteria.label} already. Nothing was changed."})
    adopted = AdoptedCriteria.objects.create(
        clinic=by.clinic,
        name=criteria.name,
        version=criteria.version,
        content_hash=criteria.content_hash,
        adopted_at=clock.now(),
        adopted_by=by.user,
    )
    record(by, "criteria adopted", adopted, details={"old": before.label, "new": criteria.label})
    return adopted
