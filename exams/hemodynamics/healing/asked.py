"""What the healing outlook is asked with: frozen inputs, nothing computed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding
from exams.hemodynamics.limb_events import LimbEvent
from exams.hemodynamics.measured import Context, MeasuredExam, Side
from exams.hemodynamics.wounds.assessed import AreaReading, AssessedWound, FootFacts


@dataclass(frozen=True, slots=True)
class PressureExam:
    """One exam with pressures and its day.

    ``further`` are findings of that exam; those of oxygen and pulse volume at the foot and of pedal waveforms
    are used, any others are passed over.
    """

    on: date
    measured: MeasuredExam
    further: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class WoundCourse:
    """One open wound: as last assessed, since when it is in care, and its areas so far, in any order.

    ``key`` is the caller's own name for it and comes back in the answers.
    """

    key: str
    wound: AssessedWound
    in_care_since: date | None = None
    areas: tuple[AreaReading, ...] = ()


@dataclass(frozen=True, slots=True)
class OutcomeCounts:
    """How feet like this one did in this clinic, as counts.

    Parameters
    ----------
    weeks : int
        12 or 24.
    healed, of : int
        Episodes healed by then, of those whose time has come.
    alike : str
        What "like this one" means, in words ("toe 30-39 mmHg, wound grade 2").

    Raises InputError ``outcomes.impossible_counts``.
    """

    weeks: int
    healed: int
    of: int
    alike: str = ""

    def __post_init__(self) -> None:
        if not 0 <= self.healed <= self.of or self.weeks < 1:
            raise InputError("outcomes.impossible_counts", "healed", self.healed, (0, self.of))


@dataclass(frozen=True, slots=True)
class OutlookQuestion:
    """One limb on one day.

    Parameters
    ----------
    side, today
    exams : tuple of PressureExam
        Every exam that may count, in any order; what is too old or from before the procedure is told, not
        used.
    wounds : tuple of WoundCourse
        The open wounds of this limb that were assessed; empty where there is none (rest pain only).
    not_assessed : int
        Open wounds of this limb of which nobody wrote yet how they were found.
    foot : FootFacts
    context : Context
        As for ``interpret``; an open wound or an infection that the wounds show counts besides.
    last_procedure : LimbEvent or None
        The last revascularisation of the limb (``limb_standing(...).baseline``).
    outcomes : tuple of OutcomeCounts
    pre_test_percent : int or None
        The chance of healing before the test, 1 to 99, chosen by a person or from the clinic's outcomes.
    stage_by_clinician : int or None
        5 where a clinician has called the foot unsalvageable.

    Raises
    ------
    InputError
        ``wound.other_side``, ``stage.not_by_clinician`` (anything but 5), ``outlook.pre_test_out_of_range``.
    """

    side: Side
    today: date
    exams: tuple[PressureExam, ...] = ()
    wounds: tuple[WoundCourse, ...] = ()
    not_assessed: int = 0
    foot: FootFacts = field(default_factory=FootFacts)
    context: Context = field(default_factory=Context)
    last_procedure: LimbEvent | None = None
    outcomes: tuple[OutcomeCounts, ...] = ()
    pre_test_percent: int | None = None
    stage_by_clinician: int | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "side", Side(self.side))
        for course in self.wounds:
            if course.wound.side is not self.side:
                raise InputError("wound.other_side", "wounds", course.wound.side.value, self.side.value)
        if self.stage_by_clinician not in (None, 5):
            raise InputError("stage.not_by_clinician", "stage_by_clinician", self.stage_by_clinician, (5,))
        if self.pre_test_percent is not None and not 1 <= self.pre_test_percent <= 99:
            raise InputError(
                "outlook.pre_test_out_of_range", "pre_test_percent", self.pre_test_percent, (1, 99)
            )
