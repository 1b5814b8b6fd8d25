"""What the desk draws of a recording."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from access.people import Person
from exams.hemodynamics import Mark, NotStated, TraceReading
from exams.traces import desk as shown
from exams.traces.curves import Fall, fall_of, part_of
from exams.traces.figure import PressureFigure, View, near_view, pressure_figure, whole_view
from exams.traces.models import ReaderMark, Trace
from exams.traces.queries.desk_marks import Suggested, stands
from exams.traces.samples import Floats, unpack
from exams.traces.strip import Strip, strip_of
from exams.visits.wording import plain

# Points of the whole deflation that the page's script is given; a window it zooms to has its own.
_POINTS_WITH_THE_PAGE = 400


@dataclass(frozen=True)
class Drawn:
    samples: tuple[Floats, Floats, Floats]
    reading: TraceReading
    fall: Fall | None
    marks: list[ReaderMark]
    person: Person

    @property
    def beat_mmhg(self) -> float | None:
        beat = self.reading.beat_mmhg
        return None if isinstance(beat, NotStated) else round(float(beat), 1)

    @property
    def suggested(self) -> Mark | None:
        return None if isinstance(self.reading.mark, NotStated) else self.reading.mark


def view_of(drawn: Drawn, own: ReaderMark | None, all_of_it: bool) -> View | None:
    fall = drawn.fall
    if fall is None:
        return None
    offered = not shown.why_not_offered(drawn.reading)
    # Around a suggestion that is not offered nothing may draw the eye.
    centre = float(own.pressure_mmhg) if own and own.pressure_mmhg else None
    if centre is None and offered and drawn.suggested:
        centre = drawn.suggested.pressure_mmhg
    return whole_view(fall) if all_of_it or centre is None else near_view(fall, centre)


def figure_of(
    drawn: Drawn,
    view: View,
    mine: ReaderMark | None,
    others: Sequence[tuple[shown.RepeatLine, Fall | None]],
) -> PressureFigure:
    fall, reading, mark = drawn.fall, drawn.reading, drawn.suggested
    assert fall is not None  # noqa: S101 - the caller has looked
    placed: list[tuple[str, float, str]] = []
    if mark:
        placed.append(shown.suggestion_drawn(reading, mark))
    if mine and mine.pressure_mmhg:
        placed.append(("yours", float(mine.pressure_mmhg), f"your mark {plain(mine.pressure_mmhg)}"))
    for other in reading.alternatives:
        placed.append(("other", other.pressure_mmhg, f"other place {shown.whole(other.pressure_mmhg)}"))
    for one in drawn.marks:
        own = one.marked_by_id == drawn.person.user.pk
        # A person's blind reading is history to themselves too: the mark they may still move is another.
        if one.pressure_mmhg and (one.blind or not own) and stands(one, drawn.marks):
            who = f"{'you' if own else _short(one.marked_by.full_name)}{', blind' if one.blind else ''}"
            placed.append(("theirs", float(one.pressure_mmhg), f"{who} {plain(one.pressure_mmhg)}"))
    for flag in reading.flags:
        if flag.at_s is not None and fall.time_s[0] <= flag.at_s <= fall.time_s[-1]:
            placed.append(("flag", fall.mmhg_at(flag.at_s), shown.FLAG_NAMES[flag.code]))
    for line, _ in others:
        if line.mmhg is not None:
            placed.append(("repeat", line.mmhg, f"recording {line.number}: {line.shown}"))
    return pressure_figure(
        fall,
        view,
        beat_times_s=[beat.time_s for beat in reading.beats],
        beat_mmhg=drawn.beat_mmhg,
        interval=(mark.low_mmhg, mark.high_mmhg) if mark else None,
        placed=placed,
        repeats=[(line.number, other) for line, other in others if other is not None],
    )


def _short(name: str) -> str:
    """ "M. Measurer": a phone's figure has no room for more; the table of the marks has the whole name."""
    *given, family = name.split()
    return " ".join((*(f"{one[0]}." for one in given), family))


