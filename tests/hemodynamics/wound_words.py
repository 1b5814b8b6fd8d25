"""Wounds and questions in few words: wound(deepest="tendon"), asked("arm 150, dp 70, toe 35")."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from exams.hemodynamics import (
    AreaReading,
    AssessedWound,
    Context,
    InfectionSigns,
    LimbFacts,
    OutlookQuestion,
    Oxygen,
    PressureExam,
    Side,
    SystemicSigns,
    Waveform,
    WoundCourse,
    load_criteria,
    outlook,
    oxygen_findings,
    pulse_volume_finding,
    threatened_limb,
    waveform_finding,
    wifi_infection,
    wound_grade,
)
from exams.hemodynamics.wounds.stage import stage_of
from tests.hemodynamics.readings import exam

DAY = date(2026, 3, 20)
CRITERIA = load_criteria("acc-aha-2024")
NO_DIABETES = Context(diabetes="no", kidney_disease="no")
NO_SIGNS = {
    "swelling": "no",
    "tenderness": "no",
    "warmth": "no",
    "pus": "no",
    "erythema_mm": 0,
    "deeper": "no",
    "osteomyelitis": "no",
}
NOT_INFECTED = InfectionSigns(**NO_SIGNS)
# A wound grade, and an infection grade, in what is seen.
SEEN_OF_W = {
    0: None,
    1: {},
    2: {"deepest": "tendon"},
    3: {"deepest": "tendon", "extensive": "yes"},
}
SIGNS_OF_FI = {
    0: {},
    1: {"warmth": "yes", "pus": "yes"},
    2: {"warmth": "yes", "pus": "yes", "deeper": "yes"},
    3: {"warmth": "yes", "pus": "yes", "temperature": "38.4", "heart_rate": 96},
}
TOE_OF_I = {0: 70, 1: 45, 2: 35, 3: 20}


def signs(**seen):
    """Infection signs; all that is not said is "no", temperature and heart rate are normal."""
    systemic = {
        "temperature_celsius": Decimal(seen.pop("temperature", "37.2")),
        "heart_rate": seen.pop("heart_rate", 80),
    }
    for name in ("respiratory_rate", "paco2_mmhg", "white_cells_10_9_l", "band_forms_percent"):
        if name in seen:
            systemic[name] = seen.pop(name)
    return InfectionSigns(**{**NO_SIGNS, **seen}, systemic=SystemicSigns(**systemic))


def wound(**seen):
    """A small, shallow wound of the hallux without infection, unless said otherwise."""
    plain = {
        "side": "right",
        "region": "forefoot",
        "assessed_on": DAY,
        "deepest": "subcutis",
        "extensive": "no",
        "gangrene": "none",
        "infection": NOT_INFECTED,
    }
    return AssessedWound(**{**plain, **seen})


def stage_of_digits(w, i, fi, by_clinician=None):
    """The stage of a limb with these three grades, made from what is seen."""
    infection = wifi_infection(signs(**SIGNS_OF_FI[fi]))
    ulcer = wound_grade(None if SEEN_OF_W[w] is None else wound(**SEEN_OF_W[w]))
    return stage_of(ulcer, ischaemia(f"toe {TOE_OF_I[i]}"), infection, by_clinician)


def further(*, side="right", oxygen=None, flat_forefoot=False, waveforms=None):
    """The findings of further tests; waveforms by artery."""
    found = []
    if oxygen is not None:
        pressure, _ = oxygen_findings(Oxygen(Side(side), "back of foot", 2 * oxygen), CRITERIA)
        found.append(replace(pressure, measure="back_of_foot_oxygen_pressure"))
    if flat_forefoot:
        found.append(pulse_volume_finding(Side(side), "forefoot", 5, CRITERIA))
    for artery, waveform in (waveforms or {}).items():
        found.append(waveform_finding(Side(side), artery, Waveform(**waveform), CRITERIA))
    return tuple(found)


def asked(
    right="",
    left="",
    *,
    days_ago=10,
    side="right",
    wounds=None,
    context=NO_DIABETES,
    oxygen=None,
    flat_forefoot=False,
    waveforms=None,
    toe_celsius=None,
    conditions=None,
    in_care_since=None,
    areas=(),
    **more,
):
    """One exam so many days ago, one shallow wound, no diabetes, unless said otherwise."""
    measured = exam(right, left, conditions=conditions, **{f"{side}_toe_celsius": toe_celsius})
    tests = further(side=side, oxygen=oxygen, flat_forefoot=flat_forefoot, waveforms=waveforms)
    exams = (PressureExam(DAY - timedelta(days_ago), measured, tests),)
    seen = [wound(side=side)] if wounds is None else wounds
    courses = tuple(WoundCourse(str(n), one, in_care_since, areas) for n, one in enumerate(seen, start=1))
    return OutlookQuestion(side, DAY, exams=exams, wounds=courses, context=context, **more)


def answered(right="", left="", *, criteria=CRITERIA, **how):
    return outlook(asked(right, left, **how), criteria)


def ischaemia(right="", *, context=NO_DIABETES, criteria=CRITERIA, **how):
    """The ischaemia grade of the right limb with these readings."""
    return threatened_limb(asked(right, context=context, **how), criteria).ischaemia


def areas(*readings, method="traced"):
    """(day, cm²) pairs as areas."""
    start = date(2026, 1, 1)
    return tuple(
        AreaReading(start + timedelta(day), round(Decimal(str(cm2)) * 100), method) for day, cm2 in readings
    )


def infected_context(side="right"):
    return Context(**{side: LimbFacts(open_wound=True, foot_infection=True)})
