"""A figure of the timeline as a file that leaves the service: whose it is, its caption and its key on it."""

from django.conf import settings
from django.template.loader import render_to_string

from reports.timeline.figure import drawn
from reports.timeline.png import lacks_letters, png_of
from reports.timeline.queries import TimelinePage
from reports.timeline.svg import Picture, picture_of
from reports.timeline.words import figures_of

INVENTED = "Invented people: nothing here is about anyone."
BOXES = "An empty box stands for a letter that the font of this picture lacks; the SVG holds every letter."


def as_svg(shown: TimelinePage, key: str) -> str:
    """The figure called `key`, as text."""
    return _drawn(_picture(shown, key))


def as_png(shown: TimelinePage, key: str) -> bytes:
    """The same at twice the size; a name it cannot write whole is told of on it."""
    picture = _picture(shown, key)
    if lacks_letters(one.words for one in picture.texts):
        picture = _picture(shown, key, BOXES)
    return png_of(_drawn(picture))


def _picture(shown: TimelinePage, key: str, *more: str) -> Picture:
    (figure,) = (one for one in figures_of(shown.years) if one.key == key)
    said = {panel.limb: panel.said for panel in figure.panels}
    invented = (INVENTED,) if settings.DEMO else ()
    return picture_of(drawn(shown.years), key, (*shown.heading, *invented, *more), said)


def _drawn(picture: Picture) -> str:
    return render_to_string("timeline/figure.svg", {"picture": picture})
