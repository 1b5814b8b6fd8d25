"""What the reader of a trace answers: frozen outputs.

Times are seconds of the recording's own clock, pressures mmHg. What is not known is ``NotStated(reason)``.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any

from exams.hemodynamics.findings import NotStated

# Raised whenever any recording could be read otherwise than before; stored beside every suggestion.
READER_VERSION = "3"


class TraceKind(StrEnum):
    """What shows that blood has returned."""

    REFILL = "refill"  # a toe: the emptied pulp fills again
    PULSATION = "pulsation"  # an arm or an ankle: pulses come back, by light sensor or Doppler envelope


class PhaseName(StrEnum):
    """The parts of a recording, in the order in which they come."""

    REST = "rest"
    EMPTYING = "emptying"
    INFLATION = "inflation"
    OCCLUDED = "occluded"
    RETURN = "return"
    STOP = "stop"


class FlagCode(StrEnum):
    """What may be wrong with a recording. The first group alone can refuse its pressure."""

    UNREADABLE = "unreadable"  # nothing that another flag says: no numbers, a clock that jumps
    OCCLUSION_DOUBTFUL = "occlusion_doubtful"
    STARTED_TOO_LOW = "started_too_low"
    NO_RETURN = "no_return"
    STOPPED_TOO_EARLY = "stopped_too_early"
    ARTEFACT_AT_MARK = "artefact_at_mark"
    GAP_AT_MARK = "gap_at_mark"
    CLIPPED = "clipped"
    DEFLATION_UNEVEN = "deflation_uneven"
    DEFLATION_TOO_QUICK = "deflation_too_quick"
    LOW_AMPLITUDE = "low_amplitude"
    IRREGULAR_RHYTHM = "irregular_rhythm"
    MAINS_PICKUP = "mains_pickup"


# Which of the trade's questions (workflow 2.8) a flag answers.
QUESTION_OF_FLAG = {
    FlagCode.UNREADABLE: 1,
    FlagCode.LOW_AMPLITUDE: 1,
    FlagCode.IRREGULAR_RHYTHM: 1,
    FlagCode.OCCLUSION_DOUBTFUL: 2,
    FlagCode.STARTED_TOO_LOW: 3,
    FlagCode.DEFLATION_UNEVEN: 4,
    FlagCode.DEFLATION_TOO_QUICK: 4,
    FlagCode.NO_RETURN: 5,
    FlagCode.STOPPED_TOO_EARLY: 5,
    FlagCode.ARTEFACT_AT_MARK: 6,
    FlagCode.GAP_AT_MARK: 6,
    FlagCode.CLIPPED: 6,
    FlagCode.MAINS_PICKUP: 6,
}


class Confidence(StrEnum):
    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


@dataclass(frozen=True, slots=True)
class Phase:
    """One part of the recording, from ``start_s`` to ``end_s``."""

    name: PhaseName
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Beat:
    """One heart beat seen in the signal: when, at which cuff pressure, the signal there (its own units,
    blood upwards) and how high the pulse is (same units)."""

    time_s: float
    cuff_mmhg: float
    level: float
    amplitude: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A place for the return-of-flow mark.

    ``pressure_mmhg`` is the best estimate of the systolic pressure; ``low_mmhg`` to ``high_mmhg`` holds the
    true systolic in 95 of 100 recordings. ``time_s`` is when the cuff stood at that pressure. ``weight`` is
    how much of the belief (0 to 1) stands at this place and not at an alternative.
    """

    time_s: float
    pressure_mmhg: float
    low_mmhg: float
    high_mmhg: float
    weight: float


