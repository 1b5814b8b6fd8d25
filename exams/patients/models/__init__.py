"""What is stored of a person and their limbs, and what is always true of it."""

from exams.patients.events import FactKind, Side
from exams.patients.models.cautions import Caution, CautionKind, Region
from exams.patients.models.limb_facts import LimbFact
from exams.patients.models.people import EARLIEST_BIRTH, Answer, Identifier, Patient, Sex, Tobacco

__all__ = [
    "EARLIEST_BIRTH",
    "Answer",
    "Caution",
    "CautionKind",
    "FactKind",
    "Identifier",
    "LimbFact",
    "Patient",
    "Region",
    "Sex",
    "Side",
    "Tobacco",
]
