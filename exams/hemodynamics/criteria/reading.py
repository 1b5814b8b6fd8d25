"""Reads criteria from TOML and refuses what is not whole: every fault is named, not only the first."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

from exams.hemodynamics.criteria.further import FURTHER, NAMED_WITHOUT_A_LIMIT, RISING, limits_before
from exams.hemodynamics.criteria.model import (
    ANKLE_INDEX_CODES,
    ANKLE_RULES,
    ARM_REPEAT_RULES,
    ARM_RULES,
    INFECTION_RULES,
    PRESSURE_CODES,
    TOE_INDEX_CODES,
    URGENCY_RULES,
    WAVEFORM_RULES,
    Choice,
    Criteria,
    IndexBand,
    OutlookRules,
    PressureBand,
    Ratio,
    Source,
    Threshold,
)
from exams.hemodynamics.errors import CriteriaError

HIGHEST = 100_000  # far above any limit, and small enough for exact arithmetic on arrays
INDEX_CODES = {"ankle_brachial_index": ANKLE_INDEX_CODES, "toe_brachial_index": TOE_INDEX_CODES}
PRESSURE_MEASURES = ("toe_pressure", "ankle_pressure")
CHOICES = {"ankle": ANKLE_RULES, "arm": ARM_RULES, "arm_repeat": ARM_REPEAT_RULES, "urgency": URGENCY_RULES}
# Every threshold that the core asks for, with the operators that make sense there.
THRESHOLDS = {
    "arm_repeat_apart_mmhg": (">", ">="),
    "arm_close_mmhg": ("<", "<="),
    "repeats_apart_mmhg": (">", ">="),
    "arm_difference_10_mmhg": (">", ">="),
    "arm_difference_15_mmhg": (">", ">="),
    "arm_difference_20_mmhg": (">", ">="),
    "not_occludable_mmhg": (">", ">="),
    "gradient_mmhg": (">", ">="),
    "toe_wound_mmhg": ("<", "<="),
    "ankle_wound_mmhg": ("<", "<="),
    "toe_healing_mmhg": (">", ">="),
    "infection_toe_mmhg": ("<", "<="),
    "infection_ankle_mmhg": ("<", "<="),
    "urgent_toe_mmhg": ("<", "<="),
    "urgent_ankle_mmhg": ("<", "<="),
    "toe_cold_celsius": ("<", "<="),
    "toe_cold_effect_mmhg": (">=",),
    "room_cold_celsius": ("<", "<="),
    "rest_ask_minutes": ("<", "<="),
    "rest_short_minutes": ("<", "<="),
    "tobacco_hours": ("<", "<="),
    "caffeine_hours": ("<", "<="),
    "height_thousandths_mmhg_per_cm": (">=",),
    "change_ankle_brachial_index_hundredths": (">", ">="),
    "change_toe_brachial_index_manual_hundredths": (">", ">="),
    "change_toe_brachial_index_automated_hundredths": (">", ">="),
    "change_toe_pressure_manual_mmhg": (">", ">="),
    "change_toe_pressure_automated_mmhg": (">", ">="),
}
OPTIONAL_THRESHOLDS = {"urgent_abi_hundredths": ("<", "<="), "ankle_pressure_boundary_mmhg": (">=",)}
NOISE = ("arm_sd_tenths_mmhg", "ankle_sd_tenths_mmhg", "toe_sd_tenths_mmhg")
OUTLOOK_CHOICES = {"waveform": WAVEFORM_RULES, "infection": INFECTION_RULES}
OUTLOOK_LIMITS = {
    "likely_toe_mmhg": (">", ">="),
    "likely_oxygen_mmhg": (">", ">="),
    "reading_age_days": ("<", "<="),
    "area_reduction_percent": (">", ">="),
    "area_first_days": (">=",),
    "area_last_days": ("<=",),
    "slow_healing_days": (">", ">="),
    "image_regardless_days": (">", ">="),
    "outcomes_fewest": (">=",),
    "compression_toe_mmhg": ("<", "<="),
    "compression_ankle_mmhg": ("<", "<="),
    "compression_abi_hundredths": ("<", "<="),
}
OUTLOOK_OPTIONAL = {"urgent_oxygen_mmhg": ("<", "<=")}
RATIO_TESTS = ("toe_mmhg", "oxygen_mmhg", "ankle_mmhg", "abi_hundredths")
OPERATORS = ("<", "<=", ">", ">=")
TABLES = ("sources", "choices", "thresholds", "noise")
TOP_KEYS = {
    "name",
    "version",
    "title",
    "note",
    "outlook",
    "further",
    *TABLES,
    *INDEX_CODES,
    *PRESSURE_MEASURES,
}


def read_criteria(text: str) -> Criteria:
    """Criteria from TOML text, checked.

    Raises
    ------
    CriteriaError
        ``problems`` holds one sentence for every fault: what, where, and what is allowed.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise CriteriaError("text", (f"It is not valid TOML: {error}.",)) from None
    return _Reader(data, text).criteria()