@dataclass(frozen=True, slots=True)
class TraceFlag:
    """Something wrong with the recording, with the evidence: a sentence, and the numbers in it.

    ``refuses``: with this the pressure should not be reported. ``at_s``: where to look, None for everywhere.
    """

    code: FlagCode
    refuses: bool
    words: str
    evidence: dict[str, float] = field(default_factory=dict)
    at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for or against the suggested mark. ``question`` is the number of the trade's
    question (workflow 2.8: 1 pulse before, 2 occlusion, 3 start, 4 deflation, 5 the mark, 6 artefact)."""

    code: str
    speaks_for: bool
    question: int
    words: str


@dataclass(frozen=True, slots=True)
class TraceReading:
    """One recording, read.

    Attributes
    ----------
    version : str
        Of the reader.
    kind : TraceKind
    mark : Mark or NotStated
        The suggestion. Present in an unusable recording too where something can be pointed at; then
        ``usable`` is False and it must not be reported.
    alternatives : tuple of Mark
        Other places the start could be, most likely first; empty when there is no doubt.
    usable : bool
    confidence : Confidence
        Never more than LOW when not usable.
    flags, reasons : tuples
    phases : tuple of Phase
        Those found, in time order.
    beats : tuple of Beat
    beat_interval_s, beat_mmhg : float or NotStated
        Interval between beats, and what one beat costs at this deflation: "one beat = n mmHg".
    deflation_mmhg_per_s : float or NotStated
        Positive; over the 20 mmHg around the mark (the whole deflation where there is no mark).
    deflation_unevenness : float or NotStated
        Standard deviation of the local rate over its mean, same stretch; 0 is perfectly even.
    start_mmhg, end_mmhg : float or NotStated
        Cuff pressure where the deflation begins and where the recording ends.
    polarity : int
        1, or -1 where more blood lowers the signal.
    sampling_hz : float or NotStated
    enough : bool
        The rise is recorded far enough that more of it would not change the answer.
    enough_words : str
        Why it is, or is not yet.
    """

    version: str
    kind: TraceKind
    mark: Mark | NotStated
    alternatives: tuple[Mark, ...]
    usable: bool
    confidence: Confidence
    flags: tuple[TraceFlag, ...]
    reasons: tuple[Reason, ...]
    phases: tuple[Phase, ...]
    beats: tuple[Beat, ...]
    beat_interval_s: float | NotStated
    beat_mmhg: float | NotStated
    deflation_mmhg_per_s: float | NotStated
    deflation_unevenness: float | NotStated
    start_mmhg: float | NotStated
    end_mmhg: float | NotStated
    polarity: int
    sampling_hz: float | NotStated
    enough: bool
    enough_words: str

    def to_json(self) -> dict[str, Any]:
        """Plain lists, strings and numbers; ``from_json`` gives an equal reading back."""
        plain = asdict(self)
        for name in _MAYBE_NOT_STATED:
            value = getattr(self, name)
            if isinstance(value, NotStated):
                plain[name] = {"not_stated": value.reason}
        return plain

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> TraceReading:
        made: dict[str, Any] = dict(data)
        for name in _MAYBE_NOT_STATED:
            value = data[name]
            if isinstance(value, dict) and "not_stated" in value:
                made[name] = NotStated(value["not_stated"])
            elif name == "mark":
                made[name] = Mark(**value)
        made["kind"] = TraceKind(data["kind"])
        made["confidence"] = Confidence(data["confidence"])
        made["alternatives"] = tuple(Mark(**item) for item in data["alternatives"])
        made["flags"] = tuple(TraceFlag(**{**item, "code": FlagCode(item["code"])}) for item in data["flags"])
        made["reasons"] = tuple(Reason(**item) for item in data["reasons"])
        made["phases"] = tuple(Phase(**{**item, "name": PhaseName(item["name"])}) for item in data["phases"])
        made["beats"] = tuple(Beat(**item) for item in data["beats"])
        return cls(**made)


_MAYBE_NOT_STATED = (
    "mark",
    "beat_interval_s",
    "beat_mmhg",
    "deflation_mmhg_per_s",
    "deflation_unevenness",
    "start_mmhg",
    "end_mmhg",
    "sampling_hz",
)
