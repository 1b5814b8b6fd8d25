"""Has this limb really changed? One verdict over a line of visits, in words that the record has earned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from exams.hemodynamics.change.comparable import MEASURE_WORDS
from exams.hemodynamics.change.difference import shown_difference
from exams.hemodynamics.change.line import Line, Visit
from exams.hemodynamics.change.noise_of_change import ChangeNoise, noise_of_change
from exams.hemodynamics.change.repeatability import OwnNoise
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import Interval, NotStated
from exams.hemodynamics.limb_events import EventDate
from exams.hemodynamics.words import sentence


class Verdict(StrEnum):
    WITHIN_NOISE = "within_noise"
    LIKELY_FALL = "likely_fall"
    LIKELY_RISE = "likely_rise"
    SEEN_ONCE = "seen_once"  # beyond noise at the newest visit alone: no trend word yet
    CANNOT_BE_COMPARED = "cannot_be_compared"

    @property
    def words(self) -> str:
        return VERDICT_WORDS[self]


VERDICT_WORDS = {
    Verdict.WITHIN_NOISE: "within noise",
    Verdict.LIKELY_FALL: "likely fall",
    Verdict.LIKELY_RISE: "likely rise",
    Verdict.SEEN_ONCE: "more than noise, seen once: repeat at another visit",
    Verdict.CANNOT_BE_COMPARED: "cannot be compared",
}


@dataclass(frozen=True, slots=True)
class RealChange:
    """The newest value against an earlier one of its line.

    ``difference`` is newest minus earlier; its interval is the difference less and plus the smallest change
    beyond noise. ``since`` is the day of the earlier value. ``because`` says why there is no comparison.
    """

    verdict: Verdict
    difference: Decimal | NotStated
    interval: Interval | NotStated
    since: date | None
    noise: ChangeNoise | NotStated
    sentence: str
    cautions: tuple[str, ...] = ()
    because: str = ""


def real_change(line: Line, criteria: Criteria, own: Sequence[OwnNoise] = ()) -> RealChange:
    """The verdict on the newest value of a line.

    A trend word needs two visits: the newest two, on different days, both beyond noise in one direction from
    the same earlier value. That is the value just before them, else the first of the line, so that a slow
    fall is told too. The newest alone beyond noise asks for a repeat.

    Notes
    -----
    Source: clinical reference 7; two visits, workflow 6. Which earlier value, ours (decisions 610).
    """
    title = f"{line.limb.word} {MEASURE_WORDS.get(line.measure, 'ankle pressure')}"
    noise = noise_of_change(line.measure, line.technique, criteria, own)
    visits = _one_a_day(line.visits)
    if len(visits) < 2 or isinstance(noise, NotStated):
        alone = len(visits) < 2 and line.skipped
        why = noise.reason if isinstance(noise, NotStated) and not alone else _why_alone(line)
        stated = NotStated(why)
        said = sentence(f"{title} {VERDICT_WORDS[Verdict.CANNOT_BE_COMPARED]} because {why}")
        return RealChange(Verdict.CANNOT_BE_COMPARED, stated, stated, None, noise, said, because=why)
    verdict, earlier = _judged(visits, noise)
    newest = visits[-1]
    difference = shown_difference(newest.value - earlier.value, line.measure)
    interval = Interval(
        difference - noise.limit,
        difference + noise.limit,
        round_half_up(Decimal(noise.sd_of_difference), 3),
    )
    unit = " mmHg" if line.unit == "mmHg" else ""
    whose = "this clinic's own pairs" if noise.is_own else noise.source
    said = sentence(
        f"{title} {verdict.words}: {earlier.shown} on {EventDate(earlier.on).words}, {newest.shown} on "
        f"{EventDate(newest.on).words} (repeats differ by {noise.limit}{unit}, {whose})"
    )
    return RealChange(verdict, difference, interval, earlier.on, noise, said, line.cautions)


def _judged(visits: Sequence[Visit], noise: ChangeNoise) -> tuple[Verdict, Visit]:
    *before, last, newest = visits
    for earlier in (before[-1], before[0]) if before else ():
        steps = (last.value - earlier.value, newest.value - earlier.value)
        if all(noise.is_beyond(step) for step in steps) and steps[0] * steps[1] > 0:
            return (Verdict.LIKELY_FALL if steps[1] < 0 else Verdict.LIKELY_RISE), earlier
    for earlier in (last, visits[0]):
        if noise.is_beyond(newest.value - earlier.value):
            return Verdict.SEEN_ONCE, earlier
    return Verdict.WITHIN_NOISE, last


def _one_a_day(visits: Sequence[Visit]) -> list[Visit]:
    """Two exams on one day are one visit: the value is their mean, so neither confirms the other."""
    by_day: dict[date, list[Visit]] = {}
    for visit in visits:
        by_day.setdefault(visit.on, []).append(visit)
    return [same[0] if len(same) == 1 else _mean(on, same) for on, same in sorted(by_day.items())]


def _mean(on: date, same: Sequence[Visit]) -> Visit:
    return Visit(on, sum((one.value for one in same), Fraction(0)) / len(same), same[-1].shown)


def _why_alone(line: Line) -> str:
    if not line.skipped:
        return "there is nothing earlier"
    on, reasons = line.skipped[-1]
    return f"of {EventDate(on).words}: {'; '.join(reasons)}"
