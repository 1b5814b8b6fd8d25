"""Exams written as a technologist would say them: exam(right="arm 138, dp 120, pt 128, toe 98", left=…)."""

from decimal import Decimal

from exams.hemodynamics import (
    Conditions,
    Context,
    LimbFacts,
    MeasuredExam,
    MeasuredLimb,
    Outcome,
    Side,
    Site,
    SiteReading,
    interpret,
    load_criteria,
    pressure,
)

SITES = {
    "dp": Site.DORSALIS_PEDIS,
    "pt": Site.POSTERIOR_TIBIAL,
    "peroneal": Site.PERONEAL,
    "toe": Site.TOE_1,
    "toe2": Site.TOE_2,
    "toe3": Site.TOE_3,
}
TECHNIQUES = {"arm": "doppler", "toe": "two_cuffs", "toe2": "two_cuffs", "toe3": "two_cuffs"}


def reading(words, technique="doppler"):
    """ "120", "not_occludable", "not_occludable_at_260", "no_signal" or "not_done:reason" as a reading."""
    if words.startswith("not_occludable"):
        at = words.removeprefix("not_occludable").removeprefix("_at_")
        return SiteReading(Outcome.NOT_OCCLUDABLE, int(Decimal(at) * 2) if at else None, technique=technique)
    if words == "no_signal":
        return SiteReading(Outcome.NO_SIGNAL, technique=technique)
    if words.startswith("not_done"):
        return SiteReading(Outcome.NOT_OBTAINED, reason=words.partition(":")[2] or None, technique=technique)
    return pressure(Decimal(words), technique)


def limb(side, words="", *, toe_celsius=None, toe_technique="two_cuffs"):
    """ "arm 150->146, dp 120, pt 132, toe 98": readings of one side; repeats are joined by "->"."""
    found = {}
    for part in filter(None, (part.strip() for part in words.split(","))):
        name, _, values = part.partition(" ")
        technique = toe_technique if name.startswith("toe") else TECHNIQUES.get(name, "doppler")
        found[name] = tuple(reading(value.strip(), technique) for value in values.split("->"))
    return MeasuredLimb(
        side,
        arm=found.pop("arm", ()),
        ankle={SITES[name]: found[name] for name in found if not name.startswith("toe")},
        toes={SITES[name]: found[name] for name in found if name.startswith("toe")},
        toe_skin_celsius=None if toe_celsius is None else Decimal(toe_celsius),
    )


def exam(right="", left="", *, first_arm=Side.RIGHT, conditions=None, planned=(), **toes):
    """An exam from the words of both sides; ``right_toe_celsius`` and ``toe_technique`` go to the limbs."""
    technique = toes.get("toe_technique", "two_cuffs")
    return MeasuredExam(
        right=limb(Side.RIGHT, right, toe_celsius=toes.get("right_toe_celsius"), toe_technique=technique),
        left=limb(Side.LEFT, left, toe_celsius=toes.get("left_toe_celsius"), toe_technique=technique),
        first_arm=first_arm,
        conditions=conditions or Conditions(),
        planned=frozenset(planned),
    )


def read(right="", left="", *, criteria="acc-aha-2024", context=None, **how):
    """The interpretation of an exam given in words."""
    return interpret(exam(right, left, **how), load_criteria(criteria), context or Context())


def wound(side="right", **more):
    """A context in which one foot has an open wound."""
    return Context(**{side: LimbFacts(open_wound=True, **more)})


def shown(interpretation, measure, side):
    return interpretation.of(measure, Side(side)).shown


def band(interpretation, measure, side):
    return interpretation.of(measure, Side(side)).band


def abi(interpretation, side):
    """Shown ankle-brachial index and its band."""
    return shown(interpretation, "ankle_brachial_index", side), band(
        interpretation, "ankle_brachial_index", side
    )


def tbi(interpretation, side):
    return shown(interpretation, "toe_brachial_index", side), band(interpretation, "toe_brachial_index", side)


def pattern(interpretation, side):
    return band(interpretation, "pattern", side)


def arm_used(interpretation):
    return interpretation.of("arm_used").shown
