"""Example objects of the patient page and the timeline for the walk through every page."""

from tests.build import whole_exam


def examples(cast):
    of_patient = {"patient_id": whole_exam(cast.measurer).patient_id}
    return {"timeline:patient": of_patient, "timeline:timeline": of_patient, "timeline:table": of_patient}
