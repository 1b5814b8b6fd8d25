"""Which criteria a clinic reads by, two criteria side by side, and findings computed again."""

from io import StringIO

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.management import CommandError, call_command

from exams.hemodynamics import Side
from exams.visits.models import Result
from exams.visits.queries.comparison import comparison_of
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import adopt_criteria, correct_reading
from exams.visits.typed import read_reading
from tests.build import exam_with, reading_at, whole_exam


def recompute(*options):
    said = StringIO()
    call_command("recompute_results", *options, stdout=said)
    return said.getvalue()


def test_a_clinic_reads_by_the_default_until_it_adopts_another(administrator, clinic):
    assert adopted_by(clinic).name == "acc-aha-2024"

    adopt_criteria(name="aha-2012", version="1", by=administrator)

    assert adopted_by(clinic).name == "aha-2012"


def test_a_measured_exam_keeps_the_criteria_it_was_read_by(measurer, administrator):
    exam = whole_exam(measurer)
    adopt_criteria(name="aha-2012", version="1", by=administrator)
    first = reading_at(exam, "right_hallux")

    correct_reading(
        reading=first,
        value=read_reading("84", "toe_1"),
        technique=first.technique,
        reason="digits swapped",
        by=measurer,
    )

    assert stored_interpretation(exam).criteria_name == "acc-aha-2024"
    assert stored_interpretation(whole_exam(measurer)).criteria_name == "aha-2012"


def test_criteria_that_are_not_shipped_cannot_be_adopted(administrator):
    with pytest.raises(ValidationError, match="Choose one of the criteria"):
        adopt_criteria(name="homemade", version="1", by=administrator)


def test_a_measurer_does_not_adopt_criteria(measurer):
    with pytest.raises(PermissionDenied):
        adopt_criteria(name="aha-2012", version="1", by=measurer)


def test_one_exam_under_two_criteria_shows_what_would_be_said_otherwise(measurer):
    # 100 over 100 is normal from 1.00 in the 2024 guideline and borderline up to 1.00 in that of 2012.
    exam = exam_with(measurer, arm_right=100, right_posterior_tibial=100, right_dorsalis_pedis=100)

    compared = comparison_of(measurer, exam.pk, "aha-2012")

    line = next(
        line
        for line in compared.lines
        if line.side == "RIGHT" and line.here.measure == "ankle_brachial_index"
    )
    assert line.here.shown == line.there.shown == "1.00"


def test_recomputing_finds_nothing_where_nothing_changed(measurer):
    whole_exam(measurer)

    assert recompute("--check") == "1 exams looked at, 0 differ.\n"


def test_recomputing_names_what_differs_and_changes_nothing(measurer):
    exam = whole_exam(measurer, right_hallux=48)
    _falsify(exam)

    with pytest.raises(CommandError, match="differ"):
        recompute("--check")

    assert stored_interpretation(exam).of("toe_pressure", Side.RIGHT).shown == "99 mmHg"


def test_recomputing_stores_again_as_a_named_person(measurer):
    exam = whole_exam(measurer, right_hallux=48)
    _falsify(exam)

    said = recompute("--store-as", measurer.user.email)

    assert f"exam {exam.pk}, right, toe_pressure: stored '99 mmHg" in said
    assert stored_interpretation(exam).of("toe_pressure", Side.RIGHT).shown == "48 mmHg"


def _falsify(exam):
    row = Result.objects.get(exam=exam, limb="right", measure="toe_pressure")
    row.finding["shown"] = "99 mmHg"
    row.save()
