"""Example objects of this room for the walk through every page."""

from tests.build import exam_with
from tests.identity.make import merge, two_records
from tests.patients.make import register


def examples(cast):
    survivor, merged = two_records(cast.measurer, identifiers=[("Lock Street", "LS 7")])
    merge(survivor, merged, cast.reporter)
    other = register(cast.measurer, given_name="Irisa", duplicate_reason="not seen", telephone="01632 960002")
    exam = {"exam_id": exam_with(cast.measurer, survivor, arm_right=140).pk}
    record = {"patient_id": survivor.pk}
    pair = {**record, "other": other.pk}
    return {
        "identity:record": record,
        "identity:record_part": record,
        "identity:compare": pair,
        "identity:different": pair,
        "identity:merge": {"merge_id": survivor.merges.get().pk},
        "identity:wrong_person": exam,
        "identity:exam_part": exam,
    }
