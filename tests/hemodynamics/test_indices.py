"""House rule: every index is documented, banded in every criteria file and published-tested."""

from pathlib import Path

import pytest

from exams.hemodynamics import FLAGS, criteria_names, load_criteria
from exams.hemodynamics.bands import PATTERNS
from exams.hemodynamics.flags import CONDITION_FLAGS
from exams.hemodynamics.indices import ALL_INDICES

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = (ROOT / "docs" / "core.md").read_text(encoding="utf-8")
PUBLISHED = "\n".join(
    path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests" / "published").glob("*.py"))
)


@pytest.mark.parametrize("index", ALL_INDICES, ids=lambda index: index.measure)
def test_an_index_is_documented_banded_and_published_tested(index):
    assert f"`{index.measure}`" in DOCUMENT
    assert all(load_criteria(name).index_bands[index.measure] for name in criteria_names())
    assert index.measure in PUBLISHED
    assert set(index.flags) <= set(FLAGS)


@pytest.mark.parametrize("code", [*PATTERNS, *FLAGS, *CONDITION_FLAGS])
def test_a_code_is_documented(code):
    assert code in DOCUMENT
