"""Criteria with another rule, for the published choices that no shipped guideline makes."""

import re
from dataclasses import dataclass

import pytest

from exams.hemodynamics import Context, Criteria, interpret, load_criteria, read_criteria
from tests.hemodynamics.readings import exam


@dataclass
class OtherCriteria:
    criteria: Criteria

    def read(self, right="", left="", *, context=None):
        return interpret(exam(right, left), self.criteria, context or Context())


@pytest.fixture
def criteria_with():
    """criteria_with(ankle="mean"): the default criteria with another numerator, arm or repeat rule."""

    def change_rules(**rules):
        text = load_criteria("acc-aha-2024").text
        for choice, rule in rules.items():
            text = re.sub(rf'^{choice} = {{ rule = "\w+"', f'{choice} = {{ rule = "{rule}"', text, flags=re.M)
        return OtherCriteria(read_criteria(text))

    return change_rules
