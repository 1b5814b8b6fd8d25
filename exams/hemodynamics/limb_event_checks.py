"""Which events of a limb cannot be: outside a life, or a part lost twice; and the words for it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.limb_events import LEVELS, TOES, AmputationLevel, EventDate, EventKind, LimbEvent

# What a refusal says at the field; {value} and {limit} are those of the error.
REFUSAL_WORDS = {
    "event.side_missing": "Say which side.",
    "event.side_unexpected": "This has no side: leave it empty.",
    "event.level_missing": "Say at what level.",
    "event.toes_missing": "Say which toe.",
    "event.unexpected": "This does not belong to this kind of event.",
    "event.ends_before_it_starts": "It cannot end ({value}) before it starts ({limit}).",
    "event.before_birth": "{value} is before the patient was born ({limit}).",
    "event.after_death": "{value} is after the patient died ({limit}).",
    "event.in_future": "{value} has not come yet.",
    "event.already_lost": "That part was already lost: {limit}. Correct that entry or this one.",
    "event.lost_again_later": "A later entry says that this part was lost then: {limit}. "
    "Correct that entry or this one.",
}


def refusal_words(error: InputError) -> str:
    """Why an event was refused, in plain words for the field ``error.field``."""
    return REFUSAL_WORDS[error.code].format(value=error.value, limit=error.limit)


def check_event(
    event: LimbEvent,
    others: Iterable[LimbEvent] = (),
    *,
    born: date | None = None,
    died: date | None = None,
    today: date | None = None,
) -> None:
    """Refuse an event that cannot be, beside the events already on record.

    Raises
    ------
    InputError
        ``event.before_birth``, ``event.after_death``, ``event.in_future`` at the field "on" (or "until");
        ``event.already_lost`` and ``event.lost_again_later`` at the field "level" where two amputations
        overlap, with the other event in ``limit``.

    Notes
    -----
    A date known only to a month or a year is refused only where no day of it is possible.
    """
    for name, when in (("on", event.on), ("until", event.until)):
        if when is None:
            continue
        if born is not None and when.latest < born:
            raise InputError("event.before_birth", name, when.words, EventDate(born).words)
        if died is not None and when.earliest > died:
            raise InputError("event.after_death", name, when.words, EventDate(died).words)
        if today is not None and when.earliest > today:
            raise InputError("event.in_future", name, when.words)
    for other in others:
        _refuse_overlap(event, other)


def parts_lost(event: LimbEvent) -> frozenset[str]:
    """The parts that are gone after an amputation: "toe 1", "ray 1", "midfoot"…; empty for other events."""
    if event.level is None:
        return frozenset()
    if event.level.names_toes:
        rays = {f"ray {toe}" for toe in event.toes} if event.level is AmputationLevel.RAY else set()
        return frozenset({f"toe {toe}" for toe in event.toes} | rays)
    below = LEVELS[LEVELS.index(AmputationLevel.TRANSMETATARSAL) : LEVELS.index(event.level) + 1]
    return frozenset(
        {f"{part} {toe}" for part in ("toe", "ray") for toe in TOES} | {level.value for level in below}
    )


def _taken_off(event: LimbEvent) -> frozenset[str]:
    """The parts an amputation itself is named for: what must still have been there before it."""
    if event.level is None:
        return frozenset()
    if event.level.names_toes:
        return frozenset(f"{event.level} {toe}" for toe in event.toes)
    return frozenset({event.level.value})


def _refuse_overlap(event: LimbEvent, other: LimbEvent) -> None:
    if event.kind is not EventKind.AMPUTATION or other.kind is not event.kind or event.side is not other.side:
        return
    lost_twice = _taken_off(event) & _taken_off(other)
    surely_not_before = event.on.earliest >= other.on.latest
    if lost_twice or (surely_not_before and _taken_off(event) & parts_lost(other)):
        raise InputError("event.already_lost", "level", event.words, other.words_dated)
    surely_not_after = other.on.earliest >= event.on.latest
    if surely_not_after and _taken_off(other) & parts_lost(event):
        raise InputError("event.lost_again_later", "level", event.words, other.words_dated)
