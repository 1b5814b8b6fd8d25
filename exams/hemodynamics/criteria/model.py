"""Diagnostic criteria as frozen values: which rules a clinic reads its numbers by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.exact import EIGHTHS, Booleans, Integers

ANKLE_RULES = ("higher", "lower", "mean", "posterior_tibial")
ARM_RULES = ("higher", "mean", "mean_if_close_else_higher", "one_arm")
ARM_REPEAT_RULES = ("mean_unless_over_10", "drop_first_if_over_second_arm", "mean")
URGENCY_RULES = ("iwgdf2023", "iwgdf2019", "pressures_only")
WAVEFORM_RULES = ("monophasic_or_absent", "not_counted")
INFECTION_RULES = ("iwgdf2023", "idsa2012")

ANKLE_INDEX_CODES = (
    "ABNORMAL_SEVERE",
    "ABNORMAL_MODERATE",
    "ABNORMAL_MILD",
    "BORDERLINE",
    "NORMAL",
    "NON_COMPRESSIBLE",
)
TOE_INDEX_CODES = ("ABNORMAL", "NORMAL")
PRESSURE_CODES = ("WIFI_3", "WIFI_2", "WIFI_1", "WIFI_0")
NOT_ASSESSED = "NOT_ASSESSED"

BAND_WORDS = {
    "ABNORMAL_SEVERE": "severely reduced",
    "ABNORMAL_MODERATE": "moderately reduced",
    "ABNORMAL_MILD": "mildly reduced",
    "ABNORMAL": "reduced",
    "BORDERLINE": "borderline",
    "NORMAL": "within the normal range",
    "NON_COMPRESSIBLE": "ankle arteries too stiff to measure",
    "WIFI_0": "WIfI ischaemia 0",
    "WIFI_1": "WIfI ischaemia 1",
    "WIFI_2": "WIfI ischaemia 2",
    "WIFI_3": "WIfI ischaemia 3",
    NOT_ASSESSED: "not assessed",
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a limit comes from: its key and a full reference."""

    key: str
    title: str


@dataclass(frozen=True, slots=True)
class Choice:
    """A rule chosen by name, with who says so and how well that was confirmed."""

    rule: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Threshold:
    """A limit with its operator: ``Threshold("<", 30, …)`` is "below 30". The unit is in its name."""

    operator: str
    limit: int
    source: str
    status: str

    def met_by_eighths(self, eighths: Integers) -> Booleans:
        """Whether pressures in eighths of a mmHg meet a limit in whole mmHg; shape as given."""
        return self._met(eighths, self.limit * EIGHTHS)

    def met_by(self, values: Integers | float) -> Booleans:
        """Whether values in the limit's own unit meet it."""
        return self._met(np.asarray(values), self.limit)

    def _met(self, values: Integers, limit: int) -> Booleans:
        if self.operator == "<":
            return np.asarray(values < limit)
        if self.operator == "<=":
            return np.asarray(values <= limit)
        if self.operator == ">":
            return np.asarray(values > limit)
        return np.asarray(values >= limit)

    @property
    def words(self) -> str:
        """ "below 30", "30 or below", "above 70", "15 or more"."""
        patterns = {"<": "below {}", "<=": "{} or below", ">": "above {}", ">=": "{} or more"}
        return patterns[self.operator].format(self.limit)


@dataclass(frozen=True, slots=True)
class IndexBand:
    """Hundredths ``lo`` to ``hi``, both included; ``hi`` None is open upwards."""

    code: str
    lo: int
    hi: int | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class PressureBand:
    """Pressures up to a limit: ``operator`` "<" or "<=" and ``limit_mmhg``; the last band has neither."""

    code: str
    operator: str | None
    limit_mmhg: int | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Ratio:
    """A likelihood ratio of healing, in hundredths, for a test that meets a limit; none is shipped."""

    test: str
    when: Threshold
    hundredths: int


@dataclass(frozen=True, slots=True)
class OutlookRules:
    """By what the healing outlook of a foot is read (clinical reference 4.1, 4.2 and 10).

    ``waveform``: whether a pedal waveform counts for urgency. ``infection``: whose grades of infection.
    ``limits`` by name, the unit in it. ``ratios``: likelihood ratios the clinic supplies; empty by default.
    """

    waveform: Choice
    infection: Choice
    limits: Mapping[str, Threshold]
    ratios: tuple[Ratio, ...]


@dataclass(frozen=True, slots=True)
class Criteria:
    """One guideline, one version, checked when read.

    Attributes
    ----------
    name, version, title, note : str
    content_hash : str
        SHA-256 of the text, 64 hexadecimal digits.
    text : str
        The TOML it was read from.
    sources : mapping of key to Source
    ankle, arm, arm_repeat, urgency : Choice
        Numerator, denominator and repeat rule; which urgency rule.
    index_bands : mapping of measure to bands, lowest first
    pressure_bands : mapping of measure to bands, most severe first
    thresholds : mapping of name to Threshold
        The unit is in the name (``_mmhg``, ``_hundredths``, ``_celsius``, ``_minutes``, ``_hours``).
    noise : mapping of name to Threshold
        SD of one reading in tenths of a mmHg (``arm_sd_tenths_mmhg`` …), operator ">=": never below.
    further : mapping of name to Threshold
        The limits of the further tests; criteria without a table of their own have those from before it.
    outlook : OutlookRules or None
        None in criteria from before there was an outlook; they then have none.
    """

    name: str
    version: str
    title: str
    note: str
    content_hash: str
    text: str
    sources: Mapping[str, Source]
    ankle: Choice
    arm: Choice
    arm_repeat: Choice
    urgency: Choice
    index_bands: Mapping[str, tuple[IndexBand, ...]]
    pressure_bands: Mapping[str, tuple[PressureBand, ...]]
    thresholds: Mapping[str, Threshold]
    noise: Mapping[str, Threshold]
    further: Mapping[str, Threshold]
    outlook: OutlookRules | None = None

    @property
    def label(self) -> str:
        """Name and version as printed: "acc-aha-2024 version 1"."""
        return f"{self.name} version {self.version}"

    def abnormal_hi(self, measure: str) -> int:
        """Highest hundredths that count as abnormal for an index."""
        return max(
            b.hi for b in self.index_bands[measure] if b.code.startswith("ABNORMAL") and b.hi is not None
        )
