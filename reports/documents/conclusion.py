"""What a conclusion says of which limb. Pure."""

import re

from exams.hemodynamics import Side, named_once, without_name


def written_of(side: Side, conclusion: str) -> str:
    """What stands between the word of one limb and the word of the other; "RIGHT and LEFT" is of both."""
    other = next(one.word for one in Side if one is not side)
    named = rf"\b{side.word}\b(?:\s+and\s+{other}\b)?(.*?)(?=\b{other}\b|$)"
    parts = re.findall(named, conclusion, re.IGNORECASE | re.DOTALL)
    return " ".join(parts)


def is_said(sentence: str, side: Side | None, conclusion: str) -> bool:
    """Whether a conclusion kept a finding's sentence, word by word, and of the same limb.

    The draft names a limb once, so that all but its first sentence stand there without the name.
    """
    if sentence in conclusion:
        return True
    if side is None:
        return False
    return named_once(sentence, side) in conclusion or without_name(sentence, side) in written_of(
        side, conclusion
    )
