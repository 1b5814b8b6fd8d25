"""What a story holds: a person, what stands in their record, and what was measured of them on which day.

Readings are written the way they are typed at the sheet: ``118`` a pressure in mmHg, ``*250`` cannot be
occluded at 250, ``/`` no signal, ``-wound_under_cuff`` not obtained and why. Weeks are counted back from the
day the demonstration is made.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class ToldTo:
    """How a critical result was handed over, minutes after it was raised."""

    name: str
    role: str
    number: str
    minutes: int
    read_back: str
    agreed: str


@dataclass(frozen=True)
class SecondReader:
    """A mark made blind: where another person saw the blood return."""

    mmhg: int
    words: str = ""


@dataclass(frozen=True)
class Recorded:
    """A recording of one attempt at a toe, and what became of it.

    ``place`` is side, site and attempt (``left t1 2``). The artery holds ``systolic`` mmHg, or what the visit
    gives as reading there. A reader marks it at that reading, refuses it for a reason of the desk's list, or
    nobody has looked yet.
    """

    place: str
    seed: int
    family: str = "clean"
    severity: float = 0.5
    systolic: int | None = None
    refused: str = ""
    words: str = ""
    with_caution: bool = False
    waits: bool = False
    second: SecondReader | None = None


@dataclass(frozen=True)
class Corrected:
    """A value put right after the exam was measured, and why; what it said before stays readable."""

    place: str
    typed: str
    reason: str
    in_error: str = ""  # why the slip that the first value raised is closed as raised in error


@dataclass(frozen=True)
class Exercised:
    """Walking after the pressures at rest: ``after`` is minutes, arm, RIGHT and LEFT ankle at each time."""

    after: tuple[str, ...]
    walked: str
    symptom: str = ""
    symptom_at: str = ""
    completed: str = "yes"
    speed_kmh: str = "3.2"
    grade_percent: str = "10"


@dataclass(frozen=True)
class Visit:
    """One exam. ``arms`` is first arm, other arm, first arm again; a dash means nothing was planned there."""

    weeks: int
    arms: str = ""
    right: str = ""
    left: str = ""
    toes_celsius: str = "30.5 30.5"
    exam_type: str = "ankle_and_toe"
    indication: str = "high_risk_recall"
    indication_text: str = ""
    rest_minutes: int = 11
    position: str = "supine"
    technique: str = "two_cuffs"
    told: ToldTo | None = None
    # Where the story stands: "report" (the PDF is made), "reported" (on paper, before this service printed
    # any), "measured", "measuring", "resting", "booked", "not_attended", "stopped".
    ends: str = "report"
    why: str = ""
    recorded: tuple[Recorded, ...] = ()  # in the order they were made
    answers: str = ""  # the answer given where the sheet asks "repeat?"
    exercise: Exercised | None = None
    corrected: Corrected | None = None
    repeats: str = ""  # the study of agreement for which it repeats the visit before, every cuff laid again


@dataclass(frozen=True)
class Fact:
    """What happened to a limb, or lasted there; side empty: of the whole person."""

    side: str
    kind: str
    weeks: int
    until: int | None = None
    level: str = ""
    toe: int | None = None
    note: str = ""
    approach: str = ""
    vessels: str = ""
    device: str = ""
    grade: str = ""
    precision: str = "day"
    ended: str = "healed"
    source: str = "seen in clinic"


@dataclass(frozen=True)
class Looked:
    """How a wound was found: ``size`` is length and width in mm ("22x14"), ``signs`` are of infection.

    ``more`` are further answers of the assessment by name, where they are not those of a clean wound.
    """

    weeks: int
    size: str
    depth: str = "subcutis"
    tissue: str = "granulating"
    signs: str = ""
    redness_mm: int = 0
    dressing: str = "foam"
    more: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class WoundTold:
    """A wound on the foot map, what was found of it, and what became of it."""

    side: str
    place: str
    weeks: int
    cause: str = "neuropathic"
    looked: tuple[Looked, ...] = ()
    until: int | None = None
    how: str = "healed"
    note: str = ""


@dataclass(frozen=True)
class CautionTold:
    side: str
    region: str
    kind: str
    do_not_inflate: bool
    weeks: int
    note: str = ""


@dataclass(frozen=True)
class Merged:
    """That this record turned out to be of the person with the number ``into``."""

    into: str
    weeks: int
    because: str


@dataclass(frozen=True)
class Answered:
    """A step of a referral, days after it was sent; ``in_days`` is the day it names, counted from then."""

    state: str
    after_days: float
    words: str = ""
    in_days: int | None = None


@dataclass(frozen=True)
class Referred:
    """That somebody was sent to the surgeon's side; what the record says follows ``words``."""

    weeks: int
    side: str
    urgency: str
    words: str = ""
    to: str = "Vascular surgery"
    steps: tuple[Answered, ...] = ()


@dataclass(frozen=True)
class Promised:
    """Something promised; kept by somebody's word in time where ``kept`` says how."""

    weeks: int
    words: str
    in_days: int
    kind: str = "see"
    side: str = ""
    kept: str = ""


@dataclass(frozen=True)
class Tried:
    """A try to reach somebody who is due."""

    weeks: int
    way: str
    outcome: str
    words: str = ""


@dataclass(frozen=True)
class Story:
    clinic: str
    given: str
    family: str
    born: str
    sex: str
    number: str
    diabetes: str = "yes"
    kidney_disease: str = "no"
    neuropathy: str = "unknown"
    tobacco: str = "never"
    telephone: str = ""
    referrer: str = "Sedge Lane Surgery"
    registered_because: str = ""  # where a record looked like the same person
    merged: Merged | None = None
    facts: tuple[Fact, ...] = ()
    wounds: tuple[WoundTold, ...] = ()
    cautions: tuple[CautionTold, ...] = ()
    visits: tuple[Visit, ...] = ()
    referrals: tuple[Referred, ...] = ()
    promises: tuple[Promised, ...] = ()
    recall: int | None = None  # the foot-risk category by which they are recalled after every exam
    tries: tuple[Tried, ...] = ()
    about: str = ""
