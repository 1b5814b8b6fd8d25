"""Example objects of the patient page and the timeline for the walk through every page."""

from tests.build import whole_exam


def examples(cast):
    of_patient = {"patient_id": whole_exam(cast.measurer).patient_id}
    pages = ("patient", "summary", "timeline", "two_exams", "table")
    return {
        **{f"timeline:{page}": of_patient for page in pages},
        "timeline:figure": {**of_patient, "key": "pressures"},
        "timeline:figure_png": {**of_patient, "key": "pressures"},
    }
