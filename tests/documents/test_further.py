"""Further tests in the report: printed in short, frozen when asked for, and nothing where none was done."""

import pytest

from reports.documents import queries
from reports.documents.content import thaw
from tests.build import whole_exam
from tests.documents.make import make, rendered, text_of
from tests.visits.test_further import type_in

pytestmark = pytest.mark.django_db


def test_an_exercise_test_is_printed_with_what_was_entered_and_its_sources(measurer, exam):
    text = text_of(rendered(exam, measurer))

    assert "After exercise" in text
    assert "what was done treadmill, speed 3.2 km/h" in text
    assert "time since the end 1 min, arm 140 mmHg, RIGHT ankle 104 mmHg" in text
    assert "Fall of the index" in text
    assert "AHA12: Aboyans" in text


def test_the_resting_findings_are_not_mixed_with_those_of_further_tests(measurer, exam):
    content = thaw(make(exam, measurer).content)

    assert [one.title for one in content.further] == ["After exercise"]
    assert "Exercise drop" not in [row.label for row in content.findings]
    assert not any("exercise" in one.words for one in content.statements)


def test_a_correction_after_the_report_leaves_it_as_it_was_and_marks_it_outdated(measurer, exam):
    document = make(exam, measurer)

    type_in(exam, "exercise", measurer, reason="digits swapped", after__1__right=140)

    document.refresh_from_db()
    assert "RIGHT ankle 104 mmHg" in thaw(document.content).further[0].entered[1].words
    assert queries.is_outdated(document)
    newer = thaw(make(exam, measurer).content).further[0].entered[1].words
    assert "RIGHT ankle 140 mmHg (before: 104 mmHg; Mina Measurer: digits swapped)" in newer


def test_without_further_tests_the_report_says_nothing_of_them(measurer):
    assert "Further tests" not in text_of(rendered(whole_exam(measurer), measurer))


@pytest.fixture
def exam(measurer):
    exam = whole_exam(measurer)
    type_in(
        exam, "exercise", measurer, reason="entered from paper",
        protocol="treadmill", speed_kmh="3.2",
        after__1__time=1, after__1__arm=140, after__1__right=104, after__1__left=150,
    )  # fmt: skip
    return exam
