"""The door of the core: what was measured in, findings out.

Pure: no Django, no database, no files but its own criteria. Everything outside ``exams.hemodynamics`` imports
from here and from nowhere inside.
"""

from __future__ import annotations

from exams.hemodynamics.errors import CriteriaError, InputError
from exams.hemodynamics.findings import Beyond, Finding, Input, Interpretation, Interval, NotStated
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


class Criteria:
    """Diagnostic criteria, checked; ``.name``, ``.version``, ``.title``, ``.content_hash``, ``.text``."""


def criteria_names() -> tuple[str, ...]:
    """Names of the criteria shipped: "acc-aha-2024" (the default) first."""
    raise NotImplementedError


def load_criteria(name: str, version: str | None = None) -> Criteria:
    """The shipped criteria of that name, latest version unless given; InputError("criteria.unknown")."""
    raise NotImplementedError


def read_criteria(text: str) -> Criteria:
    """Check criteria written as TOML (a clinic's draft); CriteriaError names every fault."""
    raise NotImplementedError


def interpret(exam: MeasuredExam, criteria: Criteria, context: Context) -> Interpretation:
    """Every finding of an exam."""
    raise NotImplementedError


def compare_criteria(
    exam: MeasuredExam, criteria: tuple[Criteria, ...], context: Context
) -> tuple[Interpretation, ...]:
    """The same exam under each of the criteria, in the order given."""
    raise NotImplementedError


def limb_sentence(interpretation: Interpretation, side: Side) -> str:
    """One sentence for one limb: "RIGHT: …"."""
    raise NotImplementedError


def conclusion_draft(interpretation: Interpretation) -> str:
    """Several short sentences, RIGHT then LEFT, for a clinician to edit."""
    raise NotImplementedError


def comparability(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    *,
    revascularised_between: bool = False,
) -> tuple[str, ...]:
    """Why a measure of two exams may not be compared, in plain words; empty if it may."""
    raise NotImplementedError


def change(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    criteria: Criteria,
    *,
    revascularised_between: bool = False,
) -> Finding:
    """Later minus earlier with its noise band; band BEYOND_NOISE, WITHIN_NOISE or NOT_COMPARABLE."""
    raise NotImplementedError


__all__ = [
    "ANKLE_SITES",
    "ARM_LIMITS_HALF_MMHG",
    "FOOT_LIMITS_HALF_MMHG",
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
    "Side",
    "Site",
    "SiteReading",
    "change",
    "comparability",
    "compare_criteria",
    "conclusion_draft",
    "criteria_names",
    "interpret",
    "limb_sentence",
    "load_criteria",
    "pressure",
    "read_criteria",
]
