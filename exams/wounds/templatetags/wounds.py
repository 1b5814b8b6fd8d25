"""How templates of this room write sizes and sources."""

from django import template

from exams.hemodynamics import WOUND_SOURCES
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
