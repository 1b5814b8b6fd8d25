"""The outlook of a foot as it was kept: marked in the act that changes the record, made when it is looked at.

As with what the patient page keeps (docs/decisions/612-what-is-kept-of-a-record.md): an act only puts a new
mark, so no service can forget it. Whoever looks next has it made; that changes nothing on record and leaves
no line in the trail.
"""

from collections.abc import Collection
from dataclasses import replace
from functools import lru_cache
from typing import Any

from django.db.models import F

from access.kept import code_of, mark_of, put_marks
from access.people import Person
from access.permissions import require
from exams.hemodynamics import Criteria, Grade, own_outcomes
from exams.hemodynamics import Side as CoreSide
from exams.patients.models import Patient
from exams.patients.queries import today_in
from exams.wounds.models import KeptOutlook
from exams.wounds.plain import plain, read_back
from exams.wounds.queries.foot import FootOutlook, foot_now
from exams.wounds.queries.outcomes import counts_alike
from exams.wounds.queries.outlook import outlook_criteria, read_of
from exams.wounds.queries.shown import OutlookAsked

# The rooms whose code an outlook comes from.
_FED_BY = ("hemodynamics", "patients", "visits", "wounds")
_SIDES = tuple(side.value for side in CoreSide)


def outlook_for(
    person: Person, patient: Patient, side: str, *, pre_test_percent: int | None = None
) -> OutlookAsked:
    """The healing outlook of one foot today, with the clinic's own outcomes; a fixed number of queries.

    ``pre_test_percent`` is the chance of healing before the test, 1 to 99, where somebody chose one.
    """
    require(person, "see wounds", patient)
    criteria = outlook_criteria(patient.clinic)
    rules = criteria.outlook
    if pre_test_percent is not None and rules is not None and rules.ratios:
        read = read_of(patient, today_in(patient.clinic))
        foot = foot_now(read, side, criteria, pre_test_percent)
    else:
        foot = _kept_foot(patient, criteria, side)
    if rules is not None:
        # Not of this record: every episode that ends anywhere in the clinic may change it.
        alike = counts_alike(patient.clinic, foot.toe_band, foot.wound_grade)
        foot = replace(foot, answer=replace(foot.answer, own_outcomes=own_outcomes(alike, rules)))
    return OutlookAsked(foot, criteria)


def foot_risks(patient: Patient) -> dict[str, Grade]:
    """The IWGDF foot-risk category of each foot today; a fixed number of queries."""
    criteria = outlook_criteria(patient.clinic)
    return {side: _kept_foot(patient, criteria, side).risk for side in _SIDES}


def mark_changed(patients: Collection[int]) -> None:
    """Let what was kept of these records count no more. Part of the act that changed them; one query."""
    put_marks(KeptOutlook, patients)


def _kept_foot(patient: Patient, criteria: Criteria, side: str) -> FootOutlook:
    """As it was kept, for one query, or made now and then kept."""
    rules = _made_by(patient, criteria)
    kept = KeptOutlook.objects.filter(pk=patient.pk, made_of=F("mark"), made_by=rules)
    found: Any = kept.values_list(side, flat=True).first()
    if found is None:
        found = _make(patient, criteria, rules)[side]
    foot: FootOutlook = read_back(FootOutlook, found)
    return foot


def _make(patient: Patient, criteria: Criteria, rules: str) -> dict[str, Any]:
    # The mark is read before the record: an act that ends meanwhile puts another, and nothing is kept then.
    mark = mark_of(KeptOutlook, patient.pk)
    made = made_now(patient, criteria)
    KeptOutlook.objects.filter(pk=patient.pk, mark=mark).update(made_of=mark, made_by=rules, **made)
    return made


def made_now(patient: Patient, criteria: Criteria) -> dict[str, Any]:
    """Both feet as they are kept, from the rows of the record."""
    read = read_of(patient, today_in(patient.clinic))
    return {side: plain(foot_now(read, side, criteria)) for side in _SIDES}


def keep_now(patient: Patient) -> None:
    """Have both feet made, so that whoever looks next need not wait."""
    foot_risks(patient)


def differing_feet(patient: Patient) -> list[str]:
    """Sides of which an outlook counts as kept that would be made otherwise now."""
    criteria = outlook_criteria(patient.clinic)
    counting = KeptOutlook.objects.filter(
        pk=patient.pk, made_of=F("mark"), made_by=_made_by(patient, criteria)
    ).first()
    if counting is None:
        return []
    return [side for side, now in made_now(patient, criteria).items() if getattr(counting, side) != now]


def _made_by(patient: Patient, criteria: Criteria) -> str:
    """By what it is made beside the record: the day, the criteria, the clinic's clock and the code."""
    adopted = f"{criteria.name}@{criteria.version} {criteria.content_hash[:16]}"
    return f"{today_in(patient.clinic)} {_code()} {adopted} {patient.clinic.time_zone}"


@lru_cache(maxsize=1)
def _code() -> str:
    """What this process runs: any change to the core or to a room that feeds it makes everything anew."""
    return code_of(f"exams/{room}/**/*.{kind}" for room in _FED_BY for kind in ("py", "toml"))
