"""Tells the wounds of a story through the services, and what was found of each on which day."""

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

from access import clock
from access.people import Person
from exams.patients.models import Patient
from exams.wounds import services
from exams.wounds.models import Wound
from vaslab.demo.story import Looked, WoundTold

# A story says what differs from a clean wound of the sole in somebody without feeling there.
_CLEAN = {
    "extensive": "no",
    "gangrene": "none",
    "bone_infection": "no",
    "feeling_lost": "yes",
    "deformity": "no",
    "offloading": "removable",
}


def wound_events(
    told: WoundTold, patient: Callable[[], Patient], by: Person
) -> Iterator[tuple[int, int, Callable[[], None]]]:
    """Weeks ago, hour of the day, and what is told then; ``patient`` is known when it is told."""
    kept: dict[str, Wound] = {}

    def begins() -> None:
        kept["wound"] = services.record_wound(
            patient=patient(),
            side=told.side,
            place=told.place,
            cause=told.cause,
            began_on=clock.now().date(),
            note=told.note,
            by=by,
        )

    def looked(found: Looked) -> None:
        length, width = found.size.split("x")
        said: dict[str, Any] = {
            **_CLEAN,
            "length_mm": int(length),
            "width_mm": int(width),
            "depth": found.depth,
            "tissue": found.tissue,
            "infection_looked": "signs" if found.signs else "none",
            "local_signs": found.signs,
            "redness_mm": found.redness_mm if found.signs else None,
            "dressing": found.dressing,
            **dict(found.more),
        }
        services.assess_wound(wound=kept["wound"], assessed_on=clock.now().date(), by=by, **said)

    def closes() -> None:
        services.close_wound(wound=kept["wound"], status=told.how, closed_on=clock.now().date(), by=by)

    yield told.weeks, 8, begins
    for found in told.looked:
        # After the pressures of the same day, which its grades rest on.
        yield found.weeks, 16, partial(looked, found)
    if told.until is not None:
        yield told.until, 7, closes
