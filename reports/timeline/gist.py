"""The gist of one exam: all that the pages of a record need of it. Pure.

It follows from that exam's rows, the limits of the criteria and the clinic's zone alone, so it is kept while
these stay. The gists of all exams together make series, changes and what is said first; the whole of an exam
(its intervals, bands, conditions) is only taken out where it is shown.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any

from exams.hemodynamics import Found, Outcome, Side, Site, Way, found_of, limb_sentence
from exams.visits.history import ExamRecord, LimbRecord
from reports.timeline.plain import SIDES, plain, seen_from
from reports.timeline.seen import seen_of
from reports.timeline.series import Absence, Measure, NoValue, Point, Seen
from reports.timeline.years import Limit

MEASURES = tuple(Measure)
SHORT = (",", ":")


@dataclass(frozen=True)
class FromExam:
    """The exam that a limb's sentence comes from: when it was and under which conditions, as `ExamRecord`."""

    exam_id: int
    on: date
    limited: bool
    entered_later: bool
    conditions: tuple[tuple[str, str], ...]
    rest_minutes: int | None
    rest_typed: bool


@dataclass(frozen=True)
class LimbGist:
    """One limb at one exam. `tried`: the exam says something of this foot; `gave`: something was found."""

    tried: bool
    gave: bool
    seen: Mapping[Measure, Seen]
    found: Mapping[Measure, Found | None]


@dataclass(frozen=True)
class Gist:
    """One exam. `at` is in the clinic's zone; `measured`: it has a reading. No `limbs` without findings."""

    exam_id: int
    at: datetime
    measured: bool
    limbs: Mapping[Side, LimbGist]


@dataclass(frozen=True)
class Whole:
    """The rest of one exam. `said` is, of each limb, the call to make ("" for none) and the other words."""

    record: FromExam
    said: Mapping[Side, tuple[str, str]]
    seen: Mapping[Side, Mapping[Measure, Seen]]


def gist_of(record: ExamRecord, limits: Sequence[Limit], zone: tzinfo) -> tuple[Gist, Whole]:
    """Gist and whole of an exam; the gist holds every value as it is shown."""
    seen = {
        side: {measure: seen_of(record, side, measure, zone, limits) for measure in MEASURES}
        for side in SIDES
    }
    limbs = {
        side: LimbGist(
            _tried(record, side),
            _gave(record.limb(side)),
            seen[side],
            {measure: found_of(record.interpretation, side, measure) for measure in MEASURES},
        )
        for side in SIDES
    }
    measured = bool(record.right.readings or record.left.readings)
    return (
        Gist(
            record.exam_id,
            record.at.astimezone(zone),
            measured,
            limbs if measured or record.interpretation.findings else {},
        ),
        Whole(
            FromExam(
                record.exam_id,
                record.on,
                record.limited,
                record.entered_later,
                record.conditions,
                record.rest_minutes,
                record.rest_typed,
            ),
            {side: _said(record, side) for side in SIDES},
            seen,
        ),
    )


def gist_json(gist: Gist) -> str:
    """What `gists_from` gives back, each `Seen` without what is only shown."""
    ways: dict[Way, int] = {}
    limbs = [
        [
            int(limb.tried),
            int(limb.gave),
            [_kept(limb.seen[measure], limb.found[measure], ways) for measure in MEASURES],
        ]
        for limb in (gist.limbs[side] for side in SIDES if gist.limbs)
    ]
    # Each way once: both feet, and pressure and index, are mostly measured alike.
    texts = [json.dumps(way, separators=SHORT) for way in ways]
    at = gist.at.isoformat()
    return json.dumps([gist.exam_id, at, int(gist.measured), texts, limbs], separators=SHORT)


def gists_from(kept: Sequence[str], zone: tzinfo) -> list[Gist]:
    """All at once, which is cheaper than one by one; oldest first."""
    gists = [_gist_from(one, zone) for one in json.loads(f"[{','.join(kept)}]")]
    return sorted(gists, key=_when)


