"""What the Trace desk shows, and its words: the lead, the trade's questions, what to do by hand. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.utils.timezone import localtime

from exams.hemodynamics import (
    QUESTION_OF_FLAG,
    Confidence,
    FlagCode,
    Mark,
    NotStated,
    TraceKind,
    TraceReading,
)
from exams.traces import drawn
from exams.traces.figure import PressureFigure
from exams.traces.strip import Strip
from exams.visits.models import Technique
from exams.visits.sheet import Banner

# Why a recording is not read, as a reader picks it by its number. The words are kept with the mark, so a new
# one goes last.
REASONS = {
    "movement": "the foot or the cable moved",
    "leak": "pulses while occluded: the cuff leaked",
    "too_low": "the cuff was not inflated high enough",
    "deflation": "deflated too quickly or unevenly",
    "too_early": "stopped before the rise was recorded",
    "no_pulse": "no pulse: cold foot, or sensor off",
    "cut_off": "signal missing or cut off at the rise",
    "cuff": "the cuff slipped, or was of the wrong size",
    "noise": "too much noise to see the rise",
}
_REASON_OF_FLAG = {
    FlagCode.UNREADABLE: "no_pulse",
    FlagCode.LOW_AMPLITUDE: "no_pulse",
    FlagCode.OCCLUSION_DOUBTFUL: "leak",
    FlagCode.STARTED_TOO_LOW: "too_low",
    FlagCode.STOPPED_TOO_EARLY: "too_early",
    FlagCode.NO_RETURN: "too_early",
    FlagCode.ARTEFACT_AT_MARK: "movement",
    FlagCode.GAP_AT_MARK: "cut_off",
    FlagCode.CLIPPED: "cut_off",
}
FLAG_NAMES = {
    FlagCode.UNREADABLE: "nothing to read",
    FlagCode.OCCLUSION_DOUBTFUL: "occlusion doubtful",
    FlagCode.STARTED_TOO_LOW: "started too low",
    FlagCode.NO_RETURN: "no return seen",
    FlagCode.STOPPED_TOO_EARLY: "stopped too early",
    FlagCode.ARTEFACT_AT_MARK: "movement",
    FlagCode.GAP_AT_MARK: "signal missing",
    FlagCode.CLIPPED: "signal cut off",
    FlagCode.DEFLATION_UNEVEN: "uneven deflation",
    FlagCode.DEFLATION_TOO_QUICK: "quick deflation",
    FlagCode.LOW_AMPLITUDE: "weak signal",
    FlagCode.IRREGULAR_RHYTHM: "irregular rhythm",
    FlagCode.MAINS_PICKUP: "mains hum",
}
# The trade's questions, in their order.
QUESTIONS = (
    "Was there a pulse before inflation?",
    "Was the occlusion good?",
    "Did the cuff start high enough?",
    "Was the deflation even?",
    "Where is the return-of-flow mark?",
    "Is there an artefact?",
    "Do the repeats agree, and the other sites?",
)
# What to look for, by how the flow was made visible (common practice in the trade, no source).
GUIDANCE = {
    Technique.TWO_CUFFS: (
        "Two cuffs: the step where the emptying cuff is let go comes before the deflation; it is no return. "
        "The mark stands where the refilling begins, before the first full pulse."
    ),
    Technique.ONE_CUFF_HAND: (
        "One cuff, pulp pressed empty by hand: the skin springs back when the hand lets go, and a little "
        "blood stays, so that the rise is smaller and its beginning softer. Look for the slope that lasts."
    ),
    Technique.DOPPLER: (
        "Doppler: what counts is the first pulse that is followed by others. A single sound may be movement."
    ),
    Technique.OSCILLOMETRIC: (
        "Oscillometric: pulses in the cuff are seen above systolic too. What counts is where the signal "
        "beyond the cuff begins to pulsate."
    ),
}
_PULSATION = (
    "Pulses come back here instead of a refilling: the mark stands where the first of them begins. The faint "
    "line is their envelope, the height of the beat before."
)


@dataclass(frozen=True)
class Point:
    """One line under a question. ``weighs``: "for", "against", "refuses" or "" (neither)."""

    weighs: str
    words: str


@dataclass(frozen=True)
class Question:
    number: int
    asks: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Suggestion:
    """The reader's suggestion. ``offered``: may be accepted as it stands; else a person places the mark."""

    analysis_id: int
    version: str
    words: str
    interval_words: str
    mmhg: Decimal | None
    exact_mmhg: float | None
    time_s: float | None
    confidence: str
    usable: bool
    offered: bool
    why_not_offered: str


