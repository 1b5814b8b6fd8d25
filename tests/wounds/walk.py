"""Example objects of this room for the walk through every page."""

from exams.wounds.services import correct_assessment, keep_photograph
from tests.build import new_patient
from tests.wounds.make import assess, photograph, today, wound


def examples(cast):
    by = cast.wound_nurse
    patient = new_patient(cast.measurer)
    shown = wound(by, patient)
    picture = keep_photograph(wound=shown, content=photograph(), taken_on=today(), by=by)
    assess(by, shown, ago=9, length_mm=25)
    seen = correct_assessment(
        assessment=assess(by, shown), reason="photographed", photograph_id=picture.pk, by=by
    )
    of_patient = {"patient_id": patient.pk}
    of_wound = {**of_patient, "wound_id": shown.pk}
    of_assessment = {**of_wound, "assessment_id": seen.pk}
    of_picture = {**of_patient, "photograph_id": picture.pk}
    of_foot = {**of_patient, "side": "right"}
    return {
        "wounds:patient": of_patient,
        "wounds:new": of_patient,
        "wounds:lost": of_patient,
        "wounds:outlook": of_foot,
        "wounds:salvage": of_foot,
        "wounds:photograph": of_picture,
        "wounds:withdraw_photograph": of_picture,
        "wounds:wound": of_wound,
        "wounds:assess": of_wound,
        "wounds:close": of_wound,
        "wounds:correct": of_wound,
        "wounds:withdraw": of_wound,
        "wounds:correct_assessment": of_assessment,
        "wounds:trace": of_assessment,
        "wounds:withdraw_assessment": of_assessment,
        "wounds_api:patient_wounds": of_patient,
        "wounds_api:wound": of_wound,
        "wounds_api:close": of_wound,
        "wounds_api:assessments": of_wound,
        "wounds_api:assessment": of_assessment,
        "wounds_api:assessment_withdrawal": of_assessment,
        "wounds_api:photographs": of_wound,
        "wounds_api:photograph": of_picture,
        "wounds_api:picture": of_picture,
        "wounds_api:photograph_withdrawal": of_picture,
    }