def whole_json(whole: Whole) -> str:
    return json.dumps(
        {
            "record": plain(whole.record),
            "said": [whole.said[side] for side in SIDES],
            "seen": [[plain(one) for one in whole.seen[side].values()] for side in SIDES],
        },
        separators=SHORT,
    )


def whole_from(kept: str, zone: tzinfo) -> Whole:
    said = json.loads(kept)
    return Whole(
        record_from(said["record"]),
        {side: (urgency, why) for side, (urgency, why) in zip(SIDES, said["said"], strict=True)},
        {
            side: {measure: seen_from(one, zone) for measure, one in zip(MEASURES, of_limb, strict=True)}
            for side, of_limb in zip(SIDES, said["seen"], strict=True)
        },
    )


def record_from(kept: dict[str, Any]) -> FromExam:
    pairs = tuple((label, words) for label, words in kept["conditions"])
    return FromExam(**{**kept, "on": date.fromisoformat(kept["on"]), "conditions": pairs})


def _when(gist: Gist) -> tuple[datetime, int]:
    return gist.at, gist.exam_id


def _kept(seen: Seen, found: Found | None, ways: dict[Way, int]) -> list[Any]:
    """Of a value how it is written and its exact fraction, of an absence which and why; then its way."""
    way = found and found.way and ways.setdefault(found.way, len(ways))
    made = [found.shown, found.band, int(found.stiff), way] if found else []
    if isinstance(seen, NoValue):
        return [seen.absence, seen.because, *([found.reason] if found else []), *made]
    exact = found and found.value
    return [str(seen.value), *(exact.as_integer_ratio() if exact is not None else (0, 1)), *made]


def _gist_from(kept: list[Any], zone: tzinfo) -> Gist:
    exam_id, at, measured, texts, of_limbs = kept
    moment = datetime.fromisoformat(at).astimezone(zone)
    ways = [_way_from(text) for text in texts]
    limbs = {}
    for side, (tried, gave, measures) in zip(SIDES, of_limbs, strict=False):
        seen: dict[Measure, Seen] = {}
        found: dict[Measure, Found | None] = {}
        for measure, one in zip(MEASURES, measures, strict=True):
            if one[0] in _ABSENCES:
                seen[measure] = NoValue(exam_id, moment, _ABSENCES[one[0]], one[1])
                found[measure] = _nothing_found(one[2:], ways)
            else:
                value, top, bottom, shown, band, stiff, way = one
                seen[measure] = Point(exam_id, moment, Decimal(value), shown)
                found[measure] = Found(Fraction(top, bottom), shown, "", band, bool(stiff), ways[way])
        limbs[side] = LimbGist(bool(tried), bool(gave), seen, found)
    return Gist(exam_id, moment, bool(measured), limbs)


def _nothing_found(kept: list[Any], ways: list[Way]) -> Found | None:
    if not kept:
        return None
    reason, shown, band, stiff, way = kept
    return Found(None, shown, reason, band, bool(stiff), None if way is None else ways[way])


@lru_cache(maxsize=4096)
def _way_from(text: str) -> Way:
    """The same object for the same way, so that hundreds of exams hold a few."""
    said = Way(*json.loads(text))
    below = None if said.divided_by is None else (said.divided_by[0], said.divided_by[1])
    return said._replace(arms=tuple(said.arms), divided_by=below)


_ABSENCES = {one.value: one for one in Absence}


def _said(record: ExamRecord, side: Side) -> tuple[str, str]:
    said = limb_sentence(record.interpretation, side).removeprefix(f"{side.word}: ")
    urgency = record.interpretation.of("urgency", side)
    if urgency is None:
        return "", said
    return urgency.shown, said.removeprefix(f"{urgency.shown}; ")


def _tried(record: ExamRecord, side: Side) -> bool:
    """Whether the exam says anything of this foot: an arm alone does not."""
    pattern = record.interpretation.of("pattern", side)
    return pattern is not None and pattern.sentence != ""


def _gave(limb: LimbRecord) -> bool:
    """Whether a pressure, a stiff artery or the absence of any signal was found on this foot."""
    return any(
        reading.site is not Site.ARM and reading.outcome != Outcome.NOT_OBTAINED for reading in limb.readings
    )
