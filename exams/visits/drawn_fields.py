"""The fields of the exam sheet as HTML, put together without the template engine.

A sheet has sixty and more of them. Through templates they took a third of the time of the whole page, and a
measurer waits for that page with a person on the couch. Everything that somebody may have typed is escaped.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from html import escape as escaped

from django.utils.safestring import SafeString
from django.utils.timezone import localtime

from exams.visits.addresses import by_number
from exams.visits.queries.sheet import reason_list
from exams.visits.sheet import Field, Group, Past, Sheet

# Nearly all are our own words, the same on every sheet.
escape = lru_cache(maxsize=2048)(escaped)


@dataclass(frozen=True)
class Place:
    """What a field must know of the sheet it stands on; the address where a value is corrected, if one is."""

    editable: bool
    needs_reason: bool = False
    may_override: bool = False
    correct: Callable[[int | str], str] | None = None


def conditions_html(sheet: Sheet) -> SafeString:
    """The fields of the conditions."""
    place = _place(sheet)
    return SafeString("".join(_drawn(field, None, place) for field in sheet.preparation))


def groups_html(sheet: Sheet) -> SafeString:
    """Every group of sites, in the measuring order."""
    place = _place(sheet)
    return SafeString("".join(_group(group, place) for group in sheet.groups))


@lru_cache(maxsize=1)
def reasons_html() -> SafeString:
    """The list of reasons, as the script offers it at a field."""
    reasons = "".join(
        f'<li value="{one.number}" data-number="{one.number}" data-words="{escape(one.words)}">'
        f"{escape(one.words)}</li>"
        for one in reason_list()
    )
    return SafeString(f"<ol>{reasons}</ol>")


def _place(sheet: Sheet) -> Place:
    # Asked once a sheet: to find an address takes longer than to draw a field.
    correct = by_number("visits:correct", sheet.id) if sheet.needs_reason else None
    return Place(sheet.editable, sheet.needs_reason, sheet.may_override, correct)


def _drawn(field: Field, group: Group | None, sheet: Place) -> str:
    """One field with its places for state, reasons, remark and a clash of two values."""
    # Once measured, a condition that was forgotten is added on a page of its own sheet.
    if _is_untouched(field) and (field.site or not sheet.needs_reason):
        return _untouched(field, sheet.editable)
    return _entry(field, group, sheet)


def _group(group: Group, sheet: Place) -> str:
    """Sites measured together with one technique and cuff."""
    disabled = "" if sheet.editable else " disabled"
    side = f" on-{group.side}" if group.side else ""
    only_repeats = bool(group.fields) and all(_repeats_nothing(field, sheet) for field in group.fields)
    folded = " folded" if group.folded or only_repeats else ""
    html = [
        f'<fieldset class="group{side}{folded}" data-group="{group.key}">'
        f"<legend>{escape(group.title)}</legend>"
    ]
    html += [f'<p class="gone">Not offered, no longer there: {escape(words)}.</p>' for words in group.lost]
    html += [f'<p class="beware"><strong>Caution:</strong> {escape(words)}.</p>' for words in group.warnings]
    if group.techniques and group.fields:
        ways = "".join(
            f'<option value="{one.value}"{" selected" if one.value == group.technique else ""}>'
            f"{escape(one.words)}</option>"
            for one in group.techniques
        )
        html.append(
            '<div class="technique folding">'
            f'<label for="technique.{group.key}">Technique</label> '
            f'<select id="technique.{group.key}" name="technique.{group.key}" data-technique{disabled}>'
            f"{ways}</select> "
            f'<label for="cuff.{group.key}">Cuff width, mm</label> '
            f'<input id="cuff.{group.key}" name="cuff.{group.key}" value="{escape(group.cuff_mm)}" '
            f'inputmode="numeric" autocomplete="off" class="figure" data-cuff{disabled}> '
            '<button type="button" class="quiet" data-also hidden></button></div>'
        )
    if "toe" in group.key and sheet.editable:
        html.append(
            f'<p class="inflation-clock" data-inflation-clock="{group.side}" hidden>'
            '<span class="watch" data-watch></span> <span data-words role="status"></span></p>'
        )
    fields = "".join(_drawn(field, group, sheet) for field in group.fields)
    html.append(f'<div class="entries">{fields}</div></fieldset>')
    return "".join(html)


def _is_untouched(field: Field) -> bool:
    """Whether nothing was typed here and nothing is said of it: then it looks the same on every sheet."""
    said = field.row_id or field.typed or field.locked or field.remark or field.error
    return not (said or field.expected)


@lru_cache(maxsize=1024)
def _untouched(field: Field, editable: bool) -> str:
    return _entry(field, None, Place(editable))


def _entry(field: Field, group: Group | None, sheet: Place) -> str:
    name, label = escape(field.name), escape(field.label)
    return "".join(
        (
            f'<div class="entry {_classes(field, sheet)}" data-field="{name}" '
            f'data-revision="{field.row_id}" data-side="{field.side}" data-spoken="{label}"',
            " data-planned" if field.planned else "",
            f' data-at="{localtime(field.at).isoformat()}"' if field.at else "",
            f'><input type="hidden" name="seen.{name}" value="{field.row_id}"> '
            f'<label for="{name}">{_capital(label)}</label> <span class="typed">',
            _input(field, name, sheet),
            _unit(field, name, label, sheet) if field.site else "",
            '</span> <span class="said">',
            _said(field, group, name, label, sheet),
            "</span>",
            _stands(field, name) if field.expected else "",
            f'<span class="wrong" id="{name}:error" data-part="error"{"" if field.error else " hidden"}>'
            f"{escape(field.error)}</span>",
            _forbidden(field, name, sheet) if field.locked else "",
            '<div class="reason-list" data-part="reasons"></div>' if field.site else "",
            _remark(field, name, sheet),
            f'<div class="clash" data-part="clash" role="group" aria-label="Two values for {label}" '
            'hidden><p data-words></p><span class="answer"><button type="button"></button> '
            '<button type="button" class="quiet"></button></span></div>',
            _history(field.history) if field.history else "",
            "</div>",
        )
    )


def _classes(field: Field, sheet: Place) -> str:
    classes = ["reading" if field.site else "condition"]
    classes += [f"on-{field.side}"] if field.side else []
    classes += ["folded"] if field.folded or _repeats_nothing(field, sheet) else []
    classes += ["filled"] if field.typed else []
    classes += ["locked"] if field.locked else []
    return " ".join(classes)


def _repeats_nothing(field: Field, sheet: Place) -> bool:
    """Whether it is a repeat that nobody took, and nobody can take now."""
    return field.attempt > 1 and not field.typed and not sheet.editable


def _input(field: Field, name: str, sheet: Place) -> str:
    disabled = "" if sheet.editable else " disabled"
    invalid = ' aria-invalid="true"' if field.error else ""
    told = f'aria-describedby="{name}:state {name}:error"'
    if field.kind == "choice":
        options = "".join(
            f'<option value="{escape(one.value)}"{" selected" if one.value == field.typed else ""}>'
            f"{number} {escape(one.words)}</option>"
            for number, one in enumerate(field.choices, start=1)
        )
        return (
            f'<select id="{name}" name="{name}" data-typed {told}{invalid}{disabled}>'
            f'<option value=""></option>{options}</select>'
        )
    if field.kind == "yes":
        checked = " checked" if field.typed == "yes" else ""
        return (
            f'<input type="checkbox" id="{name}" name="{name}" value="yes" data-typed {told}'
            f"{checked}{disabled}>"
        )
    typed = escape(field.typed)
    if field.kind == "text":
        return (
            f'<input id="{name}" name="{name}" value="{typed}" maxlength="300" autocomplete="off" '
            f"data-typed {told}{invalid}{disabled}>"
        )
    parts = [*(["unit"] if field.site else []), *(["stands"] if field.expected else [])]
    parts += ["shown", "state", "error", *(["locked"] if field.locked else [])]
    told = " ".join(f"{name}:{part}" for part in parts)
    return (
        f'<input class="figure" id="{name}" name="{name}" value="{typed}" '
        f'inputmode="{"tel" if field.site else "decimal"}" autocomplete="off" data-typed '
        f'aria-describedby="{told}"{invalid}{disabled}>'
    )


def _unit(field: Field, name: str, label: str, sheet: Place) -> str:
    unit = f' <span class="unit" id="{name}:unit">{field.unit}</span>'
    if not sheet.editable:
        return unit
    return (
        f'{unit} <select class="other-way" data-outcome tabindex="-1" '
        f'aria-label="{label}: instead of a pressure">{_other_ways()}</select>'
    )


@lru_cache(maxsize=1)
def _other_ways() -> str:
    reasons = "".join(
        f'<option value="-{one.number}">-{one.number} {escape(one.words)}</option>'
        for one in reason_list()
        if one.code != "other"
    )
    return f'<option value="">…</option><option value="/">/ no signal</option>{reasons}'


def _said(field: Field, group: Group | None, name: str, label: str, sheet: Place) -> str:
    in_words = field.site and field.shown and field.typed[:1] not in tuple("0123456789")
    said = (
        f'<span class="shown" id="{name}:shown" data-part="shown">'
        f"{escape(field.shown) if in_words else ''}</span> "
        f'<span class="state" id="{name}:state" data-part="state">{_saved(field.at)}</span>'
    )
    if group and field.technique and field.technique != group.technique:
        said += "".join(
            f' <span class="state">{escape(one.words)}</span>'
            for one in group.techniques
            if one.value == field.technique
        )
    if sheet.correct and field.site and field.row_id:
        said += _correct(sheet.correct(field.row_id), "Correct", label)
    elif sheet.correct and not field.site:
        said += _correct(sheet.correct(name), "Correct" if field.typed else "Add", label)
    return said


def _correct(address: str, word: str, label: str) -> str:
    return f' <a class="correct" href="{address}">{word}<span class="visually-hidden"> {label}</span></a>'


def _saved(at: datetime | None) -> str:
    return f"saved {localtime(at):%H:%M}" if at else ""


def _stands(field: Field, name: str) -> str:
    expected = field.expected
    if expected is None:
        return ""
    words = " ".join(f'data-words-{key}="{escape(said)}"' for key, said in expected.words.items())
    return (
        f'<p class="stands" id="{name}:stands" data-part="stands" data-where="{field.where}" '
        f'data-low="{expected.today.low}" data-high="{expected.today.high}" '
        f'data-technique="{expected.technique}" {words}>{escape(field.stands)}</p>'
    )


def _forbidden(field: Field, name: str, sheet: Place) -> str:
    said = ""
    if field.override:
        said = f"<span>Inflated all the same: {escape(field.override)}</span>"
    elif sheet.may_override and sheet.editable:
        said = (
            f"<details{' open' if field.error else ''}><summary>Inflate all the same, with a reason</summary>"
            f'<label for="override.{name}">Reason, kept under your name</label> '
            f'<input id="override.{name}" name="override.{name}" maxlength="200" autocomplete="off" '
            "data-override></details>"
        )
    locked = escape(field.locked)
    return f'<div class="forbidden" id="{name}:locked"><strong>{locked}.</strong> {said}</div>'


def _remark(field: Field, name: str, sheet: Place) -> str:
    remark = field.remark
    words = escape(remark.words) if remark else ""
    asked = '<p class="soft">Not answered.</p>'
    if sheet.editable:
        asked = (
            f'<label for="remark.{name}">What was done about it, or empty: it was checked and stands</label> '
            f'<span class="answer"><input id="remark.{name}" name="remark.{name}" maxlength="200" '
            'autocomplete="off"> <button type="button" class="quiet">It stands</button></span>'
        )
    is_open = remark is not None and remark.is_open
    answered = ""
    if remark and not is_open:
        answered = f'<p class="answered">{words} <b>{escape(remark.answer)}</b></p>'
    return (
        f'<div class="remark" data-part="remark"{"" if is_open else " hidden"}>'
        f"<p data-words>{words}</p>{asked}</div>{answered}"
    )


def _history(history: Sequence[Past]) -> str:
    lines = "".join(
        f"<li><s>{escape(past.shown)}</s> {escape(past.who)}, {_moment(past.when)}"
        f"{f'; corrected because: {escape(past.why)}' if past.why else ''}</li>"
        for past in history
    )
    number = f"{len(history)} earlier value{'' if len(history) == 1 else 's'}"
    # What was only retyped while measuring is folded away; what was corrected afterwards stays in sight.
    folding = "" if any(past.why for past in history) else " folding"
    return f'<details class="history{folding}"><summary>{number}</summary><ul>{lines}</ul></details>'


def _moment(at: datetime) -> str:
    there = localtime(at)
    return f"{there.day} {there:%b %Y %H:%M}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
