"""What is kept ready of a record, as JSON and back: structured values, whatever the day. Pure.

Only what follows from the exams is kept. What hangs on the day, on who looks, on facts and cautions is added
when a page is asked for.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime, tzinfo
from decimal import Decimal
from typing import Any

from exams.hemodynamics import Criteria, Side, Verdict
from exams.visits.history import ExamRecord
from reports.timeline.few import few_of
from reports.timeline.glance import FromExam, MeasureLine, Stand, stand_of
from reports.timeline.record import baseline_words, limits_of, sources_of
from reports.timeline.series import (
    Absence,
    Break,
    Counted,
    Measure,
    NoValue,
    Point,
    Seen,
    Series,
)
from reports.timeline.summary import Unreported, changed_of, unreported_of
from reports.timeline.years import Change, Event, Forecast, LimbYears, Noise, Years

# Raised whenever the shape changes; what was kept in an older one is then made again.
FORM = 3
SIDES = (Side.RIGHT, Side.LEFT)
Json = dict[str, Any]


@dataclass(frozen=True)
class KeptGlance:
    """What the exams say first of both limbs, RIGHT first; `changed` is the change that matters most."""

    stands: tuple[Stand, Stand]
    changed: tuple[str, str]
    unreported: Unreported | None

    @property
    def exams(self) -> frozenset[int]:
        """The exams whose values are shown."""
        return frozenset(line.seen.exam_id for stand in self.stands for line in stand.lines if line.seen)


def glance_json(records: Sequence[ExamRecord], years: Years) -> Json:
    """What `glance_from` gives back."""
    waiting = unreported_of(records)
    return {
        "stands": [
            _stand(stand_of(records, side, limb)) for side, limb in zip(SIDES, years.limbs, strict=True)
        ],
        "changed": [changed_of(limb) for limb in years.limbs],
        "unreported": [waiting.count, waiting.exam_id, waiting.on.isoformat()] if waiting else None,
    }


def glance_from(kept: Json, zone: tzinfo) -> KeptGlance:
    right, left = (_stand_from(stand, side, zone) for side, stand in zip(SIDES, kept["stands"], strict=True))
    waiting = kept["unreported"]
    unreported = Unreported(waiting[0], waiting[1], date.fromisoformat(waiting[2])) if waiting else None
    return KeptGlance((right, left), tuple(kept["changed"]), unreported)


def years_json(years: Years) -> Json:
    """The series of both limbs and what has changed; of very many exams a few (`few.few_of`)."""
    return {"limbs": [_limb(few_of(limb)) for limb in years.limbs]}


def years_from(
    kept: Json, events: Mapping[Side, tuple[Event, ...]], criteria: Criteria, zone: tzinfo, today: date
) -> Years:
    """Both limbs as they are seen on a day, with what happened to them."""
    right, left = (
        _limb_from(limb, side, events.get(side, ()), zone, today)
        for side, limb in zip(SIDES, kept["limbs"], strict=True)
    )
    return Years((right, left), limits_of(criteria), criteria.label, today, sources_of(criteria))


def _stand(stand: Stand) -> Json:
    record = stand.record
    return {
        "record": None if record is None else _plain(record, FromExam),
        "urgency": stand.urgency,
        "why": stand.why,
        "lines": [
            {
                "name": line.name,
                "seen": _seen(line.seen) if line.seen else None,
                "change": _change(line.change) if line.change else None,
                "missing": line.missing,
            }
            for line in stand.lines
        ],
    }


def _stand_from(kept: Json, side: Side, zone: tzinfo) -> Stand:
    record = kept["record"]
    if record is not None:
        pairs = tuple((label, words) for label, words in record["conditions"])
        record = FromExam(**{**record, "on": date.fromisoformat(record["on"]), "conditions": pairs})
    lines = tuple(
        MeasureLine(
            line["name"],
            _seen_from(line["seen"], zone) if line["seen"] else None,
            _change_from(line["change"]) if line["change"] else None,
            line["missing"],
        )
        for line in kept["lines"]
    )
    return Stand(side, record, kept["urgency"], kept["why"], lines)


def _limb(limb: LimbYears) -> Json:
    return {
        "series": {measure.value: _series(series) for measure, series in limb.series.items()},
        "changes": {measure.value: _change(change) for measure, change in limb.changes.items()},
    }


def _limb_from(kept: Json, side: Side, events: tuple[Event, ...], zone: tzinfo, today: date) -> LimbYears:
    return LimbYears(
        side.word,
        {measure: _series_from(measure, kept["series"][measure], zone) for measure in Measure},
        events,
        {
            measure: _change_from(kept["changes"][measure]).as_of(today)
            for measure in Measure
            if measure in kept["changes"]
        },
        baseline_words(events, side, today),
    )


def _series(series: Series) -> Json:
    of = series.counted
    return {
        "seen": [_seen(one) for one in series.seen],
        "stretches": [[one.exam_id for one in run] for run in series.stretches],
        "breaks": [[gap.before.exam_id, gap.after.exam_id, list(gap.reasons)] for gap in series.breaks],
        "of": [of.values, of.absences, of.breaks],
    }


def _series_from(measure: Measure, kept: Json, zone: tzinfo) -> Series:
    seen = tuple(_seen_from(one, zone) for one in kept["seen"])
    points = {one.exam_id: one for one in seen if isinstance(one, Point)}
    return Series(
        measure,
        seen,
        tuple(tuple(points[number] for number in run) for run in kept["stretches"]),
        tuple(
            Break(points[before], points[after], tuple(reasons)) for before, after, reasons in kept["breaks"]
        ),
        Counted(*kept["of"]),
    )


def _seen(one: Seen) -> Json:
    """What differs from an empty one; `absence` stands in one without a value alone."""
    return _plain(one, type(one))


def _seen_from(kept: Json, zone: tzinfo) -> Seen:
    said = {name: _BACK[name](value) if name in _BACK else value for name, value in kept.items()}
    said["at"] = said["at"].astimezone(zone)
    return NoValue(**said) if "absence" in said else Point(**said)


def _change(change: Change) -> Json:
    """Without what is said of it on one day."""
    said = _plain(change, Change)
    said.pop("crossings", None)
    said["noise"] = _plain(change.noise, Noise) if change.noise else None
    said["forecasts"] = [_plain(one, Forecast) for one in change.forecasts]
    return said


def _change_from(kept: Json) -> Change:
    noise = kept["noise"]
    return Change(
        words=kept["words"],
        verdict=Verdict(kept["verdict"]) if "verdict" in kept else Verdict.CANNOT_BE_COMPARED,
        since=date.fromisoformat(kept["since"]) if "since" in kept else None,
        noise=noise
        and Noise(
            date.fromisoformat(noise["start"]),
            date.fromisoformat(noise["end"]),
            Decimal(noise["low"]),
            Decimal(noise["high"]),
        ),
        skipped=kept.get("skipped", ""),
        slope=kept.get("slope", ""),
        forecasts=tuple(
            Forecast(date.fromisoformat(one["on"]), one["to_come"], one["by_now"])
            for one in kept["forecasts"]
        ),
    )


def _plain(one: Any, kind: type) -> Json:
    """The fields that `kind` has, of a value that has them, without those that are as when left out."""
    said = {field.name: getattr(one, field.name) for field in fields(kind)}
    usual = {field.name: field.default for field in fields(kind)}
    return {name: _as_json(value) for name, value in said.items() if value != usual[name]}


def _as_json(value: Any) -> Any:
    if isinstance(value, date):  # a moment too
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [_as_json(one) for one in value]
    return value


def _tuple(values: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(values)


# How the fields of a point, or of an exam without a value, come back where JSON has no such kind.
_BACK: Mapping[str, Callable[[Any], Any]] = {
    "at": datetime.fromisoformat,
    "value": Decimal,
    "cuff_mmhg": Decimal,
    "absence": Absence,
    "interval": lambda ends: (Decimal(ends[0]), Decimal(ends[1])),
    "reading_ids": _tuple,
    "chances": _tuple,
}
