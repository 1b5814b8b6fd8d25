"""Both limbs at a glance: what the patient page says of each. Pure: exams in, words out."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from exams.hemodynamics import Side, minutes_words
from exams.traces.queries.pictures import TraceLink
from reports.timeline.figure import NAMES
from reports.timeline.gist import FromExam, Gist, Whole
from reports.timeline.plain import SIDES
from reports.timeline.record import since_words
from reports.timeline.recordings import Recordings, behind
from reports.timeline.series import Absence, Measure, NoValue, Seen, day
from reports.timeline.years import Change, Event, LimbYears

# Only the words "older than a year" hang on it; no band and no flag does.
OLD_AFTER_DAYS = 365
# Recorded with the conditions, but no condition of a reading; rest is told by its minutes.
NO_CONDITION = frozenset({"arm measured first", "cuffs and sensor cleaned", "rest"})


@dataclass(frozen=True)
class MeasureLine:
    """The newest that is known of one measure. `seen` is None where it was never measured.

    `missing` says that a later exam has no value, and why; the older one is shown with its date.
    """

    measure: Measure
    seen: Seen | None
    change: Change | None
    missing: str
    recordings: tuple[TraceLink, ...] = ()

    @property
    def name(self) -> str:
        return NAMES[self.measure]


@dataclass(frozen=True)
class Stand:
    """What is said first of a limb whatever day it is, and whoever has been told.

    `urgency` is the call to make ("" where there is none) and `why` the rest of the sentence. The lines name
    no recordings yet: those hang on who looks.
    """

    side: Side
    record: FromExam | None
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
    record: FromExam | None
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


def stands_of(
    gists: Sequence[Gist],
    limbs: Sequence[LimbYears],
    wholes: Callable[[Collection[int]], Mapping[int, Whole]],
) -> tuple[Stand, Stand]:
    """What the exams, oldest first, say first of both limbs; `wholes` takes out the few that are shown."""
    lines = [tuple(_line(measure, limb) for measure in Measure) for limb in limbs]
    newest = [_newest(gists, side) for side in SIDES]
    shown = {line.seen.exam_id for of_limb in lines for line in of_limb if line.seen}
    of = wholes(shown | {one.exam_id for one in newest if one})
    right, left = (
        _stand(side, of[one.exam_id] if one else None, tuple(_shown(line, side, of) for line in of_limb))
        for side, one, of_limb in zip(SIDES, newest, lines, strict=True)
    )
    return right, left


def _newest(gists: Sequence[Gist], side: Side) -> Gist | None:
    """An exam that obtained nothing of this foot does not hide the one before; the lines name it."""
    tried = [gist for gist in gists if gist.limbs and gist.limbs[side].tried]
    gave = (gist for gist in reversed(tried) if gist.limbs[side].gave)
    return next(gave, tried[-1] if tried else None)


def _shown(line: MeasureLine, side: Side, of: Mapping[int, Whole]) -> MeasureLine:
    if line.seen is None:
        return line
    return replace(line, seen=of[line.seen.exam_id].seen[side][line.measure])


def _stand(side: Side, newest: Whole | None, lines: tuple[MeasureLine, ...]) -> Stand:
    if newest is None:
        return Stand(side, None, "", "", lines)
    urgency, why = newest.said[side]
    return Stand(side, newest.record, urgency, why, lines)


def seen_on(
    stand: Stand,
    today: date,
    *,
    recordings: Recordings,
    to_be_told: bool = False,
    events: Sequence[Event] = (),
) -> Glance:
    """A limb as it is seen on a day, by somebody who may see these recordings.

    What was done to it after the exam (`events`) is said before what the exam found.
    """
    lines = tuple(replace(line, recordings=behind(line.seen, recordings)) for line in stand.lines)
    if stand.record is None:
        return Glance(stand.side.word, "", None, "", old=False, lines=lines)
    since = since_words(events, stand.side, stand.record.on, today)
    return Glance(
        stand.side.word,
        f"{since} {_first_words(stand, to_be_told=to_be_told)}".strip(),
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


def rest_words(record: FromExam) -> str:
    """ "11 minutes", and whether that was typed and not timed."""
    if record.rest_minutes is None:
        return "not recorded"
    return f"{minutes_words(record.rest_minutes)}{' (typed, not timed)' if record.rest_typed else ''}"


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
    return MeasureLine(measure, seen, limb.changes.get(measure), missing)


def _not_made(one: Seen) -> bool:
    return isinstance(one, NoValue) and one.absence is Absence.NOT_MADE
