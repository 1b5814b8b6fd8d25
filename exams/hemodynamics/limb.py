"""What the findings of one limb are made from: its results, its readings, the criteria and the conditions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property, lru_cache

from exams.hemodynamics.columns import PRESSURE, SiteColumn
from exams.hemodynamics.criteria.model import Criteria, IndexBand, PressureBand
from exams.hemodynamics.evaluation import ExamResult, LimbResult
from exams.hemodynamics.exact import EIGHTHS, TEN_THOUSANDTHS_IN_AN_EIGHTH, mmhg, round_half_up
from exams.hemodynamics.findings import Input, Interval
from exams.hemodynamics.flags import FLAG_MEASURES, FLAGS
from exams.hemodynamics.indices import ALL_INDICES, Index
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
from exams.hemodynamics.noise import Combined, Reading, pressure_interval, ratio_interval, reading_sd
from exams.hemodynamics.one_exam import height_lowering, height_mmhg
from exams.hemodynamics.words import mmhg_words, reading_shown

# What an interval is of: numerator, denominator and bands; or a pressure and its bands.
Ratio = tuple[Combined, Combined, tuple[IndexBand, ...]]
Pressure = tuple[Combined, tuple[PressureBand, ...]]


@dataclass(frozen=True, eq=False)
class ReadExam:
    """One exam, read: what the findings of both its limbs are made from.

    ``results`` are those of this exam alone, each array or list of length 1. ``ratios`` and ``pressures`` are
    intervals computed beforehand with those of other exams; one that is not among them is computed when it is
    asked for.
    """

    exam: MeasuredExam
    criteria: Criteria
    context: Context
    results: ExamResult
    ratios: Mapping[Ratio, Interval] = field(default_factory=dict)
    pressures: Mapping[Pressure, Interval] = field(default_factory=dict)
    # Several findings ask for the same.
    _inputs: dict[tuple[Side, Site], Input] = field(default_factory=dict)
    _noise: dict[tuple[Side, Site], Reading] = field(default_factory=dict)

    def attempts(self, side: Side, site: Site) -> tuple[SiteReading, ...]:
        limb = self.exam.limb(side)
        if site is Site.ARM:
            return limb.arm
        return limb.ankle.get(site) or limb.toes.get(site) or ()

    def column(self, side: Side, site: Site) -> SiteColumn:
        if site is Site.ARM:
            return self.results.arms.arm(side)
        return self.results.limb(side).sites[site]

    def input(self, side: Side, site: Site) -> Input:
        found = self._inputs.get((side, site))
        if found is None:
            attempts, column = self.attempts(side, site), self.column(side, site)
            has_pressure = int(column.code[0]) == PRESSURE
            found = self._inputs[side, site] = Input(
                role="arm" if site is Site.ARM else "site",
                side=side,
                site=site.value,
                shown=reading_shown(column, reason_of(attempts)),
                mmhg=mmhg(int(column.eighths[0])) if has_pressure else None,
                technique=technique_of(attempts),
                readings=int(column.count[0]),
            )
        return found

    def noise(self, side: Side, site: Site) -> Reading:
        """A site's pressure with the SD of its error, never below the pooled value of the criteria."""
        found = self._noise.get((side, site))
        if found is None:
            column, group = self.column(side, site), site_group(site)
            pooled = self.criteria.noise[f"{group}_sd_tenths_mmhg"].limit / 10
            own = self.context.reading_sd_mmhg.get((group, technique_of(self.attempts(side, site))))
            single = max(pooled, float(own)) if own is not None else pooled
            found = self._noise[side, site] = Reading(
                int(column.eighths[0]) / EIGHTHS, reading_sd(single, int(column.count[0]))
            )
        return found

    @cached_property
    def arm_inputs(self) -> tuple[Input, ...]:
        """The arms that were tried, RIGHT first."""
        return tuple(self.input(side, Site.ARM) for side in Side if self.exam.limb(side).arm)

    @cached_property
    def denominator(self) -> Decimal | None:
        """The arm pressure that both legs are divided by, in mmHg."""
        eighths = int(self.results.arms.denominator[0])
        return mmhg(eighths) if eighths else None

    @cached_property
    def arm_combined(self) -> Combined | None:
        """The denominator as readings with noise; None where there is none."""
        arms = self.results.arms
        if self.denominator is None:
            return None
        sides = [side for side in Side if int(arms.arm(side).code[0]) == PRESSURE]
        if self.criteria.arm.rule == "one_arm":
            sides = sides[:1]
        readings = tuple(self.noise(side, Site.ARM) for side in sides)
        return Combined("mean" if bool(arms.averaged[0]) else "higher", readings)

    @cached_property
    def height(self) -> Decimal | None:
        """What the height of the foot adds to its pressures, in mmHg; None where nothing is corrected."""
        return height_mmhg(self.exam.conditions, self.criteria)

    @cached_property
    def lowering(self) -> int:
        """By how much that lowers a foot pressure for urgency, in ten-thousandths of a mmHg."""
        return height_lowering(self.exam.conditions, self.criteria)

    def pressure_interval(self, site: Combined, bands: tuple[PressureBand, ...]) -> Interval:
        return self.pressures.get((site, bands)) or pressure_interval(site, bands)

    def ratio_interval(self, site: Combined, arm: Combined, bands: tuple[IndexBand, ...]) -> Interval:
        return self.ratios.get((site, arm, bands)) or ratio_interval(site, arm, bands)


