"""An invented pair of feet over the years, put together by hand: no database, no core."""

from datetime import UTC, date, datetime
from decimal import Decimal

from exams.hemodynamics import Verdict
from reports.timeline.series import Absence, Measure, NoValue, Point, Seen, Series, join
from reports.timeline.years import Change, Event, LimbYears, Limit, Noise, Years

ANKLE = Measure.ANKLE_PRESSURE
TOE = Measure.TOE_PRESSURE
ANKLE_INDEX = Measure.ANKLE_BRACHIAL_INDEX
TOE_INDEX = Measure.TOE_BRACHIAL_INDEX

EXAMS = (date(2021, 5, 4), date(2022, 6, 1), date(2024, 3, 12), date(2026, 11, 20))
UNOCCLUDED = "the ankle could not be occluded at 250 mmHg"
DRESSED = "not obtained: dressing not removed"
OTHER_TOE = "hallux then, second toe now"


def point(exam: int, value: str, spread: str, unit: str = " mmHg", how: str = "hallux") -> Point:
    middle, half = Decimal(value), Decimal(spread)
    return Point(
        exam_id=exam,
        at=_at(exam),
        value=middle,
        shown=f"{value}{unit}",
        interval=(middle - half, middle + half),
        interval_shown=f"{middle - half} to {middle + half}",
        how=how,
        band="WIFI_1",
        band_words="WIfI ischaemia 1",
    )


def absent(exam: int, absence: Absence, because: str, cuff_mmhg: int | None = None) -> NoValue:
    return NoValue(exam, _at(exam), absence, because, None if cuff_mmhg is None else Decimal(cuff_mmhg))


def limb(word: str, *seen: tuple[Measure, list[Seen]], **more) -> LimbYears:
    """A limb from what was seen of each measure; measures not named were never seen."""
    by_measure = dict(seen)
    series = {measure: series_of(measure, by_measure.get(measure, [])) for measure in Measure}
    return LimbYears(word, series, **more)


def series_of(measure: Measure, seen: list[Seen]) -> Series:
    return join(measure, seen, lambda a, b: () if a.how == b.how else (f"{a.how} then, {b.how} now",))


def both_feet() -> Years:
    """RIGHT: the ankle stiffens, the toe falls and the second toe takes over. LEFT: one exam, toe only."""
    right = limb(
        "RIGHT",
        (
            ANKLE,
            [
                point(1, "142", "9", how="Doppler"),
                absent(2, Absence.NOT_OCCLUDABLE, UNOCCLUDED, 250),
                point(3, "138", "9", how="Doppler"),
                point(4, "131", "9", how="Doppler"),
            ],
        ),
        (
            TOE,
            [
                point(1, "84", "8"),
                absent(2, Absence.NOT_MADE, DRESSED),
                point(3, "60", "8"),
                point(4, "41", "8", how="second toe"),
            ],
        ),
        (
            ANKLE_INDEX,
            [
                point(1, "1.05", "0.08", "", "Doppler, both arms"),
                absent(2, Absence.NOT_OCCLUDABLE, UNOCCLUDED),
                point(3, "0.98", "0.08", "", "Doppler, both arms"),
                point(4, "0.93", "0.08", "", "Doppler, both arms"),
            ],
        ),
        (
            TOE_INDEX,
            [
                point(1, "0.62", "0.06", ""),
                absent(2, Absence.NOT_MADE, DRESSED),
                point(3, "0.44", "0.06", ""),
                point(4, "0.29", "0.06", "", "second toe"),
            ],
        ),
        events=(
            Event("open_wound", "open wound", date(2024, 1, 8), date(2024, 9, 2), "heel"),
            Event("amputation", "hallux amputation", date(2025, 2, 3), None, once=True),
        ),
        changes={
            ANKLE: Change(
                "Within noise of 12 Mar 2024.",
                Verdict.WITHIN_NOISE,
                EXAMS[2],
                Noise(EXAMS[2], EXAMS[3], Decimal(112), Decimal(164)),
            ),
            TOE: Change(f"Cannot be compared with 12 Mar 2024 because: {OTHER_TOE}."),
        },
    )
    left = limb(
        "LEFT",
        (TOE, [absent(4, Absence.NO_SIGNAL, "no signal at the hallux")]),
        (TOE_INDEX, [absent(4, Absence.NO_SIGNAL, "no signal at the hallux")]),
        (ANKLE, [absent(4, Absence.NOT_MADE, "not planned in this exam")]),
        (ANKLE_INDEX, [absent(4, Absence.NOT_MADE, "not planned in this exam")]),
    )
    limits = (
        Limit(TOE, Decimal(30), "toe below 30: urgent"),
        Limit(ANKLE_INDEX, Decimal("0.90"), "ankle 0.90 or below: reduced"),
    )
    return Years((right, left), limits, "acc-aha-2024 version 1", date(2026, 11, 25))


def _at(exam: int) -> datetime:
    on = EXAMS[exam - 1]
    return datetime(on.year, on.month, on.day, 10, tzinfo=UTC)
