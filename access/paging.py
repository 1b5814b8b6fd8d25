"""Long lists a part at a time, in the order of their rows' numbers; and days as filters."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Generic, TypeVar

from django.db import models
from django.db.models import Q, QuerySet

from access.models import Clinic

USUAL, MOST = 50, 100

Row = TypeVar("Row", bound=models.Model)


@dataclass(frozen=True)
class Asked:
    """Which part of a list is wanted: at most ``limit`` rows with numbers above ``after``."""

    after: int = 0
    limit: int = USUAL


@dataclass(frozen=True)
class Part(Generic[Row]):
    """Some rows, the lowest number first; ``next_after`` is where the next part starts, None at the end."""

    rows: list[Row]
    next_after: int | None

    @property
    def numbers(self) -> list[int]:
        return [row.pk for row in self.rows]


def part_of(
    rows: QuerySet[Row], asked: Asked, *, filled: Callable[[QuerySet[Row]], Any] = lambda r: r
) -> Part[Row]:
    """The part of ``rows`` that is asked for. New rows come last, so a program that goes on from the highest
    number it knows misses none. ``filled`` adds what is needed of related rows."""
    wanted = rows.filter(pk__gt=asked.after).order_by("pk")
    found = list(filled(wanted)[: asked.limit + 1])
    shown = found[: asked.limit]
    return Part(shown, shown[-1].pk if len(found) > asked.limit else None)


def within_days(name: str, clinic: Clinic, since: date | None, until: date | None) -> Q:
    """Whether the moment in column ``name`` lies on one of the clinic's days from since to until, both
    included."""
    wanted = Q()
    if since is not None:
        wanted &= Q(**{f"{name}__gte": _midnight(clinic, since)})
    if until is not None:
        wanted &= Q(**{f"{name}__lt": _midnight(clinic, until + timedelta(days=1))})
    return wanted


def within_dates(name: str, since: date | None, until: date | None) -> Q:
    """The same of a column that holds days."""
    wanted = Q()
    if since is not None:
        wanted &= Q(**{f"{name}__gte": since})
    if until is not None:
        wanted &= Q(**{f"{name}__lte": until})
    return wanted


def _midnight(clinic: Clinic, day: date) -> datetime:
    return datetime.combine(day, time.min, clinic.zone)
