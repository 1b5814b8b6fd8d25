"""Rubbish collected every few blocks: a third of a large import was spent looking for it again and again."""

import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TypeVar

Item = TypeVar("Item")
# Blocks of exams between two collections. Nearly all that a block leaves goes by itself; a collection looks
# at everything that is still held.
BLOCKS = 8


@contextmanager
def set_aside() -> Iterator[None]:
    """Inside, what lives already is not looked through; nothing is collected but by `after_every`.

    For the whole process, which goes on as before afterwards; other work in it only keeps its rubbish longer.
    """
    was_on = gc.isenabled()
    gc.freeze()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
        gc.unfreeze()


def after_every(many: int, items: Iterable[Item]) -> Iterator[Item]:
    """The same items; what so many left behind is collected before the next."""
    for number, item in enumerate(items, start=1):
        yield item
        del item
        if number % many == 0:
            gc.collect()
