"""The addresses of many pages of one kind, found once: finding one takes longer than drawing a row."""

from collections.abc import Callable

from django.urls import reverse

# Stands in for the last number of an address; no record has it.
_ANY = 9_007_199_254_740_991


def by_number(name: str, *before: int) -> Callable[[int | str], str]:
    """What gives the address of the page `name` for a number, or a word, after the numbers `before`."""
    start, end = reverse(name, args=[*before, _ANY]).split(str(_ANY))
    return lambda number: f"{start}{number}{end}"
