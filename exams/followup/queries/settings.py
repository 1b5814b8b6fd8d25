"""How long what may wait in a clinic: the published figure, or the clinic's own in its place."""

from dataclasses import dataclass
from datetime import datetime

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from exams.followup.models import TargetChange
from exams.followup.targets import PUBLISHED, Published


@dataclass(frozen=True)
class Target:
    """One figure as it stands; ``changed`` fields are empty where the published one does."""

    published: Published
    days: int | None
    because: str = ""
    set_by: str = ""
    set_at: datetime | None = None

    @property
    def key(self) -> str:
        return self.published.key

    @property
    def words(self) -> str:
        return self.published.words(self.days)

    @property
    def published_words(self) -> str:
        return self.published.words(self.published.days)


def targets_of(clinic: Clinic) -> dict[str, Target]:
    """Every target by its key, in the order of the published list. One query."""
    newest: dict[str, TargetChange] = {}
    for row in TargetChange.objects.filter(clinic=clinic).select_related("set_by").order_by("pk"):
        newest[row.key] = row
    found = {}
    for key, published in PUBLISHED.items():
        own = newest.get(key)
        found[key] = (
            Target(published, own.days, own.because, own.set_by.full_name, own.set_at)
            if own
            else Target(published, published.days)
        )
    return found


def targets_for(person: Person) -> tuple[Target, ...]:
    """The same for the page where they are set."""
    require(person, "manage clinic")
    return tuple(targets_of(_clinic(person)).values())


def days_of(clinic: Clinic, key: str) -> int | None:
    """One figure. One query."""
    own = TargetChange.objects.filter(clinic=clinic, key=key).order_by("-pk").first()
    return own.days if own else PUBLISHED[key].days


def changes_for(person: Person) -> tuple[TargetChange, ...]:
    """The newest changes, the last first. One query."""
    require(person, "manage clinic")
    clinic = _clinic(person)
    return tuple(TargetChange.objects.filter(clinic=clinic).select_related("set_by").order_by("-pk")[:100])


def _clinic(person: Person) -> Clinic:
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    return person.clinic