class Limb:
    """One side of one exam, read: everything its findings need."""

    def __init__(self, read: ReadExam, side: Side) -> None:
        self.read, self.side, self.word = read, side, side.word
        self.exam, self.criteria, self.context = read.exam, read.criteria, read.context
        self.all_results: ExamResult = read.results
        self.result: LimbResult = read.results.limb(side)
        self.measured: MeasuredLimb = read.exam.limb(side)
        self.facts: LimbFacts = read.context.limb(side)
        self.conditions: Conditions = read.exam.conditions
        # The ankle arteries and the toes with at least one attempt.
        self.ankle_sites = tuple(site for site in ANKLE_SITES if self.measured.ankle.get(site))
        self.toe_sites = tuple(site for site in TOE_SITES if self.measured.toes.get(site))
        which = int(self.result.toe.which[0])
        self.deciding_toe = None if which < 0 else TOE_SITES[which]
        self._numerators: dict[str, Combined | None] = {}

    @cached_property
    def _raised(self) -> frozenset[str]:
        return frozenset(flag for flag, raised in self.result.flags.items() if raised[0])

    def has(self, flag: str) -> bool:
        return flag in self._raised

    def flags(self, measure: str) -> tuple[str, ...]:
        """The flags of a measure, in the fixed order."""
        return tuple(flag for flag in _flags_of(measure) if flag in self._raised)

    @property
    def height(self) -> Decimal | None:
        return self.read.height

    @property
    def not_flat(self) -> bool:
        return self.conditions.position not in (None, Position.SUPINE)

    @cached_property
    def short_rest(self) -> bool:
        minutes = self.conditions.rest_minutes
        return minutes is not None and bool(self.criteria.thresholds["rest_short_minutes"].met_by(minutes))

    @cached_property
    def cold(self) -> bool:
        celsius = self.measured.toe_skin_celsius
        return celsius is not None and bool(
            self.criteria.thresholds["toe_cold_celsius"].met_by(float(celsius))
        )

    @property
    def denominator(self) -> Decimal | None:
        return self.read.denominator

    def meets(self, threshold: str, eighths: int) -> bool:
        """Whether a foot pressure meets a "below" limit, on the lower of measured and height-corrected."""
        limit = self.criteria.thresholds[threshold]
        lowered = eighths * TEN_THOUSANDTHS_IN_AN_EIGHTH - self.read.lowering
        return eighths > 0 and bool(limit.met_by(lowered / 10_000))

    def attempts(self, site: Site) -> tuple[SiteReading, ...]:
        return self.read.attempts(self.side, site)

    def column(self, site: Site) -> SiteColumn:
        return self.read.column(self.side, site)

    def input(self, site: Site) -> Input:
        return self.read.input(self.side, site)

    def noise(self, site: Site) -> Reading:
        return self.read.noise(self.side, site)

    def numerator(self, index: Index) -> Combined | None:
        """What goes over the arm, as readings with noise; None where there is no pressure."""
        if index.measure not in self._numerators:
            readings = tuple(self.noise(site) for site in index.used(self))
            self._numerators[index.measure] = Combined(index.combine(self), readings) if readings else None
        return self._numerators[index.measure]


def both_limbs(read: ReadExam) -> tuple[Limb, Limb]:
    """RIGHT and LEFT of one exam."""
    return Limb(read, Side.RIGHT), Limb(read, Side.LEFT)


@lru_cache(maxsize=64)
def _flags_of(measure: str) -> tuple[str, ...]:
    also = next((index.flags for index in ALL_INDICES if index.measure == measure), ())
    return tuple(flag for flag in FLAGS if FLAG_MEASURES[flag] == measure or flag in also)


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
