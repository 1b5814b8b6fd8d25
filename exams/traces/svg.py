"""The parts of a drawing that come by the dozen, put together without the template engine. Pure.

They hold numbers and words of our own, which need no escaping; only a mark's words may name a person.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from django.utils.html import escape
from django.utils.safestring import SafeString

if TYPE_CHECKING:
    from exams.traces.figure import Dot, Placed, Repeat, Scale, Tick, Whisker
    from exams.traces.strip import PhaseShown, StripMark, TimeTick


# A double line under a square: the reader's own mark.
_YOURS = (
    '<line x1="-3" x2="-3" y1="50" y2="364"/><line x1="3" x2="3" y1="50" y2="364"/>'
    '<rect x="-6" y="34" width="12" height="14"/>'
)
_SUGGESTED = '<line x1="0" x2="0" y1="24" y2="364"/><path d="M-7 22h14l-7 11z"/>'
# Where the script puts the reader's own mark once there is one.
YOURS_TO_COME = SafeString(
    '<svg class="placed yours out" data-placed="yours" overflow="visible"><svg class="at" overflow="visible">'
    f'<g class="shape">{_YOURS}</g></svg><svg class="words" overflow="visible"><text x="11" y="40"></text>'
    "</svg></svg>"
)


def placed(things: Iterable[Placed]) -> SafeString:
    """Marks and flags, each at its pressure: a shape of its own and words."""
    return SafeString("".join(_placed(one) for one in things))


def _placed(one: Placed) -> str:
    words = escape(one.words)
    shown = f"{'← ' if one.beyond == 'left' else ''}{words}{' →' if one.beyond == 'right' else ''}"
    return (
        f'<svg class="placed {one.kind}{" beyond" if one.beyond else ""}" data-placed="{one.kind}" '
        f'data-mmhg="{one.mmhg}" data-words="{words}" overflow="visible">'
        f'<svg class="at" x="{one.percent}%" overflow="visible"><g class="shape">{_shape(one)}</g></svg>'
        f'<line class="leads" x1="{one.words_at}%" x2="{one.percent}%" y1="{one.middle_y}" '
        f'y2="{one.middle_y}"/><svg class="words" x="{one.words_at}%" overflow="visible">'
        f'<text x="{-11 if one.anchor == "end" else 11}" y="{one.y}" text-anchor="{one.anchor}">'
        f"{shown}</text>"
        "</svg></svg>"
    )


def _shape(one: Placed) -> str:
    if one.kind in ("suggested", "unsure"):
        return _SUGGESTED
    if one.kind == "yours":
        return _YOURS
    if one.kind == "theirs":
        return (
            '<line x1="0" x2="0" y1="64" y2="364" stroke-dasharray="7 3"/>'
            f'<rect x="-5" y="{one.shape_y}" width="10" height="10"/>'
        )
    if one.kind == "other":
        return (
            '<line x1="0" x2="0" y1="64" y2="364" stroke-dasharray="2 4"/>'
            f'<circle cx="0" cy="{one.middle_y}" r="5"/>'
        )
    if one.kind == "repeat":
        return (
            f'<line x1="0" x2="0" y1="{one.middle_y}" y2="364" stroke-dasharray="1 5"/>'
            '<path d="M-5 364h10l-5-9z"/>'
        )
    return '<rect x="-7" y="64" width="14" height="300" fill="url(#flag-pattern)"/>'


def interval(whisker: Whisker) -> SafeString:
    """The 95 % interval as a hatched band over the curve."""
    return SafeString(
        f'<rect class="interval" data-low="{whisker.low}" data-high="{whisker.high}" x="{whisker.percent}%" '
        f'width="{whisker.width}%" y="0" height="300" fill="url(#interval-pattern)"/>'
    )


def whisker(whisker: Whisker) -> SafeString:
    """The same as a whisker above it: a line, and an end at either pressure."""
    low, high, left, right = whisker.low, whisker.high, whisker.percent, whisker.end
    lines = ((low, high, left, right, 8, 8), (high, high, left, left, 3, 13), (low, low, right, right, 3, 13))
    drawn = "".join(
        f'<line class="whisker" data-low="{a}" data-high="{b}" x1="{x1}%" x2="{x2}%" y1="{y1}" y2="{y2}"/>'
        for a, b, x1, x2, y1, y2 in lines
    )
    return SafeString(
        f'<svg class="clip" x="0" y="50" width="100%" height="14"><g data-part="whisker">{drawn}</g></svg>'
    )


def scale(scale: Scale) -> SafeString:
    """How far one beat is."""
    return SafeString(
        '<g class="scale"><svg x="8" y="76" overflow="visible"><svg class="clip" width="100%" height="12">'
        f'<line data-part="scale" data-mmhg="{scale.mmhg}" x1="1" x2="{scale.width}%" y1="6" y2="6"/></svg>'
        f'<line x1="1" x2="1" y1="1" y2="11"/><text x="1" y="27">{scale.words}</text></svg></g>'
    )


def repeats(repeats: Iterable[Repeat]) -> SafeString:
    """The other recordings of the place, each as a faint curve of its own kind."""
    return SafeString(
        "".join(
            f'<path class="repeat repeat-{number}" data-part="repeat" d="{one.line}" '
            'vector-effect="non-scaling-stroke"/>'
            for number, one in enumerate(repeats, start=1)
        )
    )


def phases(phases: Iterable[PhaseShown]) -> SafeString:
    """Where each part of the recording begins in the strip, named where there is room."""
    return SafeString(
        "".join(
            f'<line class="begins" x1="{one.percent}%" x2="{one.percent}%" y1="2" y2="88"/>'
            + (f'<text x="{one.percent}%" y="13" dx="4">{one.words}</text>' if one.named else "")
            for one in phases
        )
    )


def phases_said(phases: Iterable[PhaseShown]) -> SafeString:
    """From when to when each part lasted, in one line."""
    return SafeString(
        " · ".join(f'<span class="nowrap">{one.words} {one.start_s}–{one.end_s} s</span>' for one in phases)
    )


def seconds(ticks: Iterable[TimeTick]) -> SafeString:
    """The strip's axis."""
    return SafeString(
        "".join(
            f'<text class="tick" x="{one.percent}%" y="104" text-anchor="{one.anchor}">{one.words}</text>'
            for one in ticks
        )
    )


