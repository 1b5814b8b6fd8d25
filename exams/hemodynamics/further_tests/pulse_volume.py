"""Pulse-volume recording: a category chosen by the measurer, never computed from a height in mm.

Source: RAINES, from memory (clinical reference 5.4); amplitude depends on the equipment.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding
from exams.hemodynamics.further_tests.limits import further_finding, meets
from exams.hemodynamics.measured import Side

CONTOURS: Mapping[int, tuple[str, str]] = {
    1: ("normal", "sharp upstroke with a dicrotic notch"),
    2: ("mild", "notch lost, downslope bows outward"),
    3: ("moderate", "rounded, no notch"),
    4: ("severe", "low, upstroke and downslope nearly equal"),
    5: ("flat", "flat"),
}


def is_flat_or_barely_pulsatile(category: int, criteria: Criteria) -> bool:
    """Whether it supports category 4 to 6 of RUTH97 and, at the forefoot, ischaemia grade 3 of WIFI14."""
    return meets(criteria, "pulse_volume_flat_category", category)


def pulse_volume_finding(side: Side, place: str, category: int, criteria: Criteria) -> Finding:
    """The chosen category of one cuff in words.

    Raises
    ------
    InputError
        ``pulse_volume.unknown_category`` for anything but 1 to 5.
    """
    if category not in CONTOURS:
        raise InputError("pulse_volume.unknown_category", "category", category, tuple(CONTOURS))
    grade, contour = CONTOURS[category]
    flat = is_flat_or_barely_pulsatile(category, criteria)
    return further_finding(
        criteria, f"{place}_pulse_volume", side, Decimal(category), "",
        criteria.further["pulse_volume_flat_category"],
        band=grade.upper(), band_words=grade, flags=("FLAT_PULSE_VOLUME",) if flat else (),
        said=f"{side.word} {place.replace('_', ' ')} pulse volume category {category} ({contour})",
        rule="category chosen by the measurer",
    )  # fmt: skip