@dataclass(frozen=True)
class Choice:
    """A place for the mark that can be chosen without moving anything."""

    key: str
    words: str
    mmhg: str
    time_s: float
    checked: bool


@dataclass(frozen=True)
class MarkLine:
    """A mark of a person, as history tells it.

    ``apart`` says how far from the suggestion it stands, ``later`` what the value it wrote became.
    """

    id: int
    verdict: str
    mmhg: str
    shown: str
    how: str
    reason: str
    who: str
    when: str
    version: str
    program_version: str
    blind: bool
    had_seen: bool
    stands: bool
    mine: bool
    in_sheet: bool
    later: str
    apart: str


@dataclass(frozen=True)
class RepeatLine:
    """Another recording of the same place."""

    trace_id: int
    number: int
    words: str
    shown: str
    by: str
    mmhg: float | None
    drawn: bool


@dataclass(frozen=True)
class BeatLine:
    """One row of the table twin."""

    time_s: str
    mmhg: str
    level: str
    height: str


@dataclass(frozen=True)
class InSheet:
    """What stands in the exam sheet at this place, and what a mark would do to it.

    ``seen`` is the number of the row that stands (0: none). ``writes``: an accepted mark goes in by itself;
    ``asks``: something else stands there, and the person decides; it is ``mine`` where this person's own mark
    put it there. ``by_hand``: it replaced by hand what this recording gave, and that was it.
    """

    seen: int
    stands: str
    who: str
    when: str
    mmhg: str
    from_this: bool
    by_hand: str
    mine: bool
    writes: bool
    asks: bool
    words: str


@dataclass(frozen=True)
class Desk:
    """Everything the page shows of one recording."""

    trace_id: int
    exam_id: int
    place: str
    site: str
    technique: str
    kind: str
    state: str
    lead: str
    act: str
    guidance: str
    patient: Banner
    recorded_at: str
    received_at: str
    received_by: str
    withdrawn: str
    may_mark: bool
    readable: bool
    has_rhythm: bool
    blind: bool = False
    had_seen: bool = False
    suggestion: Suggestion | None = None
    choices: tuple[Choice, ...] = ()
    mine: MarkLine | None = None
    mine_blind: MarkLine | None = None
    figure: PressureFigure | None = None
    strip: Strip | None = None
    elsewhere: tuple[str, ...] = ()
    beats: tuple[BeatLine, ...] = ()
    questions: tuple[Question, ...] = ()
    repeats: tuple[RepeatLine, ...] = ()
    history: tuple[MarkLine, ...] = ()
    sheet: InSheet | None = None
    likely_reason: str = ""
    for_script: dict[str, Any] | None = None

    @property
    def beat_rows(self) -> str:
        return drawn.beat_rows(self.beats)

    @property
    def mark_rows(self) -> str:
        return drawn.mark_rows(self.history)

    @property
    def questions_drawn(self) -> str:
        return drawn.questions(self.questions)


def whole(mmhg: float | Decimal) -> Decimal:
    """Whole mmHg, half upwards: as a pressure is suggested, accepted and written.

    By way of the tenths in which a suggestion is stored, so that page, list and sheet cannot differ.
    """
    tenths = Decimal(str(mmhg)).quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
    return tenths.quantize(Decimal(1), rounding=ROUND_HALF_UP)


def moment_words(at: datetime | None) -> str:
    """ "25 Nov 2026 09:05", in the zone of whoever looks."""
    if at is None:
        return ""
    here = localtime(at)
    return f"{here.day} {here:%b %Y %H:%M}"


def interval_words(mark: Mark) -> str:
    return f"{whole(mark.low_mmhg)} to {whole(mark.high_mmhg)}"


def why_not_offered(reading: TraceReading) -> str:
    """Why the suggestion is not taken over by itself; empty where it may be."""
    if isinstance(reading.mark, NotStated):
        return f"There is no suggestion: {reading.mark.reason}"
    if not reading.usable:
        return (
            "The recording is flagged as not to be reported, so its suggestion is not taken over. Put the "
            "mark yourself and say why it can be reported, or ask for a repeat."
        )
    if reading.confidence is Confidence.LOW:
        return "Confidence is low, so the suggestion is not taken over. Put the mark yourself."
    return ""


