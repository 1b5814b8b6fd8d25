"""Doppler waveforms in the terms of the 2020 consensus, the measurer's own word kept.

Source: KIM20 for the terms; their definitions and the map of older words are from memory (clinical 5.3).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from exams.hemodynamics.criteria.model import Choice, Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.further_tests.limits import NO_NUMBER, further_finding
from exams.hemodynamics.measured import Side


class Direction(StrEnum):
    ANTEGRADE = "antegrade"
    RETROGRADE = "retrograde"
    BIDIRECTIONAL = "bidirectional"
    ABSENT = "absent"


class Phasicity(StrEnum):
    MULTIPHASIC = "multiphasic"  # crosses the zero line
    MONOPHASIC = "monophasic"  # stays on one side of it


class Resistance(StrEnum):
    HIGH = "high"
    INTERMEDIATE = "intermediate"
    LOW = "low"


class Modifier(StrEnum):
    RAPID_UPSTROKE = "rapid_upstroke"
    PROLONGED_UPSTROKE = "prolonged_upstroke"
    SHARP_PEAK = "sharp_peak"
    SPECTRAL_BROADENING = "spectral_broadening"
    STACCATO = "staccato"
    DAMPENED = "dampened"
    FLOW_REVERSAL = "flow_reversal"


@dataclass(frozen=True, slots=True)
class Waveform:
    """One artery's waveform; None is not described. ``own_word`` is what the measurer wrote, never changed.

    Raises InputError ``waveform.absent_has_a_shape`` and ``waveform.two_upstrokes``.
    """

    direction: Direction | None = None
    phasicity: Phasicity | None = None
    resistance: Resistance | None = None
    modifiers: frozenset[Modifier] = frozenset()
    own_word: str = ""

    def __post_init__(self) -> None:
        for name, kind in (("direction", Direction), ("phasicity", Phasicity), ("resistance", Resistance)):
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, kind(value))
        object.__setattr__(self, "modifiers", frozenset(Modifier(one) for one in self.modifiers))
        if self.direction is Direction.ABSENT and (self.phasicity or self.resistance or self.modifiers):
            raise InputError("waveform.absent_has_a_shape", "direction", self.direction.value)
        if {Modifier.RAPID_UPSTROKE, Modifier.PROLONGED_UPSTROKE} <= self.modifiers:
            raise InputError("waveform.two_upstrokes", "modifiers", sorted(self.modifiers))

    @property
    def words(self) -> str:
        """ "monophasic, low resistance, prolonged upstroke"."""
        if self.direction is Direction.ABSENT:
            return "absent"
        resistance = f"{self.resistance} resistance" if self.resistance else ""
        ways = sorted(modifier.value.replace("_", " ") for modifier in self.modifiers)
        backwards = self.direction if self.direction not in (None, Direction.ANTEGRADE) else ""
        return ", ".join(filter(None, (backwards or "", self.phasicity or "", resistance, *ways)))


TERMS = Choice("terms of the 2020 consensus", "KIM20", "from memory, not confirmed")
ASK = NotStated("Does it cross the zero line?")


def waveform_of_word(word: str, *, crosses_zero: bool | None = None) -> Waveform | NotStated:
    """The consensus terms for an older word, as a proposal.

    Returns
    -------
    Waveform or NotStated
        With the word kept; NotStated is the question to ask ("biphasic" means two things), or says that the
        word is not known.
    """
    plain = " ".join(word.casefold().replace(",", " ").split())
    shape: tuple[Phasicity | None, Resistance | None, frozenset[Modifier]] | None = None
    if plain == "biphasic" and crosses_zero is None:
        return ASK
    if plain == "absent":
        return Waveform(Direction.ABSENT, own_word=word)
    if plain in ("triphasic", "multiphasic") or (plain == "biphasic" and crosses_zero):
        high = None if plain == "multiphasic" else Resistance.HIGH
        shape = (Phasicity.MULTIPHASIC, high, frozenset())
    elif plain in ("monophasic", "biphasic"):
        shape = (Phasicity.MONOPHASIC, None, frozenset())
    elif plain in ("monophasic dampened", "dampened monophasic"):
        shape = (Phasicity.MONOPHASIC, Resistance.LOW, frozenset({Modifier.PROLONGED_UPSTROKE}))
    if shape is None:
        return NotStated(f"“{word}” has no consensus term here: choose the terms")
    return Waveform(None, *shape, own_word=word)


def waveform_finding(side: Side, artery: str, waveform: Waveform, criteria: Criteria) -> Finding:
    """The waveform in words; NORMAL is multiphasic and of high resistance at rest, forwards or both ways."""
    if waveform.direction is Direction.ABSENT:
        band, meaning = "ABSENT", "no flow heard"
    elif waveform.phasicity is None or waveform.resistance is None:
        band, meaning = "NOT_ASSESSED", "not fully described"
    elif (
        waveform.phasicity is Phasicity.MULTIPHASIC
        and waveform.resistance is Resistance.HIGH
        and waveform.direction is not Direction.RETROGRADE
        and not waveform.modifiers & {Modifier.PROLONGED_UPSTROKE, Modifier.DAMPENED, Modifier.STACCATO}
    ):
        band, meaning = "NORMAL", "as in a normal resting artery"
    else:
        band, meaning = "NOT_NORMAL", "not that of a normal resting artery"
    own = f" (measurer: {waveform.own_word})" if waveform.own_word else ""
    shape = waveform.words or "not described"
    return further_finding(
        criteria, f"{artery}_waveform", side, NO_NUMBER, "", TERMS, shown=shape, band=band,
        band_words=meaning,
        said=f"{side.word} {artery.replace('_', ' ')} waveform {shape}{own}: {meaning}",
    )  # fmt: skip
