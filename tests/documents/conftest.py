"""The exams that reports are made of."""

import pytest

from tests.build import exam_with, whole_exam


@pytest.fixture
def exam(measurer):
    return whole_exam(measurer, left_hallux=54)


@pytest.fixture
def unmeasured(measurer):
    return exam_with(measurer, arm_right=140)
