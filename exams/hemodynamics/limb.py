"""What the findings of one limb are made from: its results, its readings, the criteria and the conditions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from exams.hemodynamics.columns import PRESSURE, SiteColumn
from exams.hemodynamics.criteria.model import Criteria, IndexBand, PressureBand
from exams.hemodynamics.evaluation import ExamResult, LimbResult
from exams.hemodynamics.exact import EIGHTHS, TEN_THOUSANDTHS_IN_AN_EIGHTH, mmhg, round_half_up
from exams.hemodynamics.findings import Input
from exams.hemodynamics.flags import FLAG_MEASURES, FLAGS
from exams.hemodynamics.indices import ALL_INDICES
from exams.hemodynamics.measured import (
    ANKLE_SITES,
    TOE_SITES,
    Conditions,
    Context,
    LimbFacts,
    MeasuredExam,
    MeasuredLimb,
    Outcome,
    Position,
    Side,
    Site,
    SiteReading,
)
from exams.hemodynamics.noise import Combined, Reading, reading_sd
from exams.hemodynamics.one_exam import height_lowering, height_mmhg
from exams.hemodynamics.words import mmhg_words, reading_shown


@dataclass(frozen=True, slots=True)
class Limb:
    """One side of one exam, read: everything its findings need."""

    exam: MeasuredExam
    criteria: Criteria
    context: Context
    all_results: ExamResult
    side: Side

    @property
    def word(self) -> str:
        return self.side.word

    @property
    def result(self) -> LimbResult:
        return self.all_results.limb(self.side)

    @property
    def measured(self) -> MeasuredLimb:
        return self.exam.limb(self.side)

    @property
    def facts(self) -> LimbFacts:
        return self.context.limb(self.side)

    @property
    def conditions(self) -> Conditions:
        return self.exam.conditions

    def on_side(self, side: Side) -> Limb:
        """The limb of the same exam on a side."""
        return replace(self, side=side)

    def has(self, flag: str) -> bool:
        return bool(self.result.flags[flag][0])

    def flags(self, measure: str) -> tuple[str, ...]:
        """The flags of a measure, in the fixed order."""
        also = next((index.flags for index in ALL_INDICES if index.measure == measure), ())
        return tuple(f for f in FLAGS if (FLAG_MEASURES[f] == measure or f in also) and self.has(f))

    @property
    def ankle_sites(self) -> tuple[Site, ...]:
        """The ankle arteries with at least one attempt."""
        return tuple(site for site in ANKLE_SITES if self.measured.ankle.get(site))

    @property
    def toe_sites(self) -> tuple[Site, ...]:
        return tuple(site for site in TOE_SITES if self.measured.toes.get(site))

    @property
    def deciding_toe(self) -> Site | None:
        which = int(self.result.toe.which[0])
        return None if which < 0 else TOE_SITES[which]

    @property
    def height(self) -> Decimal | None:
        """What the height of the foot adds to its pressures, in mmHg; None where nothing is corrected."""
        return height_mmhg(self.conditions, self.criteria)

    @property
    def not_flat(self) -> bool:
        return self.conditions.position not in (None, Position.SUPINE)

    @property
    def short_rest(self) -> bool:
        minutes = self.conditions.rest_minutes
        return minutes is not None and bool(self.criteria.thresholds["rest_short_minutes"].met_by(minutes))

    @property
    def cold(self) -> bool:
        celsius = self.measured.toe_skin_celsius
        return celsius is not None and bool(
            self.criteria.thresholds["toe_cold_celsius"].met_by(float(celsius))
        )

    @property
    def denominator(self) -> Decimal | None:
        eighths = int(self.all_results.arms.denominator[0])
        return mmhg(eighths) if eighths else None

    def meets(self, threshold: str, eighths: int) -> bool:
        """Whether a foot pressure meets a "below" limit, on the lower of measured and height-corrected."""
        limit = self.criteria.thresholds[threshold]
        lowered = eighths * TEN_THOUSANDTHS_IN_AN_EIGHTH - height_lowering(self.conditions, self.criteria)
        return eighths > 0 and bool(limit.met_by(lowered / 10_000))

    def attempts(self, site: Site) -> tuple[SiteReading, ...]:
        if site is Site.ARM:
            return self.measured.arm
        return self.measured.ankle.get(site) or self.measured.toes.get(site) or ()

    def column(self, site: Site) -> SiteColumn:
        if site is Site.ARM:
            return self.all_results.arms.arm(self.side)
        return self.result.sites[site]

    def input(self, site: Site) -> Input:
        column = self.column(site)
        has_pressure = int(column.code[0]) == PRESSURE
        return Input(
            role="arm" if site is Site.ARM else "site",
            side=self.side,
            site=site.value,
            shown=reading_shown(column, reason_of(self.attempts(site))),
            mmhg=mmhg(int(column.eighths[0])) if has_pressure else None,
            technique=technique_of(self.attempts(site)),
            readings=int(column.count[0]),
        )

    def noise(self, site: Site) -> Reading:
        """A site's pressure with the SD of its error, never below the pooled value of the criteria."""
        column = self.column(site)
        group = site_group(site)
        pooled = self.criteria.noise[f"{group}_sd_tenths_mmhg"].limit / 10
        own = self.context.reading_sd_mmhg.get((group, technique_of(self.attempts(site))))
        single = max(pooled, float(own)) if own is not None else pooled
        return Reading(int(column.eighths[0]) / EIGHTHS, reading_sd(single, int(column.count[0])))


def site_group(site: Site) -> str:
    """ "arm", "ankle" or "toe"."""
    if site is Site.ARM:
        return "arm"
    return "ankle" if site in ANKLE_SITES else "toe"


def technique_of(attempts: tuple[SiteReading, ...]) -> str:
    """The technique of a site's readings; several are joined by "+" and equal only themselves."""
    told = [reading.technique for reading in attempts if reading.outcome is not Outcome.NOT_OBTAINED]
    return "+".join(sorted(set(told)))


def reason_of(attempts: tuple[SiteReading, ...]) -> str | None:
    """Why nothing was obtained, from the latest attempt that says so."""
    reasons = [
        reading.reason for reading in attempts if reading.outcome is Outcome.NOT_OBTAINED and reading.reason
    ]
    return reasons[-1] if reasons else None


def arm_combined(limb: Limb) -> Combined | None:
    """The denominator as readings with noise; None where there is none."""
    arms = limb.all_results.arms
    if int(arms.denominator[0]) == 0:
        return None
    sides = [side for side in Side if int(arms.arm(side).code[0]) == PRESSURE]
    if limb.criteria.arm.rule == "one_arm":
        sides = sides[:1]
    readings = tuple(limb.on_side(side).noise(Site.ARM) for side in sides)
    return Combined("mean" if bool(arms.averaged[0]) else "higher", readings)


def band_of_index(bands: tuple[IndexBand, ...], code: str) -> IndexBand | None:
    return next((band for band in bands if band.code == code), None)


def band_of_pressure(bands: tuple[PressureBand, ...], code: str) -> PressureBand | None:
    return next((band for band in bands if band.code == code), None)


def corrected_words(eighths: int, height: Decimal | None) -> str:
    """ "52 mmHg", or with a height "52 mmHg (61.3 at heart level)"."""
    value = mmhg(eighths)
    if height is None:
        return mmhg_words(value)
    return f"{mmhg_words(value)} ({round_half_up(max(value + height, Decimal(0)), 1)} at heart level)"
