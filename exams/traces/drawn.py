"""What the desk says by the dozen, as HTML put together without the template engine. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from django.utils.html import escape
from django.utils.safestring import SafeString

if TYPE_CHECKING:
    from exams.traces.desk import BeatLine, Choice, MarkLine, Point, Question


def questions(questions: Iterable[Question]) -> SafeString:
    """The trade's questions in their order, each with what speaks for and against."""
    return SafeString(
        "".join(
            f"<li><h3>{one.asks}</h3><ul>{''.join(map(_point, one.points))}</ul></li>" for one in questions
        )
    )


def _point(point: Point) -> str:
    weighs = "do not report" if point.weighs == "refuses" else point.weighs
    word = f"<b>{weighs}</b> " if weighs else ""
    return f'<li class="point {point.weighs or "plain"}">{word}<span>{escape(point.words)}</span></li>'


def choices(choices: Iterable[Choice], chosen: str) -> SafeString:
    """Where the mark could stand without moving anything."""
    return SafeString(
        "".join(
            f'<label class="choice"><input type="radio" name="mark" value="{one.key}" data-mmhg="{one.mmhg}" '
            f'data-time="{one.time_s}"{" checked" if one.key == chosen else ""}>{one.words}</label>'
            for one in choices
        )
    )


def reasons(reasons: Mapping[str, str], picked: str) -> SafeString:
    """Why a recording is not read: a choice with a number each, that number being its key."""
    return SafeString(
        "".join(
            f'<li><label class="choice"><input type="radio" name="reason" value="{code}"'
            f"{' checked' if code == picked else ''}><kbd>{number}</kbd> {words}</label></li>"
            for number, (code, words) in enumerate(reasons.items(), start=1)
        )
    )


def mark_rows(marks: Iterable[MarkLine]) -> SafeString:
    """Every mark as a row of a table: who, what, how far from the suggestion, why and when."""
    return SafeString("".join(map(_mark_row, marks)))


def _mark_row(mark: MarkLine) -> str:
    knew = ", blind" if mark.blind else ", not blind (had seen the suggestion)" if mark.had_seen else ""
    said = [mark.verdict, mark.how, "in the sheet" if mark.in_sheet else "", mark.later]
    struck, replaced = ("", "") if mark.stands else (' class="struck"', ' <b class="replaced">replaced</b>')
    version = f"vaslab {escape(mark.program_version)}, reader {escape(mark.version)}"
    return (
        f'<tr{struck}><th scope="row">{escape(mark.who)}{knew}</th>'
        f'<td class="number" data-label="Pressure">{mark.shown}</td>'
        f'<td data-label="Verdict">{escape(", ".join(filter(None, said)))}{replaced}</td>'
        f'<td data-label="Against the suggestion">{mark.apart}</td>'
        f'<td data-label="Why">{escape(mark.reason)}</td>'
        f'<td data-label="When"><span class="nowrap">{mark.when}</span><br>'
        f'<span class="small soft">{version}</span></td></tr>'
    )


def beat_rows(beats: Iterable[BeatLine]) -> SafeString:
    """The beats of the figure as rows of a table."""
    return SafeString(
        "".join(
            f'<tr><td class="number">{one.time_s}</td><td class="number">{one.mmhg}</td>'
            f'<td class="number">{one.level}</td><td class="number">{one.height}</td></tr>'
            for one in beats
        )
    )
