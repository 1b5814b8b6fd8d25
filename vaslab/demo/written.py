"""The shorthand of the stories, as places of the sheet and as what is typed there."""

from collections.abc import Iterator

from exams.visits.plan import Place
from exams.visits.wording import REASONS
from vaslab.demo.story import Recorded, Visit

_SHORT = {"pt": "posterior_tibial", "dp": "dorsalis_pedis", "per": "peroneal"}


def places(visit: Visit) -> Iterator[tuple[Place, str]]:
    """The places of a visit in the measuring order, with what was typed there."""
    arms = visit.arms.split()
    if arms:
        yield Place("right", "arm", 1), arms[0]
        yield Place("left", "arm", 1), arms[1]
    feet = [(side, site, tries) for side in ("right", "left") for site, tries in _sites(getattr(visit, side))]
    for ankle in (True, False):
        for side, site, tries in feet:
            if site.startswith("toe") is not ankle:
                for attempt, typed in enumerate(tries, start=1):
                    yield Place(side, site, attempt), typed
    if len(arms) == 3:
        yield Place("right", "arm", 2), arms[2]


def _sites(written: str) -> list[tuple[str, list[str]]]:
    """``pt 120 dp 124 t1 75 77`` as sites with the readings taken there."""
    sites: list[tuple[str, list[str]]] = []
    for word in written.split():
        if word in _SHORT or (word[0] == "t" and word[1:].isdigit()):
            sites.append((_site(word), []))
        else:
            sites[-1][1].append(word)
    return sites


def _site(word: str) -> str:
    return _SHORT.get(word, f"toe_{word.removeprefix('t')}")


def place_of(recorded: Recorded) -> Place:
    return place_said(recorded.place)


def place_said(written: str) -> Place:
    """ "left t1 2": side, site and attempt."""
    side, site, attempt = written.split()
    return Place(side, _site(site), int(attempt))


def as_typed(written: str) -> str:
    """``-time`` is how the story says it; the sheet takes the reason's number."""
    if written.startswith("-"):
        return f"-{[reason.value for reason in REASONS].index(written[1:]) + 1}"
    return written
