"""What templates say of jobs."""

from django import template
from django.urls import Resolver404, resolve

from access.matrix import rule_for
from access.people import Person
from access.permissions import passes_url

register = template.Library()


@register.filter
def may_open(person: Person | None, address: str) -> bool:
    """Whether what a job made opens for this person: whoever minds the jobs may not read the reports."""
    try:
        rule = rule_for(resolve(address.partition("?")[0]))
    except Resolver404:
        return True
    return rule is not None and passes_url(person, rule.abilities["GET"])
