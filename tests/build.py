"""Patients and exams for tests, made through the services as a person would make them.

Pressures are typed as at the bedside: ``right_hallux=48``, ``left_posterior_tibial="*250"``,
``left_hallux="/"``, ``right_second_toe="-2"``; a second reading is ``right_hallux_2=52``.
"""

from datetime import date, datetime, timedelta
from itertools import count
from uuid import uuid4

import pytest

from access import clock
from access.people import Person
from exams.patients.models import Patient
from exams.patients.services import register_patient
from exams.visits.models import Exam, ExamType, Indication, Reading
from exams.visits.plan import TECHNIQUES, Place, kind_of_site
from exams.visits.services import (
    Entry,
    book_exam,
    confirm_cautions,
    confirm_identity,
    finish_measuring,
    lie_flat,
    save_field,
    set_indication,
)

SITES = {
    "arm": "arm",
    "posterior_tibial": "posterior_tibial",
    "dorsalis_pedis": "dorsalis_pedis",
    "peroneal": "peroneal",
    "hallux": "toe_1",
    "second_toe": "toe_2",
    "third_toe": "toe_3",
    "fourth_toe": "toe_4",
    "fifth_toe": "toe_5",
}
ORDER = ("arm", "posterior_tibial", "dorsalis_pedis", "peroneal", "toe_1", "toe_2", "toe_3", "toe_4", "toe_5")
WHOLE = {
    "arm_right": 140,
    "arm_left": 138,
    "right_posterior_tibial": 150,
    "right_dorsalis_pedis": 146,
    "right_hallux": 112,
    "left_posterior_tibial": 152,
    "left_dorsalis_pedis": 148,
    "left_hallux": 108,
}
_numbers = count(1)


def new_patient(by: Person, **more) -> Patient:
    """An invented person, different from every other one."""
    number = next(_numbers)
    name = {"family_name": f"Inventedby{_letters(number)}", "given_name": f"Person{_letters(number * 7)}"}
    return register_patient(
        by=by,
        **{
            **name,
            "birth_date": date(1940, 1, 1) + timedelta(days=37 * number),
            "sex": "female",
            "identifiers": [("Fenmarsh", f"FM{number:05d}")],
            **more,
        },
    )


def booked_exam(by: Person, patient: Patient | None = None, **more) -> Exam:
    """An exam booked for now."""
    return book_exam(
        patient=patient or new_patient(by),
        by=by,
        **{"exam_type": ExamType.ANKLE_AND_TOE, "booked_for": clock.now(), **more},
    )


def ready_exam(by: Person, patient: Patient | None = None, rest_minutes: int = 10, **more) -> Exam:
    """An exam at its first cuff: identity, indication and cautions answered, and rested."""
    exam = booked_exam(by, patient, **more)
    with clock.at(clock.now() - timedelta(minutes=rest_minutes)):
        confirm_identity(exam=exam, how="stated", by=by)
        set_indication(exam=exam, indication=Indication.FOOT_ULCER, by=by)
        lie_flat(exam=exam, by=by)
        confirm_cautions(exam=exam, by=by)
    return exam


def exam_with(
    by: Person, patient: Patient | None = None, *, finish: bool = False, conditions=None, **pressures
) -> Exam:
    """A rested exam with these readings; `finish` measures it to the end (every planned site must be given).

    `conditions` are typed too: ``{"position": "supine", "right_toe_celsius": "31"}``.
    """
    more = {name: pressures.pop(name) for name in ("exam_type", "rest_minutes") if name in pressures}
    technique = pressures.pop("toe_technique", "")
    exam = ready_exam(by, patient, **more)
    for item, typed in (conditions or {}).items():
        enter(exam, item, typed, by)
    for name, typed in sorted(pressures.items(), key=lambda item: _in_order(place_of(item[0]))):
        enter(exam, place_of(name).name, typed, by, technique if "toe" in place_of(name).site else "")
    if finish:
        finish_measuring(exam=exam, by=by)
    exam.refresh_from_db()
    return exam


def whole_exam(
    by: Person, patient: Patient | None = None, *, at: datetime | None = None, **pressures
) -> Exam:
    """A measured ankle-and-toe exam, healthy unless other pressures are given."""
    with clock.at(at or clock.now()):
        return exam_with(by, patient, finish=True, **{**WHOLE, **pressures})


def enter(exam: Exam, field: str, typed, by: Person, technique: str = "", **more):
    """Type into one field of the sheet and leave it, having seen what stands there."""
    parts = field.split(".")
    if not technique and len(parts) == 3:
        technique = TECHNIQUES[kind_of_site(parts[1])][0]
    entry = {"client_id": uuid4(), "seen_revision": revision_of(exam, field), "technique": technique, **more}
    return save_field(exam=exam, entry=Entry(field=field, typed=str(typed), **entry), by=by)


def revision_of(exam: Exam, field: str) -> int:
    """The number of the row that stands in a field, 0 for none."""
    parts = field.split(".")
    if len(parts) == 3:
        rows = exam.readings.filter(side=parts[0], site=parts[1], attempt=parts[2])
    else:
        rows = exam.preparations.filter(item=field)
    newest = rows.order_by("-pk").first()
    return newest.pk if newest else 0


def reading_at(exam: Exam, name: str) -> Reading:
    """The newest row at a place named as in `exam_with`."""
    place = place_of(name)
    return exam.readings.filter(side=place.side, site=place.site, attempt=place.attempt).latest("pk")


def place_of(name: str) -> Place:
    """``right_hallux``, ``arm_left``, ``right_hallux_2`` as a place on the sheet."""
    words, attempt = (name[:-2], int(name[-1])) if name[-2:] in ("_2", "_3") else (name, 1)
    if words.startswith("arm_"):
        return Place(words.removeprefix("arm_"), "arm", attempt)
    side, site = words.split("_", 1)
    return Place(side, SITES[site], attempt)


def _in_order(place: Place) -> tuple[int, int, bool]:
    # The repeat of the first arm is taken at the end.
    late = place.site == "arm" and place.attempt > 1
    return (len(ORDER) if late else ORDER.index(place.site), place.attempt, place.side == "left")


def _letters(number: int) -> str:
    return "".join(chr(ord("a") + int(digit)) for digit in str(number))


@pytest.fixture
def patient(measurer) -> Patient:
    return new_patient(measurer)
