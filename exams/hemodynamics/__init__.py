"""The door of the core: what was measured in, findings out.

Pure: no Django, no database, no files but its own criteria. Everything outside ``exams.hemodynamics`` imports
from here and from nowhere inside.
"""

from __future__ import annotations

from exams.hemodynamics.columns import (
    FIRST_LEFT,
    FIRST_RIGHT,
    FIRST_UNKNOWN,
    NO,
    NO_SIGNAL,
    NOT_ASKED,
    NOT_OBTAINED,
    NOT_OCCLUDABLE,
    NOT_TRIED,
    PRESSURE,
    UNKNOWN,
    VOID,
    YES,
)
from exams.hemodynamics.comparison import change, comparability, outcome_scale
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
    ANSWERS,
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
from exams.hemodynamics.table import (
    ARM_COLUMNS,
    FOOT_COLUMNS,
    REPEAT_COLUMNS,
    TableLimb,
    TableResult,
    read_table,
)

__all__ = [
    "ANKLE_SITES",
    "ANSWERS",
    "ARM_COLUMNS",
    "ARM_LIMITS_HALF_MMHG",
    "DEFAULT_CRITERIA",
    "FIRST_LEFT",
    "FIRST_RIGHT",
    "FIRST_UNKNOWN",
    "FLAGS",
    "FOOT_COLUMNS",
    "FOOT_LIMITS_HALF_MMHG",
    "NO",
    "NOT_ASKED",
    "NOT_OBTAINED",
    "NOT_OCCLUDABLE",
    "NOT_TRIED",
    "NO_SIGNAL",
    "PRESSURE",
    "REPEATABILITY",
    "REPEAT_COLUMNS",
    "TOE_SITES",
    "UNKNOWN",
    "VOID",
    "YES",
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
    "TableLimb",
    "TableResult",
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
    "read_table",
]
