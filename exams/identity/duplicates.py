"""Which records of a clinic may be of one person: found by the database, scored in words.

Pairs come from four joins of the table with itself, each over an index of its own (name, birth date,
identifier, telephone), so the work grows with the number of pairs, not with its square.
"""

from dataclasses import dataclass

from django.db import connection

from access.people import Person
from access.permissions import require
from exams.identity.models import DifferentPeople
from exams.patients.models import Patient
from exams.patients.queries import agreements, with_identifiers

SHOWN = 50
# More candidates than anybody works through in a day. Beyond it the pairs of the oldest records come first:
# the others follow as these are decided.
_MOST_CANDIDATES = 2000

# What weighs how much. Common practice, no source: it decides only the order of the list.
_WEIGHTS = {
    "the same identifier": 5,
    "the same name": 4,
    "the same names changed about": 4,
    "a name one slip away": 3,
    "one name in common": 1,
    "the same birth date": 3,
    "the same birth date with day and month changed about": 2,
    "the same telephone": 2,
}

# A birth date alone is shared by many: there a name must begin alike or be in common.
_PAIRS = """
SELECT a.id, b.id FROM patients_patient a JOIN patients_patient b
  ON b.clinic_id = a.clinic_id AND b.name_key = a.name_key AND a.id < b.id
  WHERE a.clinic_id = %(clinic)s AND a.merged_into_id IS NULL AND b.merged_into_id IS NULL
UNION
SELECT a.id, b.id FROM patients_patient a JOIN patients_patient b
  ON b.clinic_id = a.clinic_id AND b.birth_date = a.birth_date AND a.id < b.id
  WHERE a.clinic_id = %(clinic)s AND a.merged_into_id IS NULL AND b.merged_into_id IS NULL
  AND (SUBSTR(a.name_key, 1, 2) = SUBSTR(b.name_key, 1, 2)
    OR LOWER(a.family_name) = LOWER(b.family_name) OR LOWER(a.given_name) = LOWER(b.given_name))
UNION
SELECT a.id, b.id FROM patients_patient a JOIN patients_patient b
  ON b.clinic_id = a.clinic_id AND b.telephone_key = a.telephone_key AND a.id < b.id
  WHERE a.clinic_id = %(clinic)s AND a.telephone_key <> '' AND a.merged_into_id IS NULL
  AND b.merged_into_id IS NULL
UNION
SELECT a.id, b.id FROM patients_identifier i JOIN patients_identifier j
  ON j.clinic_id = i.clinic_id AND j.value_key = i.value_key AND i.patient_id < j.patient_id
  JOIN patients_patient a ON a.id = i.patient_id JOIN patients_patient b ON b.id = j.patient_id
  WHERE i.clinic_id = %(clinic)s AND i.withdrawn_at IS NULL AND j.withdrawn_at IS NULL
  AND a.merged_into_id IS NULL AND b.merged_into_id IS NULL
ORDER BY 1, 2 LIMIT %(most)s
"""


@dataclass(frozen=True)
class Pair:
    """Two records that may be of one person, the older record first, and in what they agree."""

    one: Patient
    other: Patient
    reasons: tuple[str, ...]

    @property
    def score(self) -> int:
        return sum(_WEIGHTS[reason] for reason in self.reasons)


@dataclass(frozen=True)
class Duplicates:
    """The likeliest pairs first; ``more`` says that there are others. ``different`` were said to be two."""

    pairs: tuple[Pair, ...]
    more: int
    different: tuple[DifferentPeople, ...]


def duplicates(person: Person) -> Duplicates:
    """Perhaps the same person: four queries, however many records there are."""
    require(person, "correct identity")
    with connection.cursor() as cursor:
        cursor.execute(_PAIRS, {"clinic": person.clinic.pk if person.clinic else 0, "most": _MOST_CANDIDATES})
        numbers = cursor.fetchall()
    different = tuple(
        DifferentPeople.objects.filter(clinic=person.clinic, one__merged_into=None, other__merged_into=None)
        .select_related("one", "other", "said_by")
        .order_by("-said_at", "-pk")
    )
    apart = {(said.one_id, said.other_id) for said in different}
    open_pairs = [pair for pair in numbers if pair not in apart]
    records = {
        one.pk: one
        for one in with_identifiers(
            Patient.objects.filter(pk__in={number for pair in open_pairs for number in pair})
        )
    }
    pairs = [
        Pair(records[one], records[other], agreements(records[one], records[other]))
        for one, other in open_pairs
    ]
    likely = sorted((pair for pair in pairs if pair.reasons), key=lambda pair: (-pair.score, pair.one.pk))
    return Duplicates(tuple(likely[:SHOWN]), max(0, len(likely) - SHOWN), different)
