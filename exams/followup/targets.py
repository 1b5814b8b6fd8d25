"""How long what may wait: published figures, each with its source, which a clinic may replace.

Where nothing is published the figure is empty: a referral is then never called late, and a new baseline is
due at once, until the clinic sets one.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from exams.followup.course import RecallKind, Urgency

SATURDAY = 5
DAYS = "days"
WORKING_DAYS = "working days"
LONGEST = 400

_NG19 = "NICE NG19: limb-threatening goes to acute services at once, every other active foot problem is"
_AT_ONCE = f"{_NG19} triaged within a further working day"
_PROTECTION = "NICE NG19, foot protection service: high risk within 2–4 weeks, moderate within 6–8 weeks"
_UK = (
    "UK targets for limb-threatening ischaemia: 5 days admitted, 14 days not admitted; which urgency takes "
    "which is ours"
)
_NONE = "no published figure"


@dataclass(frozen=True)
class Published:
    """``days`` None: nothing is published."""

    key: str
    label: str
    unit: str
    days: int | None
    source: str

    def words(self, days: int | None) -> str:
        """ "at once", "14 days", "1 working day", "not set: nothing is called late"."""
        if days is None:
            return (
                "not set: due at once" if self.key.startswith("event.") else "not set: nothing is called late"
            )
        if days == 0:
            return "at once"
        return f"{days} {self.unit.removesuffix('s') if days == 1 else self.unit}"


def _of(stage: str, words: str, unit: str, figures: dict[str, tuple[int | None, str]]) -> list[Published]:
    return [
        Published(
            f"{stage}.{urgency}",
            f"{words}, where it was sent “{urgency.label}”",
            unit,
            *figures.get(urgency, (None, _NONE)),
        )
        for urgency in Urgency
    ]


PUBLISHED: dict[str, Published] = {
    one.key: one
    for one in (
        *_of(
            "answer",
            "Answered",
            WORKING_DAYS,
            {Urgency.AT_ONCE: (0, _AT_ONCE), Urgency.ONE_WORKING_DAY: (1, _AT_ONCE)},
        ),
        *_of(
            "seen",
            "Seen",
            DAYS,
            {
                Urgency.AT_ONCE: (0, _AT_ONCE),
                Urgency.TWO_TO_FOUR_WEEKS: (28, _PROTECTION),
                Urgency.SIX_TO_EIGHT_WEEKS: (56, _PROTECTION),
            },
        ),
        *_of(
            "treated",
            "Treated, or an outcome told",
            DAYS,
            {Urgency.AT_ONCE: (5, _UK), Urgency.ONE_WORKING_DAY: (14, _UK)},
        ),
        Published(
            "event.revascularisation",
            "New baseline after a procedure",
            DAYS,
            30,
            "own audit measure: new baseline within 30 days of a revascularisation; no published figure",
        ),
        Published(
            "event.open_wound",
            "New baseline after a new ulcer",
            DAYS,
            14,
            "toe pressure within 14 days of a new ulcer, by the 14-day step of the national foot audit",
        ),
        Published(
            "event.amputation", "New baseline after an amputation", DAYS, None, f"{_NONE}: due at once"
        ),
        Published(
            "event.foot_infection", "New baseline, foot infection", DAYS, None, f"{_NONE}: due at once"
        ),
    )
}


def due_after(first: date, days: int, unit: str) -> date:
    """The last day on which it is in time. Weekends are no working days; holidays are not known."""
    if unit == DAYS:
        return first + timedelta(days=days)
    due = first
    for _ in range(days):
        due += timedelta(days=1)
        while due.weekday() >= SATURDAY:
            due += timedelta(days=1)
    return due


def event_key(kind: str) -> str:
    """The key of an event's target; ``kind`` is of ``RecallKind`` and not the risk category."""
    return f"event.{RecallKind(kind).value}"
