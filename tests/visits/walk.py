"""Example objects of the exam sheet for the walk through every page."""

from tests.build import exam_with, new_patient, reading_at
from tests.visits.test_agreement import measured_twice, paired


def examples(cast):
    exam = exam_with(cast.measurer, arm_right=140, right_hallux=24)
    slip = {"hand_over_id": exam.hand_overs.get().pk}
    sheet = {"exam_id": exam.pk}
    reading = {"reading_id": reading_at(exam, "right_hallux").pk}
    further = {**sheet, "test": "exercise"}
    earlier, corrected = measured_twice(cast.measurer)
    paired(cast.measurer, earlier, corrected)
    return {
        "visits:more_tests": sheet,
        "visits:more_tests_part": sheet,
        "visits:further": further,
        "visits:further_save": further,
        "visits:further_correct": {"exam_id": corrected.pk, "test": "exercise", "field": "duration"},
        "visits:category": sheet,
        "visits:category_save": sheet,
        "visits:category_correct": {"exam_id": corrected.pk, "field": "right.fontaine"},
        "visits:book": {"patient_id": new_patient(cast.measurer).pk},
        "visits:sheet": sheet,
        "visits:step": sheet,
        "visits:save": sheet,
        "visits:compare": sheet,
        "visits:agreement": {"exam_id": corrected.pk},
        "visits:agreement_withdraw": {"exam_id": corrected.pk},
        "visits:correct": {**sheet, "reading_id": reading_at(exam, "right_hallux").pk},
        "visits:correct_condition": {"exam_id": corrected.pk, "item": "position"},
        "visits_api:exam": sheet,
        "visits_api:step": sheet,
        "visits_api:condition": sheet,
        "visits_api:exam_readings": sheet,
        "visits_api:exam_findings": sheet,
        "visits_api:further_tests": sheet,
        "visits_api:further_test": further,
        "visits_api:hand_over": slip,
        "visits_api:reading": reading,
        "visits_api:reading_withdrawal": reading,
        "visits:hand_over": slip,
        "visits:hand_over_attempt": slip,
        "visits:hand_over_error": slip,
    }