def strip_drawn(drawn: Drawn, view: View | None, own: ReaderMark | None, *, blind: bool) -> Strip | None:
    reading, fall, mark = drawn.reading, drawn.fall, drawn.suggested
    marks: list[tuple[str, float, str]] = []
    if not blind:
        if mark:
            marks.append(("suggested", mark.time_s, "suggested"))
        if own and own.time_s is not None:
            marks.append(("yours", own.time_s, "your mark"))
        marks += [
            ("flag", flag.at_s, shown.FLAG_NAMES[flag.code])
            for flag in reading.flags
            if flag.at_s is not None
        ]
    seen = (fall.time_at(view.left), fall.time_at(view.right)) if fall and view else None
    return strip_of(*drawn.samples, reading, shown_s=seen, marks=marks, blind=blind)


def beat_lines(drawn: Drawn) -> tuple[shown.BeatLine, ...]:
    fall = drawn.fall
    if not fall:
        return ()
    first, last = float(fall.time_s[0]), float(fall.time_s[-1])
    beats = [one for one in drawn.reading.beats if first <= one.time_s <= last]
    if not beats:
        return ()
    begins = float(drawn.samples[0][0])
    low = min(one.level for one in beats)
    highest = max(one.level for one in beats) - low or 1.0
    return tuple(
        shown.BeatLine(
            f"{one.time_s - begins:.1f}",
            f"{fall.mmhg_at(one.time_s):.0f}",
            f"{(one.level - low) / highest:.0%}",
            f"{one.amplitude / highest:.0%}",
        )
        for one in beats
    )


def for_script(
    trace: Trace, drawn: Drawn, figure: PressureFigure | None, strip: Strip | None
) -> dict[str, Any] | None:
    fall, reading = drawn.fall, drawn.reading
    if fall is None or figure is None or strip is None:
        return None
    beat = reading.beat_interval_s
    count = max(len(fall.time_s) - 1, 1)
    return {
        "windowUrl": reverse("traces:window", args=[trace.pk]),
        "points": part_of(fall, float(fall.time_s[0]), float(fall.time_s[-1]), _POINTS_WITH_THE_PAGE),
        "repeats": [{"mmhg": one.mmhg, "level": one.level} for one in figure.repeats],
        "view": [figure.view.left, figure.view.right],
        "whole": [figure.whole.left, figure.whole.right],
        "stepS": float(fall.time_s[-1] - fall.time_s[0]) / count,
        "beatS": None if isinstance(beat, NotStated) else float(beat),
        "begins": strip.begins,
        "length": strip.length,
    }


def repeats_of(
    trace: Trace, newest: dict[int, Suggested], marks: Sequence[ReaderMark]
) -> list[tuple[shown.RepeatLine, Fall | None]]:
    """The other recordings of the place, with their deflations, numbered in their order: a refused one gives
    its attempt to its repeat."""
    found = []
    for number, other in enumerate(newest.values(), start=1):
        if other.trace_id == trace.pk or other.samples is None:
            continue
        reading = TraceReading.from_json(other.reading)
        fall = fall_of(*unpack(bytes(other.samples)), reading)
        of_it = [one for one in marks if one.trace_id == other.trace_id]
        found.append((_repeat_line(other.trace_id, number, reading, of_it, fall), fall))
    return found


def _repeat_line(
    trace_id: int, number: int, reading: TraceReading, marks: Sequence[ReaderMark], fall: Fall | None
) -> shown.RepeatLine:
    words = f"recording {number}"
    mark = next((one for one in reversed(marks) if not one.blind), None)
    if mark:
        mmhg = float(mark.pressure_mmhg) if mark.pressure_mmhg else None
        said = f"{plain(mark.pressure_mmhg)} mmHg" if mark.pressure_mmhg else str(mark.get_verdict_display())
        return shown.RepeatLine(
            trace_id, number, words, said, mark.marked_by.full_name, mmhg, fall is not None
        )
    if reading.usable and isinstance(reading.mark, Mark):
        mmhg = reading.mark.pressure_mmhg
        said = f"{shown.whole(mmhg)} mmHg"
        return shown.RepeatLine(trace_id, number, words, said, "suggested", mmhg, fall is not None)
    return shown.RepeatLine(
        trace_id, number, words, "not to be reported", "suggested", None, fall is not None
    )
