"""By which rules something is kept: those of the clinic, and the very code that makes it."""

from collections.abc import Sequence
from functools import lru_cache
from hashlib import sha256

from access.kept import code_of
from exams.hemodynamics import Criteria, OwnNoise
from exams.patients.models import Patient

# Where the words and numbers of what is kept come from. A file that is left out here could leave a page as an
# older version said it; one that is here without need has everything made once more after an update.
SOURCES = (
    "reports/timeline/*.py",
    "templates/timeline/*.html",
    "exams/hemodynamics/**/*.py",
    "exams/hemodynamics/**/*.toml",
    "exams/visits/*.py",
    "exams/visits/queries/*.py",
    "exams/patients/*.py",
    "exams/patients/models/*.py",
)


@lru_cache(maxsize=1)
def code() -> str:
    """A digest of the files that make what is kept: read once a process."""
    return code_of(SOURCES)


def rules_of_exam(patient: Patient, criteria: Criteria) -> str:
    """By what an exam is kept beside its rows."""
    adopted = f"{criteria.name}@{criteria.version} {criteria.content_hash[:16]}"
    return f"{code()} {adopted} {patient.clinic.time_zone}"


def rules_of_record(patient: Patient, criteria: Criteria, own: Sequence[OwnNoise]) -> str:
    """By what a record is kept: the clinic's own noise too."""
    noise = sha256(repr(own).encode()).hexdigest()[:16] if own else "published"
    return f"{noise} {rules_of_exam(patient, criteria)}"
