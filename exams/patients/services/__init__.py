"""What changes a patient's record: each a verb, one act, with its line in the trail.

Words for a person to read stand here and not in the forms, so that page and interface say the same.
"""

from exams.patients.services.cautions import add_caution, end_caution, review_caution
from exams.patients.services.common import on_life_changed, on_limb_changed
from exams.patients.services.limb_facts import (
    correct_limb_fact,
    end_limb_fact,
    record_limb_fact,
    withdraw_limb_fact,
)
from exams.patients.services.lived import OnRecord, on_life_asked
from exams.patients.services.records import (
    STALE,
    add_identifier,
    change_patient,
    register_patient,
    withdraw_identifier,
)

__all__ = [
    "STALE",
    "OnRecord",
    "add_caution",
    "add_identifier",
    "change_patient",
    "correct_limb_fact",
    "end_caution",
    "end_limb_fact",
    "on_life_asked",
    "on_life_changed",
    "on_limb_changed",
    "record_limb_fact",
    "register_patient",
    "review_caution",
    "withdraw_identifier",
    "withdraw_limb_fact",
]
