"""A figure as PNG: the SVG that is handed out, drawn at twice its size in the packaged font."""

from collections.abc import Iterable
from functools import cache

import resvg_py
from django.conf import settings
from fontTools.ttLib import TTFont

FONTS = settings.HOUSE / "vaslab/static/vaslab/vendor/source-sans/ttf"
FAMILY = "Source Sans 3"
REGULAR, BOLD = FONTS / "SourceSans3-Regular.ttf", FONTS / "SourceSans3-Bold.ttf"
TIMES = 2


def png_of(svg: str) -> bytes:
    """The picture of a figure's SVG text; no font but the packaged one is opened."""
    return resvg_py.svg_to_bytes(
        svg_string=svg,
        zoom=TIMES,
        skip_system_fonts=True,
        font_files=[str(REGULAR), str(BOLD)],
        font_family=FAMILY,
        sans_serif_family=FAMILY,
    )


def lacks_letters(words: Iterable[str]) -> bool:
    """Whether any of these words holds a letter that would be drawn as an empty box."""
    return not set(map(ord, "".join(words))) <= _letters()


@cache
def _letters() -> frozenset[int]:
    with TTFont(REGULAR, lazy=True) as font:
        return frozenset(font.getBestCmap())
