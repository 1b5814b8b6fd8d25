"""What may be typed about a person, a caution or a fact of a limb; and the words when it may not."""

from exams.patients.forms.cautions import CautionForm, StillTrueForm
from exams.patients.forms.fields import LineField, ReasonForm, RoomForm, TypedDateField
from exams.patients.forms.limb_facts import CorrectFactForm, EndFactForm, FactForm
from exams.patients.forms.people import (
    IDENTIFIER_ROWS,
    ChangePatientForm,
    IdentifierForm,
    NewPatientForm,
)

__all__ = [
    "IDENTIFIER_ROWS",
    "CautionForm",
    "ChangePatientForm",
    "CorrectFactForm",
    "EndFactForm",
    "FactForm",
    "IdentifierForm",
    "LineField",
    "NewPatientForm",
    "ReasonForm",
    "RoomForm",
    "StillTrueForm",
    "TypedDateField",
]
