"""The figure of a pressure ladder as SVG, put together without the template engine: on screen and in print.

Presentation attributes only, so that it needs no style of its own.
"""

from collections.abc import Iterable
from html import escape

from django.utils.safestring import SafeString

from exams.visits.ladder import Ladder, Line, Place, Text, Tick

_INK, _SOFT, _PAPER = "#111827", "#4b5563", "#ffffff"


def ladder_svg(ladder: Ladder) -> SafeString:
    """One limb, drawn."""
    key = f"ladder-{ladder.key}"
    return SafeString(
        f'<svg class="ladder" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'aria-labelledby="{key}-title {key}-desc" viewBox="0 0 {ladder.width} {ladder.height}" '
        'font-family="\'Source Sans 3\', sans-serif" font-size="11" fill="none" stroke="none">'
        f'<title id="{key}-title">{escape(ladder.title)}</title>'
        f'<desc id="{key}-desc">{escape(ladder.description)}</desc><defs>'
        f'<pattern id="{key}-hatch" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<path class="ladder-thin" d="M0 6L6 0" stroke="#6b7280" stroke-width="0.8"/></pattern>'
        f'<pattern id="{key}-dots" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<circle class="ladder-dot" cx="3" cy="3" r="0.9" fill="{_SOFT}"/></pattern></defs>'
        f'<text class="ladder-word" x="0" y="12" font-size="14" font-weight="700" fill="{_INK}">'
        f"{ladder.side.word}</text>"
        f'<text class="ladder-quiet" x="{ladder.plot_right}" y="12" font-size="10" text-anchor="end" '
        f'fill="{_SOFT}">mmHg</text>'
        f"{''.join(_tick(tick, ladder) for tick in ladder.ticks)}{_steps(ladder.steps)}"
        f"{''.join(_place(place, key) for place in ladder.places)}</svg>"
    )


def ladder_table(ladder: Ladder) -> SafeString:
    """The same limb as a table, for screen readers and for copying."""
    word = ladder.side.word
    rows = "".join(
        f'<tr><th scope="row">{escape(one.site.words)}</th><td class="number">{escape(one.shown)}</td>'
        f'<td class="number">{one.interval or "none"}</td></tr>'
        for one in ladder.standings
    )
    none = '<tr><td colspan="3">No site was planned or measured on this limb.</td></tr>'
    return SafeString(
        f'<table class="ladder-table"><caption>{word}, pressures as in the figure</caption>'
        f'<thead><tr><th scope="col">Site</th><th scope="col">{word}</th>'
        f'<th scope="col">95 % interval</th></tr></thead><tbody>{rows or none}</tbody></table>'
    )


def _tick(tick: Tick, ladder: Ladder) -> str:
    kind, ink, width = ("grid", "#d1d5db", 0.6) if tick.mmhg else ("base", _INK, 1)
    return (
        f'<path class="ladder-{kind}" d="M{ladder.plot_left} {tick.y}H{ladder.plot_right}" stroke="{ink}" '
        f'stroke-width="{width}"/><text class="ladder-quiet" x="{ladder.scale_x}" y="{tick.text_y}" '
        f'font-size="10" text-anchor="end" fill="{_SOFT}">{tick.mmhg}</text>'
    )


def _steps(steps: Iterable[str]) -> str:
    return "".join(
        f'<path class="ladder-step" d="{step}" stroke="{_SOFT}" stroke-width="1" stroke-dasharray="2 2"/>'
        for step in steps
    )


def _place(place: Place, key: str) -> str:
    value = ""
    if place.value:
        value = _text(place.value, "word", 'font-size="13" font-weight="700" ')
    reasons = "".join(_text(line, "reason", 'font-size="10" ') for line in place.reason)
    return (
        f'<g class="ladder-place ladder-{place.kind}">{_shape(place, key)}'
        f"{_lines(place.stiles, 'stile', _SOFT, '1')}{_lines(place.whisker, 'whisker', _INK, '1.2')}"
        f"{_lines(place.crosses, 'cross', _INK, '1.6')}{value}"
        f"{reasons}{''.join(_text(line, 'word') for line in place.label)}</g>"
    )


def _shape(place: Place, key: str) -> str:
    rung = f'<path class="ladder-rung" d="M{place.left} {place.y}h{place.width}" stroke="{_INK}"'
    box = f'x="{place.left}" y="{place.y}" width="{place.width}" height="{place.height}"'
    if place.kind == "rung":
        return f'{rung} stroke-width="4"/>'
    if place.kind == "open":
        paper = f'<rect class="ladder-paper" {box} fill="{_PAPER}"/>'
        return f'{paper}{rung} stroke-width="2.5" stroke-dasharray="5 3"/>'
    if place.kind == "no_signal":
        return f'<rect class="ladder-box" {box} fill="url(#{key}-dots)" stroke="{_INK}" stroke-width="1.2"/>'
    if place.kind == "absent":
        return f'<rect class="ladder-box" {box} fill="url(#{key}-hatch)" stroke="{_INK}" stroke-width="1"/>'
    return (
        f'<rect class="ladder-box ladder-paper" {box} fill="{_PAPER}" stroke="{_SOFT}" stroke-width="1" '
        'stroke-dasharray="4 3"/>'
    )


def _lines(lines: Iterable[Line], kind: str, ink: str, width: str) -> str:
    return "".join(
        f'<path class="ladder-{kind}" d="M{line.x1} {line.y1}L{line.x2} {line.y2}" stroke="{ink}" '
        f'stroke-width="{width}"/>'
        for line in lines
    )


def _text(line: Text, kind: str, more: str = "") -> str:
    return (
        f'<text class="ladder-{kind}" x="{line.x}" y="{line.y}" {more}text-anchor="middle" fill="{_INK}">'
        f"{escape(line.words)}</text>"
    )
