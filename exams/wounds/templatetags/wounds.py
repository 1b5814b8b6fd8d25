"""How templates of this room write sizes and sources."""

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from exams.hemodynamics import WOUND_SOURCES
from exams.wounds.footmap import Field, View
from exams.wounds.wording import size_words

register = template.Library()


@register.filter
def size(area_mm2: int | None) -> str:
    """ "2.4 cm²"; "not measured" for none."""
    return "not measured" if area_mm2 is None else size_words(area_mm2)


@register.filter
def cited(source: str) -> str:
    """A source in full by its key; the key itself where it is not one of ours."""
    return WOUND_SOURCES.get(source, source)


@register.simple_tag
def source(key: str, status: str) -> SafeString:
    """A source one key away, with how well it was confirmed."""
    return format_html('<span class="small soft">(<a href="#source-{}">{}</a>, {})</span>', key, key, status)


@register.simple_tag
def map_fields(view: View, word: str, side: str, link: str) -> SafeString:
    """Every place of one picture of a foot; each leads to ``link`` with it chosen, "" for nowhere.

    By the dozen on a page, so drawn without the template engine.
    """
    return format_html_join("", "{}", ((_field(one, view, word, side, link),) for one in view.fields))


def _field(field: Field, view: View, word: str, side: str, link: str) -> SafeString:
    x, _ = field.middle
    gone = format_html(' fill="url(#map-{}-gone)"', view.key) if field.lost else ""
    classes = "map-field" + " map-lost" * bool(field.lost) + " map-chosen" * field.chosen
    inside = format_html(
        '<title>{} {}{}</title><rect class="{}" x="{}" y="{}" width="{}" height="{}" rx="{}"{}/>{}',
        word,
        field.words,
        f": {field.lost}" if field.lost else "",
        classes,
        field.x,
        field.y,
        field.width,
        field.height,
        field.round,
        gone,
        _mark(field, x),
    )
    if field.lost or not link:
        return format_html("<g>{}</g>", inside)
    place = f"{side}:{field.code}"
    return format_html(
        '<a href="{}?place={}#place" data-place="{}" tabindex="-1">{}</a>', link, place, place, inside
    )


def _mark(field: Field, x: int) -> SafeString | str:
    """The numbers of the wounds there; without one, the name of the place where the drawing needs it."""
    if field.numbers:
        return format_html(
            '<circle class="map-mark" cx="{}" cy="{}" r="14"/>'
            '<text class="map-number" x="{}" y="{}" text-anchor="middle">{}</text>',
            x,
            field.middle[1],
            x,
            field.word_y,
            field.numbers,
        )
    if field.label and not field.lost:
        return format_html(
            '<text class="map-label" x="{}" y="{}" text-anchor="middle">{}</text>',
            x,
            field.word_y,
            field.label,
        )
    return ""
