"""The core stands alone (design: the core's promise)."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_a_fresh_interpreter_loads_the_core_without_django_and_without_scipy():
    check = (
        "import sys, exams.hemodynamics; "
        "found = [m for m in ('django', 'rest_framework', 'celery', 'scipy') if m in sys.modules]; "
        "sys.exit(', '.join(found) or 0)"
    )

    found = subprocess.run(
        [sys.executable, "-c", check], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert found.stderr == ""
    assert found.returncode == 0
