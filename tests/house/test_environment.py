"""Every environment variable is documented, and nothing documented is imaginary."""

import re

from tests.house.files import HOUSE, files

VARIABLE = re.compile(r"\bVASLAB_[A-Z][A-Z_]*[A-Z]\b")


def test_the_readme_lists_every_variable_and_no_other():
    used = {found for path in files("*.py", "run", ".ci/run") for found in VARIABLE.findall(path.read_text())}
    table = [line for line in (HOUSE / "README.md").read_text().splitlines() if line.startswith("| `VASLAB_")]

    assert {line.split("`")[1] for line in table} == used


def test_only_env_py_reads_the_environment_of_the_service():
    ours = files("vaslab/*.py", "access/*.py", "jobs/*.py", "exams/*.py", "reports/*.py")
    readers = [path.name for path in ours if re.search(r"environ\.get|environ\[|getenv", path.read_text())]

    assert readers == []
