"""What is kept ready of a record, as JSON and back: structured values, whatever the day. Pure.

Only what follows from the exams is kept. What hangs on the day, on who looks, on facts and cautions is added
when a page is asked for.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, tzinfo
from decimal import Decimal

from exams.hemodynamics import Criteria, Side, Verdict
from reports.timeline.few import few_of
from reports.timeline.gist import Whole, record_from
from reports.timeline.glance import MeasureLine, Stand
from reports.timeline.plain import SIDES, Json, plain, seen_from
from reports.timeline.record import baseline_words, limits_of, sources_of
from reports.timeline.series import Break, Counted, Measure, Point, Seen, Series
from reports.timeline.summary import Unreported, changed_of
from reports.timeline.years import Change, Event, Forecast, LimbYears, Noise, Years


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


def glance_json(stands: tuple[Stand, Stand], years: Years, waiting: Unreported | None) -> Json:
    """What `glance_from` gives back."""
    return {
        "stands": [_stand(stand) for stand in stands],
        "changed": [changed_of(limb) for limb in years.limbs],
        "unreported": [waiting.count, waiting.exam_id, waiting.on.isoformat()] if waiting else None,
    }


def glance_from(kept: Json, zone: tzinfo) -> KeptGlance:
    right, left = (_stand_from(stand, side, zone) for side, stand in zip(SIDES, kept["stands"], strict=True))
    waiting = kept["unreported"]
    unreported = Unreported(waiting[0], waiting[1], date.fromisoformat(waiting[2])) if waiting else None
    return KeptGlance((right, left), tuple(kept["changed"]), unreported)


def years_json(years: Years) -> Json:
    """How the series of both limbs run, by the numbers of their exams, and what has changed.

    Of very many exams a few (`few.few_of`). What is shown of an exam stands with its own whole.
    """
    return {"limbs": [_limb(few_of(limb)) for limb in years.limbs]}


def exams_in(kept: Json) -> frozenset[int]:
    """The exams whose wholes `years_from` needs."""
    return frozenset(
        number for limb in kept["limbs"] for series in limb["series"].values() for number in series["exams"]
    )


def years_from(
    kept: Json,
    wholes: Mapping[int, Whole],
    events: Mapping[Side, tuple[Event, ...]],
    criteria: Criteria,
    today: date,
) -> Years:
    """Both limbs as they are seen on a day, with what happened to them."""
    right, left = (
        _limb_from(limb, side, wholes, events.get(side, ()), today)
        for side, limb in zip(SIDES, kept["limbs"], strict=True)
    )
    return Years((right, left), limits_of(criteria), criteria.label, today, sources_of(criteria))


def filled(years: Years, wholes: Mapping[int, Whole]) -> Years:
    """The same series with all that is shown of each exam; one not among the wholes stays as it is."""
    right, left = (
        replace(
            limb, series={measure: _filled(series, side, wholes) for measure, series in limb.series.items()}
        )
        for side, limb in zip(SIDES, years.limbs, strict=True)
    )
    return replace(years, limbs=(right, left))


def _filled(series: Series, side: Side, wholes: Mapping[int, Whole]) -> Series:
    def whole(one: Seen) -> Seen:
        return wholes[one.exam_id].seen[side][series.measure] if one.exam_id in wholes else one

    def point(one: Point) -> Point:
        found = whole(one)
        return found if isinstance(found, Point) else one

    return replace(
        series,
        seen=tuple(whole(one) for one in series.seen),
        stretches=tuple(tuple(point(one) for one in run) for run in series.stretches),
        breaks=tuple(Break(point(gap.before), point(gap.after), gap.reasons) for gap in series.breaks),
    )


def _stand(stand: Stand) -> Json:
    record = stand.record
    return {
        "record": None if record is None else plain(record),
        "urgency": stand.urgency,
        "why": stand.why,
        "lines": [
            {
                "measure": line.measure,
                "seen": plain(line.seen) if line.seen else None,
                "change": _change(line.change) if line.change else None,
                "missing": line.missing,
            }
            for line in stand.lines
        ],
    }


def _stand_from(kept: Json, side: Side, zone: tzinfo) -> Stand:
    record = record_from(kept["record"]) if kept["record"] else None
    lines = tuple(
        MeasureLine(
            Measure(line["measure"]),
            seen_from(line["seen"], zone) if line["seen"] else None,
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


def _limb_from(
    kept: Json, side: Side, wholes: Mapping[int, Whole], events: tuple[Event, ...], today: date
) -> LimbYears:
    return LimbYears(
        side.word,
        {measure: _series_from(measure, kept["series"][measure], wholes, side) for measure in Measure},
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
        "exams": [one.exam_id for one in series.seen],
        "stretches": [[one.exam_id for one in run] for run in series.stretches],
        "breaks": [[gap.before.exam_id, gap.after.exam_id, list(gap.reasons)] for gap in series.breaks],
        "of": [of.values, of.absences, of.breaks],
    }


def _series_from(measure: Measure, kept: Json, wholes: Mapping[int, Whole], side: Side) -> Series:
    seen: tuple[Seen, ...] = tuple(wholes[number].seen[side][measure] for number in kept["exams"])
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


def _change(change: Change) -> Json:
    """Without what is said of it on one day."""
    said = plain(change)
    said.pop("crossings", None)
    said["noise"] = plain(change.noise) if change.noise else None
    said["forecasts"] = [plain(one) for one in change.forecasts]
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
