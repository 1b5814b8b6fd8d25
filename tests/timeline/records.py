"""Exams as the record gives them, read by the core itself; no database."""

from datetime import UTC, date, datetime
from decimal import Decimal

from exams.hemodynamics import (
    ANKLE_SITES,
    Conditions,
    Context,
    MeasuredExam,
    MeasuredLimb,
    Outcome,
    Side,
    Site,
    SiteReading,
    interpret,
    load_criteria,
    pressure,
)
from exams.visits.history import ExamRecord, LimbRecord, ReadingLine
from reports.timeline.gist import gist_of
from reports.timeline.glance import Glance, seen_on, stands_of
from reports.timeline.plain import SIDES
from reports.timeline.record import limits_of, years_of

CRITERIA = load_criteria("acc-aha-2024")
UNOCCLUDED = SiteReading(Outcome.NOT_OCCLUDABLE, 500)
NO_SIGNAL = SiteReading(Outcome.NO_SIGNAL)
WORDS = {
    "doppler": "Doppler",
    "two_cuffs": "light sensor, two cuffs",
    "one_cuff_hand": "light sensor, one cuff",
}


def foot(
    side: Side,
    *,
    arm: int | None = 140,
    ankle: int | SiteReading | None = 150,
    toe: int | SiteReading | None = 90,
    toe_site: Site = Site.TOE_1,
    toe_technique: str = "two_cuffs",
) -> MeasuredLimb:
    """A side of the body: whole mmHg, or a reading without a pressure, or None where nothing was tried."""
    ankle_reading = pressure(ankle) if isinstance(ankle, int) else ankle
    toe_reading = pressure(toe, toe_technique) if isinstance(toe, int) else toe
    return MeasuredLimb(
        side,
        arm=(pressure(arm),) if arm else (),
        ankle={Site.POSTERIOR_TIBIAL: (ankle_reading,), Site.DORSALIS_PEDIS: (ankle_reading,)}
        if ankle_reading
        else {},
        toes={toe_site: (toe_reading,)} if toe_reading else {},
    )


def record(
    exam_id: int, on: date, right: MeasuredLimb, left: MeasuredLimb | None = None, *, position: str = "supine"
) -> ExamRecord:
    """An exam of that day with its findings; the LEFT is measured like an ordinary foot if not given."""
    left = left or foot(Side.LEFT)
    exam = MeasuredExam(right, left, Side.RIGHT, Conditions(position=position, rest_minutes=10))
    at = datetime(on.year, on.month, on.day, 10, tzinfo=UTC)
    return ExamRecord(
        exam_id=exam_id,
        patient_id=1,
        on=on,
        at=at,
        exam_type="ankle_and_toe",
        type_label="ankles and toes",
        state="measured",
        state_label="measured",
        limited=False,
        closed_because="",
        entered_later=False,
        indication="surveillance",
        referrer="",
        measured_at=at,
        measured_by="Mina Measurer",
        arms=frozenset(limb.side for limb in (right, left) if limb.arm),
        right=_limb(right, at),
        left=_limb(left, at),
        conditions=(("position", "lying flat"), ("rest", "10 minutes")),
        rest_minutes=10,
        rest_typed=False,
        criteria_name=CRITERIA.name,
        criteria_version=CRITERIA.version,
        interpretation=interpret(exam, CRITERIA, Context("yes", "no")),
        last_change_at=at,
    )


def _limb(limb: MeasuredLimb, at: datetime) -> LimbRecord:
    tried = {Site.ARM: limb.arm, **limb.ankle, **limb.toes}
    toe = next(iter(limb.toes), None)
    return LimbRecord(
        side=limb.side,
        toe=toe,
        toe_technique=limb.toes[toe][0].technique if toe else "",
        ankle_technique="doppler" if set(tried) & set(ANKLE_SITES) else "",
        toe_skin_celsius=None,
        absent_toes=frozenset(),
        readings=tuple(_line(limb.side, site, one, at) for site, taken in tried.items() for one in taken),
    )


def _line(side: Side, site: Site, reading: SiteReading, at: datetime) -> ReadingLine:
    mmhg = None if reading.half_mmhg is None else pressure_of(reading)
    return ReadingLine(
        reading_id=1,
        side=side,
        site=site,
        attempt=1,
        outcome=reading.outcome.value,
        pressure_mmhg=mmhg,
        reason="",
        shown="",
        technique=reading.technique,
        technique_words=WORDS[reading.technique],
        at=at,
        by="Mina Measurer",
        override="",
        corrected="",
    )


def pressure_of(reading: SiteReading) -> Decimal:
    return Decimal(reading.half_mmhg or 0) / 2


def stands(records: list[ExamRecord], today: date):
    """What the exams say first of both limbs, RIGHT first."""
    gists, wholes = zip(*(gist_of(one, limits_of(CRITERIA), UTC) for one in records), strict=True)
    of = {gist.exam_id: whole for gist, whole in zip(gists, wholes, strict=True)}
    return stands_of(gists, years_of(records, {}, CRITERIA, UTC, today).limbs, lambda _: of)


def glance_at(records: list[ExamRecord], side: Side, today: date, *, to_be_told: bool = False) -> Glance:
    """One limb as the patient page says it."""
    stand = stands(records, today)[SIDES.index(side)]
    return seen_on(stand, today, recordings={}, to_be_told=to_be_told)
