"""Drawing the fields of the exam sheet: sixty and more of them, of which few hold anything."""

from functools import lru_cache
from typing import Any

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from exams.visits.queries.sheet import reason_list
from exams.visits.sheet import Field, Group, Sheet

register = template.Library()


@register.simple_tag
def entry(sheet: Sheet, field: Field, group: Group | None = None) -> SafeString:
    """One field with its place for state, reasons and remarks (templates/visits/_entry.html)."""
    # Once measured, a condition that was forgotten is added on a page of its own sheet.
    if _is_untouched(field) and (field.site or not sheet.needs_reason):
        return _untouched(field, sheet.editable)
    return _drawn({"sheet": sheet, "field": field, "group": group})


def _is_untouched(field: Field) -> bool:
    """Whether nothing was typed here and nothing is said of it: then it looks the same on every sheet."""
    said = field.row_id or field.typed or field.locked or field.remark or field.error
    return not (said or field.expected)


@lru_cache(maxsize=1024)
def _untouched(field: Field, editable: bool) -> SafeString:
    return _drawn({"sheet": {"editable": editable, "reason_list": reason_list()}, "field": field})


def _drawn(context: dict[str, Any]) -> SafeString:
    return render_to_string("visits/_entry.html", context)
