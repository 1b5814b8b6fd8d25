"""This room's pages for the walk through every URL (tests/access/test_role_walk.py)."""

from tests.patients.make import caution, fact, register


def examples(cast):
    """URL name to the values in its address, for a patient whom ``cast.clinic`` holds."""
    by = cast.measurer
    patient = register(by, identifiers=[("Alder House", "FN 42")])
    identifier = patient.identifiers.get()
    of_patient = {"patient_id": patient.pk}
    of_caution = {**of_patient, "caution_id": caution(by, patient).pk}
    of_fact = {**of_patient, "fact_id": fact(by, patient).pk}
    return {
        "patients:change": of_patient,
        "patients:add_identifier": of_patient,
        "patients:withdraw_identifier": {**of_patient, "identifier_id": identifier.pk},
        "patients:cautions": of_patient,
        "patients:caution_still_true": of_caution,
        "patients:end_caution": of_caution,
        "patients:facts": of_patient,
        "patients:correct_fact": of_fact,
        "patients:end_fact": of_fact,
        "patients:withdraw_fact": of_fact,
        "patients_api:patient": of_patient,
        "patients_api:identifiers": of_patient,
        "patients_api:identifier": {**of_patient, "identifier_id": identifier.pk},
        "patients_api:identifier_withdrawal": {**of_patient, "identifier_id": identifier.pk},
        "patients_api:cautions": of_patient,
        "patients_api:caution": of_caution,
        "patients_api:facts": of_patient,
        "patients_api:fact": of_fact,
        "patients_api:fact_end": of_fact,
        "patients_api:fact_withdrawal": of_fact,
    }
