"""The door of the core: what was measured in, findings out.

Pure: no Django, no database, no files but its own criteria. Everything outside ``exams.hemodynamics`` imports
from here and from nowhere inside.
"""

from __future__ import annotations

from exams.hemodynamics.change import change, comparability, outcome_scale
from exams.hemodynamics.criteria import (
    DEFAULT_CRITERIA,
    Criteria,
    criteria_names,
    criteria_versions,
    load_criteria,
    read_criteria,
)
from exams.hemodynamics.errors import CriteriaError, InputError
from exams.hemodynamics.findings import Beyond, Finding, Input, Interpretation, Interval, NotStated
from exams.hemodynamics.flags import FLAGS
from exams.hemodynamics.interpretation import compare_criteria, interpret
from exams.hemodynamics.measured import (
    ANKLE_SITES,
    ARM_LIMITS_HALF_MMHG,
    FOOT_LIMITS_HALF_MMHG,
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
    pressure,
)
from exams.hemodynamics.repeatability import REPEATABILITY, Repeatability
from exams.hemodynamics.summary import conclusion_draft, limb_sentence

__all__ = [
    "ANKLE_SITES",
    "ARM_LIMITS_HALF_MMHG",
    "DEFAULT_CRITERIA",
    "FLAGS",
    "FOOT_LIMITS_HALF_MMHG",
    "REPEATABILITY",
    "TOE_SITES",
    "Beyond",
    "Conditions",
    "Context",
    "Criteria",
    "CriteriaError",
    "Finding",
    "Input",
    "InputError",
    "Interpretation",
    "Interval",
    "LimbFacts",
    "MeasuredExam",
    "MeasuredLimb",
    "NotStated",
    "Outcome",
    "Position",
    "Repeatability",
    "Side",
    "Site",
    "SiteReading",
    "change",
    "comparability",
    "compare_criteria",
    "conclusion_draft",
    "criteria_names",
    "criteria_versions",
    "interpret",
    "limb_sentence",
    "load_criteria",
    "outcome_scale",
    "pressure",
    "read_criteria",
]
