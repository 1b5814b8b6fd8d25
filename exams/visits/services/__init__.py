"""What changes an exam: each a verb, one act, with its line in the trail."""

from exams.visits.services.announcing import on_exam_finished
from exams.visits.services.course import (
    book_exam,
    confirm_cautions,
    confirm_identity,
    finish_measuring,
    lie_flat,
    mark_reported,
    not_attended,
    reopen,
    set_indication,
    set_typed_times,
    stop_exam,
)
from exams.visits.services.criteria import adopt_criteria
from exams.visits.services.hand_overs import close_as_raised_in_error, close_hand_over, record_attempt
from exams.visits.services.preparation import record_preparation
from exams.visits.services.readings import correct_reading, record_reading
from exams.visits.services.remarks import answer_remark
from exams.visits.services.results import (
    differences,
    refresh_results,
    reinterpret_latest,
    store_again,
)
from exams.visits.services.saving import Entry, Saved, save_field
from exams.visits.services.whole_sheet import Filled, Noted, record_sheet

__all__ = [
    "Entry",
    "Filled",
    "Noted",
    "Saved",
    "adopt_criteria",
    "answer_remark",
    "book_exam",
    "close_as_raised_in_error",
    "close_hand_over",
    "confirm_cautions",
    "confirm_identity",
    "correct_reading",
    "differences",
    "finish_measuring",
    "lie_flat",
    "mark_reported",
    "not_attended",
    "on_exam_finished",
    "record_attempt",
    "record_preparation",
    "record_reading",
    "record_sheet",
    "refresh_results",
    "reinterpret_latest",
    "reopen",
    "save_field",
    "set_indication",
    "set_typed_times",
    "stop_exam",
    "store_again",
]
