"""Rows of this room as the core takes them: what a wound is graded by, and what the outlook is asked with."""

from collections.abc import Collection, Iterable, Sequence

from exams.hemodynamics import (
    AmputationLevel,
    AreaMethod,
    AreaReading,
    AssessedWound,
    Cause,
    FootFacts,
    InfectionSigns,
    Interpretation,
    LimbEvent,
    OtherCause,
    Region,
    SystemicSigns,
    WoundCourse,
)
from exams.hemodynamics import Gangrene as CoreGangrene
from exams.hemodynamics import Side as CoreSide
from exams.hemodynamics import Tissue as CoreTissue
from exams.patients.events import FactKind
from exams.patients.models import LimbFact, Patient
from exams.wounds.codes import Depth, Gangrene, InfectionLooked, LocalSign, Yes
from exams.wounds.models import Assessment, WoundEntry
from exams.wounds.places import HEEL


def assessed_wound(entry: WoundEntry, found: Assessment) -> AssessedWound:
    """One wound as seen on one day.

    Raises
    ------
    InputError
        For what cannot be together, such as gangrene of the toes of a wound at the heel.
    """
    place = entry.where
    toe = place.toe if place.code.startswith("toe_") else None
    bone = found.depth in (Depth.BONE, Depth.PHALANX)
    traced = found.area_mm2 if found.area_how == "traced" else None
    return AssessedWound(
        side=CoreSide(entry.side),
        region=Region(place.part),
        assessed_on=found.assessed_on,
        toe=toe,
        cause=Cause(entry.cause),
        length_mm=found.length_mm,
        width_mm=found.width_mm,
        traced_area_mm2=traced,
        deepest=_deepest(found.depth),
        bone_only_in_distal_phalanx=_yes(found.depth == Depth.PHALANX) if bone else "unknown",
        calcaneus=_yes(bone) if place.part == HEEL and found.depth != Depth.NOT_SEEN else "unknown",
        extensive=found.extensive,
        gangrene=None if found.gangrene == Gangrene.NOT_SEEN else CoreGangrene(found.gangrene),
        infection=_infection(found),
    )


def foot_facts(
    patient: Patient,
    side: str,
    facts: Iterable[LimbFact],
    found: Assessment | None,
    *,
    past_ulcer: bool,
    arterial_disease: str = "unknown",
) -> FootFacts:
    """What is known of a foot beside the wound. ``facts`` are the standing ones of the person."""
    standing = [fact for fact in facts if fact.side in (side, "")]
    events = [event for fact in standing if (event := fact.event)]
    kinds = {fact.kind for fact in standing}
    felt = found.feeling_lost if found else Yes.UNKNOWN
    pulses = found.pulses if found else Yes.UNKNOWN
    treated = FactKind.REVASCULARISATION in kinds
    return FootFacts(
        sensation_lost=patient.neuropathy if felt == Yes.UNKNOWN else felt,
        pulse_felt=pulses,
        deformity=found.deformity if found else Yes.UNKNOWN,
        arterial_disease="yes" if treated else arterial_disease,
        past_ulcer="yes" if past_ulcer else "unknown",
        past_minor_amputation=_lost(events, major=False),
        past_major_amputation=_lost(events, major=True),
        # Kidney disease says nothing of its stage; its absence does.
        end_stage_kidney_disease=(
            "yes" if FactKind.DIALYSIS in kinds else "no" if patient.kidney_disease == "no" else "unknown"
        ),
    )


def area_readings(found: Sequence[Assessment]) -> tuple[AreaReading, ...]:
    """The areas of one wound so far."""
    return tuple(
        AreaReading(one.assessed_on, one.area_mm2, AreaMethod(one.area_how))
        for one in found
        if one.area_mm2 is not None
    )


def wound_course(entry: WoundEntry, found: Sequence[Assessment]) -> WoundCourse:
    """One open wound with everything found of it, the oldest first; at least one assessment."""
    return WoundCourse(
        key=str(entry.wound_id),
        wound=assessed_wound(entry, found[-1]),
        in_care_since=max(entry.presented_on, entry.began_on),
        areas=area_readings(found),
    )


def _deepest(depth: str) -> CoreTissue | None:
    if depth == Depth.NOT_SEEN:
        return None
    return CoreTissue.BONE if depth == Depth.PHALANX else CoreTissue(depth)


def _infection(found: Assessment) -> InfectionSigns:
    systemic = SystemicSigns(
        temperature_celsius=found.celsius,
        heart_rate=found.heart_rate,
        respiratory_rate=found.breaths,
        white_cells_10_9_l=found.white_cells,
    )
    if found.infection_looked == InfectionLooked.NOT_LOOKED:
        return InfectionSigns(osteomyelitis=found.bone_infection, systemic=systemic)
    if found.infection_looked == InfectionLooked.NONE:
        return InfectionSigns("no", "no", "no", "no", 0, "no", found.bone_infection, systemic=systemic)
    seen = found.signs
    return InfectionSigns(
        swelling=_yes(LocalSign.SWELLING in seen),
        tenderness=_yes(LocalSign.PAIN in seen),
        warmth=_yes(LocalSign.WARMTH in seen),
        pus=_yes(LocalSign.PUS in seen),
        erythema_mm=found.redness_mm,
        deeper=_yes(bool(found.deep)),
        osteomyelitis=found.bone_infection,
        explained_by=frozenset(OtherCause(one) for one in found.explanations),
        systemic=systemic,
    )


def _lost(events: Collection[LimbEvent], *, major: bool) -> str:
    # What is not on record was asked when facts are recorded, but nobody has said no.
    levels = [event.level for event in events if event.level is not None]
    return "yes" if any(AmputationLevel(level).is_major is major for level in levels) else "unknown"


def _yes(holds: bool) -> str:
    return "yes" if holds else "no"


_DISEASE = ("PAD_CONCORDANT", "PAD_BY_ANKLE", "CALCIFIED_PAD", "SUSPECT_CALCIFICATION_OR_DISTAL")


def disease_in(found: Iterable[Interpretation | None], side: str) -> str:
    """Whether the newest exam that says so found arterial disease in a limb; what is unclear is unknown."""
    for one in found:
        pattern = one.of("pattern", CoreSide(side)) if one else None
        if pattern is not None and pattern.band in _DISEASE:
            return "yes"
        if pattern is not None and pattern.band == "NORMAL":
            return "no"
    return "unknown"
