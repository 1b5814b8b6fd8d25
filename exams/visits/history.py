"""Everything measured of a patient, exam by exam, as frozen values: what the timeline and the report read.

`limb_history` takes a fixed number of queries, whether there is one exam or two hundred.
"""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from exams.hemodynamics import Interpretation, Side, Site


@dataclass(frozen=True)
class ReadingLine:
    """One standing reading as it is read out: no withdrawn or replaced ones.

    `pressure_mmhg` is whole or half mmHg, for ``not_occludable`` the cuff pressure reached, else None.
    `shown` is "132 mmHg", "cannot be occluded at 250 mmHg", "no signal" or "not obtained: …".
    """

    reading_id: int
    side: Side
    site: Site
    attempt: int
    outcome: str
    pressure_mmhg: Decimal | None
    reason: str
    shown: str
    technique: str
    technique_words: str
    at: datetime
    by: str
    override: str
    corrected: str


@dataclass(frozen=True)
class LimbRecord:
    """How one limb was measured: what decides whether it may be compared.

    `toe` is the toe that gave the toe pressure (None: none did). Techniques are codes, "" where not measured.
    `arms` are the arms with a pressure. `toe_skin_celsius` is None where not recorded.
    """

    side: Side
    toe: Site | None
    toe_technique: str
    ankle_technique: str
    toe_skin_celsius: Decimal | None
    absent_toes: frozenset[Site]
    readings: tuple[ReadingLine, ...]


@dataclass(frozen=True)
class ExamRecord:
    """One exam. `on` is the day in the clinic's zone, `at` the first inflation (or the best known time).

    `interpretation` holds the stored findings under `criteria_name` and `criteria_version`, in reading order;
    it is empty where nothing was measured. `rest_minutes` is None where not known; `rest_typed` says that it
    was typed and not timed.
    """

    exam_id: int
    patient_id: int
    on: date
    at: datetime
    exam_type: str
    type_label: str
    state: str
    state_label: str
    limited: bool
    closed_because: str
    entered_later: bool
    indication: str
    referrer: str
    measured_at: datetime | None
    measured_by: str
    arms: frozenset[Side]
    right: LimbRecord
    left: LimbRecord
    conditions: tuple[tuple[str, str], ...]
    rest_minutes: int | None
    rest_typed: bool
    criteria_name: str
    criteria_version: str
    interpretation: Interpretation

    def limb(self, side: Side) -> LimbRecord:
        """The record of one side."""
        return self.right if side is Side.RIGHT else self.left
