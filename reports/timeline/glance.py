"""Both limbs at a glance: what the patient page says of each. Pure: exams in, words out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from exams.hemodynamics import Outcome, Side, Site, limb_sentence
from exams.traces.queries.pictures import TraceLink
from exams.visits.history import ExamRecord
from reports.timeline.figure import NAMES
from reports.timeline.recordings import Recordings, behind
from reports.timeline.series import Absence, Measure, NoValue, Seen, day
from reports.timeline.years import Change, LimbYears

# Only the words "older than a year" hang on it; no band and no flag does.
OLD_AFTER_DAYS = 365
# Recorded with the conditions, but no condition of a reading; rest is told by its minutes.
NO_CONDITION = frozenset({"arm measured first", "cuffs and sensor cleaned", "rest"})


@dataclass(frozen=True)
class MeasureLine:
    """The newest that is known of one measure. `seen` is None where it was never measured.

    `missing` says that a later exam has no value, and why; the older one is shown with its date.
    """

    name: str
    seen: Seen | None
    change: Change | None
    missing: str
    recordings: tuple[TraceLink, ...] = ()


@dataclass(frozen=True)
class FromExam:
    """The exam that a limb's sentence comes from: when it was and under which conditions, as `ExamRecord`."""

    exam_id: int
    on: date
    limited: bool
    entered_later: bool
    conditions: tuple[tuple[str, str], ...]
    rest_minutes: int | None
    rest_typed: bool


@dataclass(frozen=True)
class Stand:
    """What is said first of a limb whatever day it is, and whoever has been told.

    `urgency` is the call to make ("" where there is none) and `why` the rest of the sentence. The lines name
    no recordings yet: those hang on who looks.
    """

    side: Side
    record: ExamRecord | FromExam | None
    urgency: str
    why: str
    lines: tuple[MeasureLine, ...]


@dataclass(frozen=True)
class Glance:
    """One limb: its sentence, the exam it comes from, and the numbers that made it.

    `record` is the newest exam with findings of this limb, None where there is none.
    """

    word: str
    sentence: str
    record: ExamRecord | FromExam | None
    age: str
    old: bool
    lines: tuple[MeasureLine, ...]

    @property
    def conditions(self) -> str:
        """Under which conditions this limb was measured, in one line."""
        if self.record is None:
            return "not recorded"
        other = next(side.word for side in Side if side.word != self.word)
        said = {
            label.removeprefix(f"{self.word} "): words
            for label, words in self.record.conditions
            if label not in NO_CONDITION and not label.startswith(f"{other} ")
        }
        # What decides whether a pressure can be relied on is named even where nobody wrote it down.
        needed = {
            "position": said.pop("position", "not recorded"),
            "rest": rest_words(self.record),
            "toe skin": said.pop("toe skin", "not recorded"),
        }
        return "; ".join(f"{label}: {words}" for label, words in {**needed, **said}.items())


def glance_at(
    records: Sequence[ExamRecord],
    side: Side,
    limb: LimbYears,
    today: date,
    *,
    recordings: Recordings,
    to_be_told: bool = False,
) -> Glance:
    """What to say first of one limb. `to_be_told`: a hand-over slip of it is still open."""
    return seen_on(stand_of(records, side, limb), today, recordings=recordings, to_be_told=to_be_told)


def stand_of(records: Sequence[ExamRecord], side: Side, limb: LimbYears) -> Stand:
    """What the exams say first of one limb."""
    tried = [record for record in records if _tried(record, side)]
    lines = tuple(_line(measure, limb) for measure in Measure)
    if not tried:
        return Stand(side, None, "", "", lines)
    # An exam that obtained nothing of this foot does not hide the one before; the lines name it.
    gave = [record for record in tried if _gave(record, side)]
    newest = max(gave or tried, key=lambda record: (record.at, record.exam_id))
    said = limb_sentence(newest.interpretation, side).removeprefix(f"{side.word}: ")
    urgency = newest.interpretation.of("urgency", side)
    if urgency is None:
        return Stand(side, newest, "", said, lines)
    return Stand(side, newest, urgency.shown, said.removeprefix(f"{urgency.shown}; "), lines)


def seen_on(stand: Stand, today: date, *, recordings: Recordings, to_be_told: bool = False) -> Glance:
    """A limb as it is seen on a day, by somebody who may see these recordings."""
    lines = tuple(replace(line, recordings=behind(line.seen, recordings)) for line in stand.lines)
    if stand.record is None:
        return Glance(stand.side.word, "", None, "", old=False, lines=lines)
    return Glance(
        stand.side.word,
        _first_words(stand, to_be_told=to_be_told),
        stand.record,
        how_long_ago(stand.record.on, today),
        old=(today - stand.record.on).days > OLD_AFTER_DAYS,
        lines=lines,
    )


def _first_words(stand: Stand, *, to_be_told: bool) -> str:
    """What to do, then why: an urgent limb opens with the call to make, or with the word that it was made."""
    if not stand.urgency:
        return _capital(stand.why)
    done = "A person must be told" if to_be_told else "The hand-over slip is closed"
    return f"{_capital(stand.urgency)} at this exam. {done}. {_capital(stand.why)}"


def rest_words(record: ExamRecord | FromExam) -> str:
    """ "11 minutes", and whether that was typed and not timed."""
    if record.rest_minutes is None:
        return "not recorded"
    unit = "minute" if record.rest_minutes == 1 else "minutes"
    return f"{record.rest_minutes} {unit}{' (typed, not timed)' if record.rest_typed else ''}"


def _tried(record: ExamRecord, side: Side) -> bool:
    """Whether the exam says anything of this foot: an arm alone does not."""
    pattern = record.interpretation.of("pattern", side)
    return pattern is not None and pattern.sentence != ""


def _gave(record: ExamRecord, side: Side) -> bool:
    """Whether a pressure, a stiff artery or the absence of any signal was found on this foot."""
    return any(
        reading.site is not Site.ARM and reading.outcome != Outcome.NOT_OBTAINED
        for reading in record.limb(side).readings
    )


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def how_long_ago(on: date, today: date) -> str:
    """Plain words for an age: "today", "12 days ago", "7 months ago", "3 years ago"; rounded down."""
    days = (today - on).days
    if days <= 0:
        return "today"
    months = (today.year - on.year) * 12 + today.month - on.month - (today.day < on.day)
    if months < 2:
        return "yesterday" if days == 1 else f"{days} days ago"
    return f"{months} months ago" if months < 24 else f"{months // 12} years ago"


def _line(measure: Measure, limb: LimbYears) -> MeasureLine:
    series = limb.series[measure]
    tried = [one for one in series.seen if not _not_made(one)]
    last = series.seen[-1] if series.seen else None
    missing = f"{day(last.at)}: {last.because}" if isinstance(last, NoValue) and _not_made(last) else ""
    seen = tried[-1] if tried else None
    return MeasureLine(NAMES[measure], seen, limb.changes.get(measure), missing)


def _not_made(one: Seen) -> bool:
    return isinstance(one, NoValue) and one.absence is Absence.NOT_MADE
