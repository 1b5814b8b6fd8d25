"""What is recorded of a limb, in the values of the core where the core knows it. No table stands here."""

from collections.abc import Iterable
from typing import Any

from django.db.models import IntegerChoices, TextChoices

from exams.hemodynamics import (
    AmputationLevel,
    Approach,
    Device,
    InfectionGrade,
    Precision,
    Vessel,
)


class Side(TextChoices):
    RIGHT = "right", "RIGHT"
    LEFT = "left", "LEFT"


class FactKind(TextChoices):
    """A fact that lasts for a time, or an event; events have the values of the core's ``EventKind``."""

    OPEN_WOUND = "open_wound", "open wound"
    GANGRENE = "gangrene", "gangrene (dead tissue)"
    REST_PAIN = "rest_pain", "rest pain"
    FOOT_INFECTION = "foot_infection", "foot infection"
    CHARCOT = "charcot", "Charcot foot"
    OEDEMA = "oedema", "swelling (oedema)"
    REVASCULARISATION = "revascularisation", "revascularisation"
    AMPUTATION = "amputation", "amputation"
    FISTULA = "fistula", "dialysis fistula or graft in the arm"
    DIALYSIS = "dialysis", "dialysis"
    ARRHYTHMIA = "arrhythmia", "irregular heartbeat"


# Done on a day and never undone: they have no end.
DONE_ONCE = (FactKind.REVASCULARISATION, FactKind.AMPUTATION)
# Of the whole person: they have no side.
OF_THE_PERSON = (FactKind.DIALYSIS, FactKind.ARRHYTHMIA)
OF_ONE_TOE = tuple(level.value for level in AmputationLevel if level.names_toes)


class Toe(IntegerChoices):
    HALLUX = 1, "hallux"
    SECOND = 2, "second toe"
    THIRD = 3, "third toe"
    FOURTH = 4, "fourth toe"
    FIFTH = 5, "fifth toe"


def _choices(words: Iterable[Any]) -> list[tuple[str, str]]:
    return [(one.value, getattr(one, "words", one.value)) for one in words]


LEVELS = _choices(AmputationLevel)
APPROACHES = _choices(Approach)
VESSELS = _choices(Vessel)
DEVICES = _choices(Device)
GRADES = _choices(InfectionGrade)
PRECISIONS = _choices(Precision)
