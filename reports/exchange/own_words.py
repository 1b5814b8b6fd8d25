"""What the words of one table mean, as its owner says. Pure."""

from reports.exchange.words import key


def table_words(lines: str) -> dict[str, dict[str, str]]:
    """Words of one table: by heading ("" for every column), what is written to what is meant.

    Lines ``heading: written = meant`` or ``written = meant``; "blank" means nothing.

    Raises
    ------
    ValueError
        With the line that says nothing.

    >>> table_words("arm used: 1 = right")
    {'arm used': {'1': 'right'}}
    """
    found: dict[str, dict[str, str]] = {}
    for line in filter(None, map(str.strip, lines.splitlines())):
        said, equals, meant = line.rpartition("=")
        heading, colon, word = said.rpartition(":")
        if not equals or not key(word if colon else said) or not meant.strip():
            raise ValueError(line)
        plain = "" if key(meant) == "blank" else meant.strip()
        found.setdefault(key(heading) if colon else "", {})[plain_text(word if colon else said)] = plain
    return found


def plain_text(text: str) -> str:
    return " ".join(text.split()).casefold()