def lead_words(place: str, reading: TraceReading) -> tuple[str, str]:
    """The sentence that opens the desk, and what to do next."""
    if not reading.usable or isinstance(reading.mark, NotStated):
        refusing = next((flag.words for flag in reading.flags if flag.refuses), "")
        if not refusing and isinstance(reading.mark, NotStated):
            refusing = reading.mark.reason
        return f"Do not report this recording: {lowered(refusing)}", "Repeat it."
    mark = reading.mark
    words = (
        f"{_named(place)} {whole(mark.pressure_mmhg)} mmHg ({interval_words(mark)}), "
        f"confidence {reading.confidence.value}."
    )
    if reading.confidence is Confidence.LOW:
        return f"Unsure: {words}", "Put the mark yourself, or repeat the recording."
    return f"Suggested: {words}", ""


def marked_lead(place: str, mark: MarkLine, suggested: str) -> str:
    """The same once somebody has given a verdict: that comes first, then what was suggested."""
    said = (
        f"{_named(place)} {mark.mmhg} mmHg, {mark.verdict}"
        if mark.mmhg
        else f"{place}: {mark.verdict}, {mark.reason}"
    )
    return f"{said} (marked by {mark.who}). {suggested}"


def _named(place: str) -> str:
    """So that the number of an attempt does not run into the pressure."""
    return f"{place}:" if "," in place else place


def guidance_words(technique: str, kind: TraceKind) -> str:
    words = GUIDANCE.get(Technique(technique), "") if technique else ""
    return f"{words} {_PULSATION}".strip() if kind is TraceKind.PULSATION else words


def likely_reason(reading: TraceReading) -> str:
    """The reason of the list that the gravest flag gives, if one does."""
    refusing = (flag.code for flag in reading.flags if flag.refuses)
    return next((_REASON_OF_FLAG[code] for code in refusing if code in _REASON_OF_FLAG), "")


def suggestion_drawn(reading: TraceReading, mark: Mark) -> tuple[str, float, str]:
    """Shape, pressure and words of the suggestion in the figure: hollow and in doubt where it is."""
    mmhg = whole(mark.pressure_mmhg)
    if not reading.usable:
        return "unsure", mark.pressure_mmhg, f"{mmhg}? not to be reported"
    if reading.confidence is Confidence.LOW:
        return "unsure", mark.pressure_mmhg, f"unsure: {mmhg} ({interval_words(mark)})"
    return "suggested", mark.pressure_mmhg, f"suggested {mmhg} ({interval_words(mark)})"


def questions_of(reading: TraceReading, compared: Sequence[Point]) -> tuple[Question, ...]:
    """The trade's questions 1 to 7, each with what speaks for and against; ``compared`` answers the last."""
    points: dict[int, list[Point]] = {number: [] for number in range(1, 8)}
    for flag in reading.flags:
        points[QUESTION_OF_FLAG[flag.code]].append(
            Point("refuses" if flag.refuses else "against", flag.words)
        )
    for reason in reading.reasons:
        points[reason.question].append(Point("for" if reason.speaks_for else "against", reason.words))
    points[5] = [*_place_of_mark(reading), *points[5]]
    points[7] = list(compared)
    return tuple(
        Question(number, asks, tuple(points[number]) or (Point("", "Nothing was found to say about it."),))
        for number, asks in enumerate(QUESTIONS, start=1)
    )


def _place_of_mark(reading: TraceReading) -> list[Point]:
    mark = reading.mark
    if isinstance(mark, NotStated):
        return []
    said = [
        Point(
            "",
            f"At {whole(mark.pressure_mmhg)} mmHg; in 95 of 100 recordings like this the true pressure lies "
            f"between {whole(mark.low_mmhg)} and {whole(mark.high_mmhg)} mmHg.",
        )
    ]
    for other in reading.alternatives:
        said.append(
            Point(
                "against",
                f"It could also be at {whole(other.pressure_mmhg)} mmHg ({interval_words(other)}): "
                f"about {other.weight:.0%} likely.",
            )
        )
    return said


def lowered(words: str) -> str:
    """A sentence that goes on after a colon."""
    return words[:1].lower() + words[1:]


def apart_words(mmhg: float, other: float, beat_mmhg: float | None, than: str) -> str:
    """ "4 mmHg (1.5 beats) above the suggestion"."""
    apart = mmhg - other
    if abs(apart) < 0.5:
        return f"at {than}"
    beats = f" ({abs(apart) / beat_mmhg:.1f} beats)" if beat_mmhg else ""
    shown = f"{abs(apart):.1f}".removesuffix(".0")
    return f"{shown} mmHg{beats} {'above' if apart > 0 else 'below'} {than}"
