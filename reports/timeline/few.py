"""A few exams of very many, so that a page of two hundred costs no more than one of fifty. Pure.

Verdicts, slopes and counts always rest on every exam; only what is drawn and listed is chosen here.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import islice

from reports.timeline.series import Absence, Measure, NoValue, Point, Seen, Series
from reports.timeline.years import LimbYears, Years

# Up to so many exams a limb are all drawn. Of more: the newest ones, and of each earlier run the extremes.
DRAWN_WHOLE = 50
NEWEST = 20
RUNS = 6
NEWEST_BREAKS = 10


def few_of(limb: LimbYears) -> LimbYears:
    """The limb with the exams that are drawn first; itself where there are not very many.

    Chosen are the first exam, the newest `NEWEST`, every measure's newest value, both sides of the newest
    breaks, and of each of `RUNS` equal runs of the others every measure's lowest and highest value and one
    artery of each kind that gave none. An exam that is chosen keeps all its measures, so that none looks as
    if one were missing.
    """
    exams = [one.exam_id for one in limb.series[Measure.TOE_PRESSURE].seen]
    if len(exams) <= DRAWN_WHOLE:
        return limb
    older = exams[:-NEWEST]
    chosen = {exams[0], *exams[-NEWEST:]}
    step = -(-len(older) // RUNS)
    for series in limb.series.values():
        chosen.update(_newest(series))
        by_exam = {one.exam_id: one for one in series.seen}
        for start in range(0, len(older), step):
            chosen.update(_extremes([by_exam[number] for number in older[start : start + step]]))
        for gap in series.breaks[-NEWEST_BREAKS:]:
            chosen.update((gap.before.exam_id, gap.after.exam_id))
    return replace(limb, series={measure: _only(series, chosen) for measure, series in limb.series.items()})


def of_both(years: Years, some: Callable[[LimbYears], LimbYears]) -> Years:
    """Some of the exams of both limbs."""
    right, left = years.limbs
    return replace(years, limbs=(some(right), some(left)))


def year_of(year: int, limb: LimbYears) -> LimbYears:
    """The limb with the exams of one year, for its table: lines are not drawn of it."""
    return replace(
        limb,
        series={
            measure: Series(
                measure,
                tuple(one for one in series.seen if one.at.year == year),
                (),
                tuple(gap for gap in series.breaks if gap.after.at.year == year),
                of=series.counted,
            )
            for measure, series in limb.series.items()
        },
    )


def _newest(series: Series) -> Iterator[int]:
    """What the words of a measure speak of: its newest value, and the newest exam that tried it."""
    tried = (one for one in reversed(series.seen) if isinstance(one, Point) or _tried(one))
    yield from (one.exam_id for one in (*series.points[-1:], *islice(tried, 1)))


def _tried(one: NoValue) -> bool:
    return one.absence is not Absence.NOT_MADE


def _extremes(run: Sequence[Seen]) -> Iterator[int]:
    points = [one for one in run if isinstance(one, Point)]
    if points:
        yield min(points, key=_value).exam_id
        yield max(points, key=_value).exam_id
    for kind in (Absence.NOT_OCCLUDABLE, Absence.NO_SIGNAL):
        of_kind = (one.exam_id for one in run if isinstance(one, NoValue) and one.absence is kind)
        first = next(of_kind, None)
        if first is not None:
            yield first


def _value(one: Point) -> Decimal:
    return one.value


def _only(series: Series, chosen: set[int]) -> Series:
    stretches = (tuple(one for one in run if one.exam_id in chosen) for run in series.stretches)
    return Series(
        series.measure,
        tuple(one for one in series.seen if one.exam_id in chosen),
        tuple(run for run in stretches if run),
        series.breaks[-NEWEST_BREAKS:],
        of=series.counted,
    )
