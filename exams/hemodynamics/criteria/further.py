"""Which limits the further tests ask of criteria, and those of criteria from before they had their own."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path

from exams.hemodynamics.criteria.model import Source, Threshold

_BEFORE = Path(__file__).parent / "further-tests.toml"
_UP, _DOWN = (">", ">="), ("<", "<=")
# Every limit that the further tests ask for, with the operators that make sense there.
FURTHER = {
    "exercise_drop_percent": _UP,
    "exercise_ankle_fall_mmhg": _UP,
    "exercise_index_hundredths": _DOWN,
    "exercise_recovery_s": _UP,
    "exercise_first_reading_s": _UP,
    "thigh_4_cuff_normal_hundredths": _UP,
    "thigh_3_cuff_normal_hundredths": _UP,
    "thigh_occlusion_hundredths": _DOWN,
    "thigh_above_arm_mmhg": _DOWN,
    "segment_gradient_suspicious_mmhg": _UP,
    "segment_gradient_significant_mmhg": _UP,
    "segment_reverse_gradient_mmhg": _UP,
    "side_to_side_mmhg": _UP,
    "pulse_volume_flat_category": _UP,
    "oxygen_normal_mmhg": _UP,
    "oxygen_severe_mmhg": _DOWN,
    "oxygen_wifi_3_mmhg": _DOWN,
    "oxygen_wifi_2_mmhg": _DOWN,
    "oxygen_wifi_1_mmhg": _DOWN,
    "oxygen_index_good_hundredths": _UP,
    "oxygen_index_poor_hundredths": _DOWN,
    "category_1_ankle_mmhg": _UP,
    "category_1_fall_mmhg": _UP,
    "category_3_ankle_mmhg": _DOWN,
    "category_4_ankle_mmhg": _DOWN,
    "category_4_toe_mmhg": _DOWN,
    "category_5_ankle_mmhg": _DOWN,
    "category_5_toe_mmhg": _DOWN,
    "fontaine_pain_free_m": _DOWN,
}
# The lower limit of each of these pairs may not lie above the upper one.
RISING = (
    ("segment_gradient_suspicious_mmhg", "segment_gradient_significant_mmhg"),
    ("oxygen_severe_mmhg", "oxygen_normal_mmhg"),
    ("oxygen_wifi_3_mmhg", "oxygen_wifi_2_mmhg"),
    ("oxygen_wifi_2_mmhg", "oxygen_wifi_1_mmhg"),
    ("oxygen_index_poor_hundredths", "oxygen_index_good_hundredths"),
)
# Sources that a further finding names without a limit: the terms of waveforms, and a doubt about exercise.
NAMED_WITHOUT_A_LIMIT = ("KIM20", "KYTE23")


@lru_cache(maxsize=1)
def limits_before() -> tuple[dict[str, Threshold], dict[str, Source]]:
    """The limits that every version 1 was read with, and their sources; the file is frozen with them."""
    data = tomllib.loads(_BEFORE.read_text(encoding="utf-8"))
    limits = {name: Threshold(**row) for name, row in data["further"].items()}
    return limits, {key: Source(key, title) for key, title in data["sources"].items()}