def strip_marks(marks: Iterable[StripMark]) -> SafeString:
    """Marks and flags in the strip: a line, a double one for the reader's own, a hatched band for a flag."""
    line = '<line x1="{0}" x2="{0}" y1="20" y2="88"/>'
    shapes = {
        "flag": '<rect x="-4" y="20" width="8" height="68" fill="url(#flag-pattern)"/>',
        "yours": line.format(0) + line.format(3),
    }
    return SafeString(
        "".join(
            f'<svg class="strip-mark {one.kind}" data-strip-mark="{one.kind}" x="{one.percent}%" '
            f'overflow="visible">{shapes.get(one.kind, line.format(0))}<title>{one.words}</title></svg>'
            for one in marks
        )
    )


def ticks(ticks: Iterable[Tick]) -> SafeString:
    """The line and the number of each pressure on the axis."""
    return SafeString(
        "".join(
            f'<line class="grid" x1="{one.percent}%" x2="{one.percent}%" y1="64" y2="364"/>'
            f'<text class="tick{" spare" if one.spare else ""}" x="{one.percent}%" y="382" '
            f'text-anchor="{one.anchor}">{one.mmhg}</text>'
            for one in ticks
        )
    )


def dots(dots: Iterable[Dot]) -> SafeString:
    """A dot a beat."""
    return SafeString(
        "".join(
            f'<circle class="beat" data-mmhg="{one.mmhg}" data-level="{one.level}" cx="{one.percent}%" '
            f'cy="{one.y}" r="4"/>'
            for one in dots
        )
    )
