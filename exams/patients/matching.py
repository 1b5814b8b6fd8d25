"""Text as it is compared: without accents, case and punctuation. Pure functions, no database.

Search, the warning on likely duplicates and the uniqueness of identifiers all read text through this file,
so that what is found, what is warned of and what is refused never disagree.
"""

import re
import unicodedata
from itertools import takewhile

# Letters that carry their stroke or ligature inside the sign, so that taking accents off leaves them whole.
_PLAIN = str.maketrans(
    {
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "ħ": "h",
        "ŧ": "t",
        "ı": "i",
        "æ": "ae",
        "œ": "oe",
        "þ": "th",
        "ŋ": "n",
    }
)

_ASCII_WORDS = re.compile("[a-z0-9]+")

LONGEST_KEY = 200

# A telephone number is compared by its end: "+44 1632 960001" and "01632 960001" are one telephone.
_TELEPHONE_DIGITS = 9


def words(text: str) -> tuple[str, ...]:
    """The words of ``text`` without accents and case; anything but a letter or a figure parts two words.

    Parameters
    ----------
    text : str
        Any text at all, of any script and length.

    Returns
    -------
    tuple of str
        Never an empty word; an empty tuple if nothing can be compared.

    Examples
    --------
    >>> words("Ødegård-O'Brien, ZOË")
    ('odegard', 'o', 'brien', 'zoe')
    """
    if text.isascii():  # nearly every name and number: no accents, and letters are letters
        return tuple(_ASCII_WORDS.findall(text.lower()))
    # Folding case can set new accents free (the dotted capital I), and undoing ligatures new capitals: twice.
    folded = _without_accents(_without_accents(text).casefold()).casefold()
    return tuple("".join(c if _belongs_to_a_word(c) else " " for c in folded.translate(_PLAIN)).split())


def squeezed(text: str) -> str:
    """All words of ``text`` written as one: ``"943 476-59"`` and ``"94347659"`` are the same.

    >>> squeezed("O'Brien")
    'obrien'
    """
    return "".join(words(text))


def searchable(*texts: str) -> str:
    """One line that holds every text both word by word and squeezed, to be searched for parts.

    >>> searchable("O'Brien", "Zoë")
    'o brien obrien zoe'
    """
    parts: list[str] = []
    for text in texts:
        parts += [*words(text), squeezed(text)]
    return " ".join(dict.fromkeys(part for part in parts if part))


def key(text: str) -> str:
    """``text`` squeezed and cut to what a database index can hold.

    Cut, because one sign of some scripts folds into eighteen letters; no real name or number comes near it.
    """
    return squeezed(text)[:LONGEST_KEY]


def name_key(family_name: str, given_name: str) -> str:
    """A name without order: the two names changed about give the same key.

    >>> name_key("Marsh", "Iris") == name_key("IRIS", "marsh")
    True
    """
    return " ".join(sorted(filter(None, (squeezed(family_name), squeezed(given_name)))))[:LONGEST_KEY]


def telephone_key(telephone: str) -> str:
    """The last nine figures of a telephone number, or "" if it has fewer than six."""
    figures = "".join(str(unicodedata.digit(c)) for c in telephone if unicodedata.digit(c, None) is not None)
    return figures[-_TELEPHONE_DIGITS:] if len(figures) >= 6 else ""


def one_slip_apart(one: str, other: str) -> bool:
    """Whether two words differ by one slip at most: a letter more, less or other, or two neighbours swapped.

    Both are text already squeezed.
    Words of fewer than three letters must be equal: a slip in "Li" is another name.
    """
    if one == other:
        return True
    if min(len(one), len(other)) < 3:
        return False
    begun = _alike_from_the_start(one, other)
    one, other = one[begun:], other[begun:]
    ended = _alike_from_the_start(one[::-1], other[::-1])
    one, other = one[: len(one) - ended], other[: len(other) - ended]
    return max(len(one), len(other)) <= 1 or (len(one) == 2 and one == other[::-1])


def _alike_from_the_start(one: str, other: str) -> int:
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _without_accents(text: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def _belongs_to_a_word(character: str) -> bool:
    # Marks that are left are vowel signs of their script, part of the word they stand in.
    return unicodedata.category(character)[0] in "LNM"
