"""What a file's name says of side, site, attempt and technique. Pure; only ever a proposal to a person.

A word that could mean two things says nothing: a side is never guessed.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import zip_longest

from exams.visits.models import Site, Technique

_SIDES = {
    "right": ("r", "rt", "right", "re", "rechts", "rechter", "rechte", "dx", "dexter", "droit", "droite"),
    "left": ("l", "lt", "left", "li", "links", "linker", "linke", "sin", "sinister", "gauche"),
}
_ORDINALS = {
    1: ("1", "01", "1st", "first", "i"),
    2: ("2", "02", "2nd", "second", "ii"),
    3: ("3", "03", "3rd", "third", "iii"),
    4: ("4", "04", "4th", "fourth", "iv"),
    5: ("5", "05", "5th", "fifth", "v"),
}
_NUMBER = {word: number for number, words in _ORDINALS.items() for word in words}
_TOE = ("toe", "digit", "dig", "zehe", "zeh", "teen", "orteil")
# Whole phrases, the longer first: "posterior tibial" before "tibial".
_PHRASES: tuple[tuple[tuple[str, ...], str], ...] = (
    (("big", "toe"), Site.TOE_1),
    (("great", "toe"), Site.TOE_1),
    (("little", "toe"), Site.TOE_5),
    (("posterior", "tibial"), Site.POSTERIOR_TIBIAL),
    (("tibialis", "posterior"), Site.POSTERIOR_TIBIAL),
    (("post", "tib"), Site.POSTERIOR_TIBIAL),
    (("dorsalis", "pedis"), Site.DORSALIS_PEDIS),
    (("hallux",), Site.TOE_1),
    (("bigtoe",), Site.TOE_1),
    (("grosszehe",), Site.TOE_1),
    (("pt",), Site.POSTERIOR_TIBIAL),
    (("atp",), Site.POSTERIOR_TIBIAL),
    (("dp",), Site.DORSALIS_PEDIS),
    (("adp",), Site.DORSALIS_PEDIS),
    (("dorsalis",), Site.DORSALIS_PEDIS),
    (("peroneal",), Site.PERONEAL),
    (("fibular",), Site.PERONEAL),
    (("arm",), Site.ARM),
    (("brachial",), Site.ARM),
)
_TECHNIQUES: tuple[tuple[tuple[str, ...], str], ...] = (
    *(((number, cuff), Technique.TWO_CUFFS) for number in ("two", "2") for cuff in ("cuff", "cuffs")),
    *(((number, "cuff"), Technique.ONE_CUFF_HAND) for number in ("one", "1", "single")),
    (("doppler",), Technique.DOPPLER),
)
_AGAIN = ("again", "repeat", "repeated", "retest")
_ATTEMPT = ("attempt", "run", "try", "rep", "take", "trial", "measurement")
# "re-test" is no right foot.
_AFTER_RE = ("test", "do", "run", "take", "peat", "check")


@dataclass(frozen=True)
class Match:
    """What the name says; empty, or None for the attempt, where it does not say it clearly."""

    side: str = ""
    site: str = ""
    attempt: int | None = None
    technique: str = ""


def match_name(name: str) -> Match:
    """What a file's name says of the place its recording was made at."""
    words = _words(name)
    technique = _only(_take(words, _TECHNIQUES))
    attempt = _take_attempt(words)
    sites = _take_numbered_toes(words) | _take(words, _PHRASES)
    if attempt is None:
        attempt = _trailing_number(words)
    sides = {side for side, said in _SIDES.items() for word in words if word in said}
    return Match(side=_only(sides), site=_only(sites), attempt=attempt, technique=technique)


def next_attempt(taken: Iterable[int]) -> int:
    """The first attempt without a recording; the last one where all have one."""
    there = set(taken)
    return next((one for one in (1, 2, 3) if one not in there), 3)


def _words(name: str) -> list[str]:
    """The words and numbers of a name without its ending, in lower case, "" where one was taken."""
    stem = re.sub(r"\.[A-Za-z]{1,5}$", "", name.replace("ß", "ss"))
    # A capital after a small letter begins a word: "rightHallux".
    stem = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", stem).lower()
    words = re.findall(r"[1-5](?:st|nd|rd|th)(?![a-z])|[^\W\d_]+|\d+", stem)
    return [
        "retest" if word == "re" and following in _AFTER_RE else word
        for word, following in zip_longest(words, words[1:], fillvalue="")
    ]


def _take(words: list[str], phrases: tuple[tuple[tuple[str, ...], str], ...]) -> set[str]:
    """What the phrases in the name mean; each is taken out of it, so that it is not read twice."""
    found = set()
    for phrase, meaning in phrases:
        for at in range(len(words) - len(phrase) + 1):
            if tuple(words[at : at + len(phrase)]) == phrase:
                found.add(str(meaning))
                words[at : at + len(phrase)] = [""] * len(phrase)
    return found


def _take_numbered_toes(words: list[str]) -> set[str]:
    """ "toe 2", "2nd toe", "second-toe"; the number after the word counts before the one ahead of it."""
    found = set()
    for at, word in enumerate(words):
        if word not in _TOE:
            continue
        for beside in (at + 1, at - 1):
            if 0 <= beside < len(words) and words[beside] in _NUMBER:
                found.add(f"toe_{_NUMBER[words[beside]]}")
                words[at] = words[beside] = ""
                break
    return found


def _take_attempt(words: list[str]) -> int | None:
    for at, word in enumerate(words[:-1]):
        if word in _ATTEMPT and words[at + 1] in ("1", "2", "3"):
            attempt = int(words[at + 1])
            words[at] = words[at + 1] = ""
            return attempt
    return 2 if any(word in _AGAIN for word in words) else None


def _trailing_number(words: list[str]) -> int | None:
    """A number at the very end, unless it is the end of a date or of a file's running number."""
    if not words or words[-1] not in ("1", "2", "3"):
        return None
    return None if len(words) > 1 and words[-2].isdigit() else int(words[-1])


def _only(found: set[str]) -> str:
    return next(iter(found)) if len(found) == 1 else ""
