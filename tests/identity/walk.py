"""Example objects of this room for the walk through every page."""

from datetime import date

from tests.build import exam_with
from tests.identity.make import merge
from tests.patients.make import register


def examples(cast):
    survivor, merged, other = (
        register(cast.measurer, "Twinley", given, birth_date=date(1931, 5, 4), duplicate_reason="not seen")
        for given in ("Una", "Unaa", "Ina")
    )
    merge(survivor, merged, cast.reporter)
    exam = {"exam_id": exam_with(cast.measurer, survivor, arm_right=140).pk}
    record = {"patient_id": survivor.pk}
    pair = {**record, "other": other.pk}
    return {
        "identity:record": record,
        "identity:compare": pair,
        "identity:different": pair,
        "identity:merge": {"merge_id": survivor.merges.get().pk},
        "identity:wrong_person": exam,
        "identity:exam_part": exam,
    }