class _Reader:
    """Walks the document once and collects every fault."""

    def __init__(self, data: dict[str, Any], text: str) -> None:
        self.data = data
        self.text = text
        self.problems: list[str] = []

    def criteria(self) -> Criteria:
        for key in sorted(set(self.data) - TOP_KEYS):
            self.problems.append(f"Unknown key '{key}'.")
        name = self._text(self.data, "name", "criteria")
        if name and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
            self.problems.append(f"Name '{name}' must be small letters, digits and single hyphens.")
        sources = self._sources()
        choices = self._choices("choices", self.data.get("choices"), CHOICES)
        index_bands = {measure: self._index_bands(measure, codes) for measure, codes in INDEX_CODES.items()}
        pressure_bands = {measure: self._pressure_bands(measure) for measure in PRESSURE_MEASURES}
        thresholds = self._thresholds(
            "thresholds", self._table("thresholds"), THRESHOLDS, OPTIONAL_THRESHOLDS
        )
        noise = self._thresholds("noise", self._table("noise"), dict.fromkeys(NOISE, (">=",)), {})
        further, before = self._further()
        outlook = self._outlook() if "outlook" in self.data else None
        version = self._text(self.data, "version", "criteria")
        title = self._text(self.data, "title", "criteria")
        note = self._text(self.data, "note", "criteria")
        self._order(thresholds)
        self._noise_above_0(noise)
        self._urgency(choices["urgency"], thresholds)
        self._outlook_order(outlook, thresholds)
        if self.problems:
            raise CriteriaError(name or "without a name", tuple(self.problems))
        return Criteria(
            name=name,
            version=version,
            title=title,
            note=note,
            content_hash=hashlib.sha256(self.text.encode()).hexdigest(),
            text=self.text,
            sources={**before, **sources},
            index_bands=index_bands,
            pressure_bands=pressure_bands,
            thresholds=thresholds,
            noise=noise,
            further=further,
            outlook=outlook,
            **choices,
        )

    def _further(self) -> tuple[dict[str, Threshold], dict[str, Source]]:
        """The limits of the further tests, and sources that this text does not list itself."""
        if "further" not in self.data:
            return limits_before()
        limits = self._thresholds("further", self._table("further"), FURTHER, {})
        for lower, upper in RISING:
            if lower in limits and upper in limits and limits[lower].limit > limits[upper].limit:
                self.problems.append(f"'further.{lower}' must not lie above 'further.{upper}'.")
        for key in NAMED_WITHOUT_A_LIMIT:
            if key not in (self.data.get("sources") or ()):
                self.problems.append(f"Source '{key}', which further tests name, is not under [sources].")
        return limits, {}

    def _table(self, key: str) -> dict[str, Any]:
        value = self.data.get(key)
        if not isinstance(value, dict):
            self.problems.append(f"The table [{key}] is missing.")
            return {}
        return value

    def _rows(self, key: str) -> list[dict[str, Any]]:
        value = self.data.get(key)
        if not isinstance(value, list) or not value or not all(isinstance(row, dict) for row in value):
            self.problems.append(f"The bands [[{key}]] are missing.")
            return []
        return value

    def _text(self, table: dict[str, Any], key: str, where: str) -> str:
        value = table.get(key)
        if not isinstance(value, str) or not value.strip():
            self.problems.append(f"'{key}' of {where} is missing or not text.")
            return ""
        return value

    def _integer(self, table: dict[str, Any], key: str, where: str) -> int:
        value = table.get(key)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= HIGHEST:
            self.problems.append(
                f"'{key}' of {where} must be a whole number from 0 to {HIGHEST}; it is {value!r}."
            )
            return 0
        return value

    def _sourced(self, table: dict[str, Any], where: str) -> tuple[str, str]:
        source = self._text(table, "source", where)
        known = self.data.get("sources")
        if source and isinstance(known, dict) and source not in known:
            self.problems.append(f"Source '{source}' of {where} is not listed under [sources].")
        return source, self._text(table, "status", where)

    def _only(self, table: dict[str, Any], allowed: set[str], where: str) -> None:
        for key in sorted(set(table) - allowed):
            self.problems.append(f"Unknown key '{key}' in {where}.")

    def _sources(self) -> dict[str, Source]:
        found = {}
        for key, value in self._table("sources").items():
            if not isinstance(value, str) or not value.strip():
                self.problems.append(f"Source '{key}' must be a full reference in one text.")
            else:
                found[key] = Source(key, value)
        return found

    def _choices(self, name: str, table: Any, rules: Mapping[str, tuple[str, ...]]) -> dict[str, Choice]:
        given = table if isinstance(table, dict) else {}
        return {key: self._choice(f"{name}.{key}", given.get(key), rules[key]) for key in rules}

    def _choice(self, where: str, value: Any, allowed: tuple[str, ...]) -> Choice:
        if not isinstance(value, dict):
            self.problems.append(f"'{where}' is missing.")
            return Choice("", "", "")
        self._only(value, {"rule", "source", "status"}, where)
        rule = self._text(value, "rule", where)
        if rule and rule not in allowed:
            self.problems.append(f"Rule '{rule}' of {where} is not known; it may be {', '.join(allowed)}.")
        return Choice(rule, *self._sourced(value, where))

    def _thresholds(
        self,
        table: str,
        given: dict[str, Any],
        needed: Mapping[str, tuple[str, ...]],
        optional: Mapping[str, tuple[str, ...]],
    ) -> dict[str, Threshold]:
        found = {}
        for key in sorted(set(given) - set(needed) - set(optional)):
            self.problems.append(f"Unknown threshold '{table}.{key}'.")
        for key, operators in {**needed, **optional}.items():
            where = f"{table}.{key}"
            value = given.get(key)
            if value is None and key in optional:
                continue
            if not isinstance(value, dict):
                self.problems.append(f"'{where}' is missing.")
                continue
            self._only(value, {"operator", "limit", "source", "status"}, where)
            operator = self._text(value, "operator", where)
            if operator and operator not in operators:
                self.problems.append(f"Operator '{operator}' of {where} must be {' or '.join(operators)}.")
            found[key] = Threshold(
                operator, self._integer(value, "limit", where), *self._sourced(value, where)
            )
        return found

    def _index_bands(self, measure: str, codes: tuple[str, ...]) -> tuple[IndexBand, ...]:
        bands = []
        for number, row in enumerate(self._rows(measure), start=1):
            where = f"{measure} band {number}"
            self._only(row, {"code", "lo", "hi", "source", "status"}, where)
            code = self._text(row, "code", where)
            if code and code not in codes:
                self.problems.append(f"Code '{code}' of {where} is not known; it may be {', '.join(codes)}.")
            hi = self._integer(row, "hi", where) if "hi" in row else None
            bands.append(IndexBand(code, self._integer(row, "lo", where), hi, *self._sourced(row, where)))
        bands.sort(key=lambda band: band.lo)
        self._cover(measure, bands, codes)
        return tuple(bands)

    def _cover(self, measure: str, bands: list[IndexBand], codes: tuple[str, ...]) -> None:
        if not bands:
            return
        if len({band.code for band in bands}) != len(bands):
            self.problems.append(f"{measure}: a band code is used twice.")
        if [codes.index(b.code) for b in bands if b.code in codes] != sorted(
            codes.index(b.code) for b in bands if b.code in codes
        ):
            self.problems.append(f"{measure}: bands must run in the order {', '.join(codes)}.")
        for code in (codes[0], "NORMAL"):
            if code not in {band.code for band in bands}:
                self.problems.append(f"{measure}: band {code} is missing.")
        if bands[0].lo != 0:
            self.problems.append(f"{measure}: the lowest band must start at 0, not {bands[0].lo}.")
        for below, above in pairwise(bands):
            if below.hi is None or above.lo <= below.hi:
                self.problems.append(f"{measure}: bands {below.code} and {above.code} overlap.")
            elif above.lo > below.hi + 1:
                ends = f"{below.code} (to {below.hi}) and {above.code} (from {above.lo})"
                self.problems.append(f"{measure}: there is a gap between {ends}.")
        for band in bands:
            if band.hi is not None and band.hi < band.lo:
                self.problems.append(
                    f"{measure}: band {band.code} ends ({band.hi}) before it starts ({band.lo})."
                )
        if bands[-1].hi is not None:
            self.problems.append(f"{measure}: the highest band must be open upwards (leave out 'hi').")

    def _pressure_bands(self, measure: str) -> tuple[PressureBand, ...]:
        bands = []
        rows = self._rows(measure)
        for number, row in enumerate(rows, start=1):
            where = f"{measure} band {number}"
            self._only(row, {"code", "operator", "limit_mmhg", "source", "status"}, where)
            code = self._text(row, "code", where)
            sourced = self._sourced(row, where)
            if number == len(rows):
                if "limit_mmhg" in row or "operator" in row:
                    self.problems.append(f"{where}: the last band must be open upwards (no limit).")
                bands.append(PressureBand(code, None, None, *sourced))
                continue
            operator = self._text(row, "operator", where)
            if operator and operator not in ("<", "<="):
                self.problems.append(f"Operator '{operator}' of {where} must be < or <=.")
            bands.append(PressureBand(code, operator, self._integer(row, "limit_mmhg", where), *sourced))
        if bands and tuple(band.code for band in bands) != PRESSURE_CODES:
            self.problems.append(f"{measure}: bands must be {', '.join(PRESSURE_CODES)} in this order.")
        limits = [band.limit_mmhg for band in bands if band.limit_mmhg is not None]
        if limits != sorted(set(limits)):
            self.problems.append(f"{measure}: each limit must be above the one before it.")
        return tuple(bands)

    def _outlook(self) -> OutlookRules:
        table = self._table("outlook")
        self._only(table, {"choices", "limits", "ratios"}, "outlook")
        given = table.get("limits")
        if not isinstance(given, dict):
            self.problems.append("The table [outlook.limits] is missing.")
            given = {}
        choices = self._choices("outlook.choices", table.get("choices"), OUTLOOK_CHOICES)
        return OutlookRules(
            **choices,
            limits=self._thresholds("outlook.limits", given, OUTLOOK_LIMITS, OUTLOOK_OPTIONAL),
            ratios=self._ratios(table.get("ratios", [])),
        )

    def _ratios(self, rows: Any) -> tuple[Ratio, ...]:
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self.problems.append("The ratios [[outlook.ratios]] must be a list of tables.")
            return ()
        return tuple(self._ratio(row, f"outlook.ratios {number}") for number, row in enumerate(rows, start=1))

    def _ratio(self, row: dict[str, Any], where: str) -> Ratio:
        self._only(row, {"test", "operator", "limit", "ratio_hundredths", "source", "status"}, where)
        test, operator = self._text(row, "test", where), self._text(row, "operator", where)
        if test and test not in RATIO_TESTS:
            self.problems.append(f"Test '{test}' of {where} may be {', '.join(RATIO_TESTS)}.")
        if operator and operator not in OPERATORS:
            self.problems.append(f"Operator '{operator}' of {where} must be {' or '.join(OPERATORS)}.")
        ratio = self._integer(row, "ratio_hundredths", where)
        if ratio == 0:
            self.problems.append(f"'ratio_hundredths' of {where} must be above 0.")
        when = Threshold(operator, self._integer(row, "limit", where), *self._sourced(row, where))
        return Ratio(test, when, ratio)

    def _outlook_order(self, outlook: OutlookRules | None, thresholds: dict[str, Threshold]) -> None:
        """A pressure may not be urgent and likely to heal at once; days must run forwards."""
        limits = {**thresholds, **(outlook.limits if outlook else {})}
        for lower, higher in (
            ("urgent_toe_mmhg", "likely_toe_mmhg"),
            ("urgent_oxygen_mmhg", "likely_oxygen_mmhg"),
            ("area_first_days", "area_last_days"),
            ("slow_healing_days", "image_regardless_days"),
        ):
            if {lower, higher} <= set(limits) and limits[lower].limit > limits[higher].limit:
                self.problems.append(f"The limit of {lower} must not be above that of {higher}.")

    def _order(self, thresholds: dict[str, Threshold]) -> None:
        names = ["arm_difference_10_mmhg", "arm_difference_15_mmhg", "arm_difference_20_mmhg"]
        limits = [thresholds[name].limit for name in names if name in thresholds]
        if limits != sorted(limits):
            self.problems.append("The three arm differences must rise.")

    def _noise_above_0(self, noise: dict[str, Threshold]) -> None:
        for key, sd in noise.items():
            if sd.limit == 0:
                self.problems.append(f"'limit' of noise.{key} must be above 0: no reading is without error.")

    def _urgency(self, rule: Choice, thresholds: dict[str, Threshold]) -> None:
        """A rule that counts the index must name its limit: left out, an urgent foot would pass unseen."""
        counts_index = rule.rule != "pressures_only"
        if counts_index != ("urgent_abi_hundredths" in thresholds):
            verb = "needs" if counts_index else "must not have"
            self.problems.append(f"Urgency rule '{rule.rule}' {verb} 'thresholds.urgent_abi_hundredths'.")
