"""Infection of a foot wound: the IWGDF/IDSA grade with its bone suffix, and the WIfI grade, from the signs.

Source: clinical reference 3.1 and 4.5. The two schemes differ at redness of exactly 2 cm, and the 2012 rule
differs from that of 2019 and 2023 there and at exactly 10 % band forms.
"""

from __future__ import annotations

from dataclasses import dataclass

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.words import listed
from exams.hemodynamics.wounds.assessed import InfectionSigns, SystemicSigns
from exams.hemodynamics.wounds.graded import Fact, Grade
from exams.hemodynamics.wounds.possible import answer, any_of, at_least, grade
from exams.hemodynamics.wounds.sources import MEMORY, OURS, SECONDARY

RULES = ("iwgdf2023", "idsa2012")
NEAR_ERYTHEMA_MM = 5  # redness that reaches further is a sign
FAR_ERYTHEMA_MM = 20
LOCAL_SIGNS_NEEDED = 2
SYSTEMIC_SIGNS_NEEDED = 2
LOCAL_WORDS = {
    "swelling": "swelling or induration",
    "erythema": "redness further than 0.5 cm",
    "tenderness": "tenderness or pain",
    "warmth": "warmth",
    "pus": "pus",
}
SYSTEMIC_WORDS = ("temperature", "heart rate", "breathing rate or arterial CO2", "white cells or band forms")
IWGDF_WORDS = {
    1: "not infected",
    2: "mild infection: skin and subcutis only",
    3: "moderate infection: redness far around the wound, or deeper than subcutis",
    4: "severe infection: signs of the whole body",
}
WIFI_WORDS = {
    0: "no infection",
    1: "mild: skin and subcutis only, redness up to 2 cm",
    2: "moderate: redness beyond 2 cm, or deeper",
    3: "severe: signs of the whole body",
}
INCOMPLETE = "Not every sign of the whole body was looked at; one not known is not one that is absent."
ONE_MORE = "One sign of the whole body is there: one more makes this severe. Look for the others now."
PUS_EXPLAINED = "Pus was seen although the signs were put down to another cause: look again."


@dataclass(frozen=True, slots=True)
class _Read:
    """The signs put together. ``systemic`` is whether two signs of the whole body are known to be there."""

    local: Answer
    deep: Answer
    bone: Answer
    wide: Answer
    systemic: Answer
    systemic_signs: tuple[Answer, ...]

    @property
    def infected(self) -> Answer:
        """A deep or bone infection is one also where the skin shows little (IWGDF 2019, from memory)."""
        return any_of(self.local, self.deep, self.bone)

    @property
    def deeper(self) -> Answer:
        return any_of(self.deep, self.bone)


def local_signs(signs: InfectionSigns) -> dict[str, Answer]:
    """Each of the five local signs; what another cause explains does not count, but pus always does."""
    erythema = None if signs.erythema_mm is None else signs.erythema_mm > NEAR_ERYTHEMA_MM
    found: dict[str, Answer] = {
        "swelling": signs.swelling,
        "erythema": answer(erythema),
        "tenderness": signs.tenderness,
        "warmth": signs.warmth,
        "pus": signs.pus,
    }
    if signs.explained_by:
        return {name: sign if name == "pus" else "no" for name, sign in found.items()}
    return found


def systemic_signs(signs: SystemicSigns, rule: str = RULES[0]) -> tuple[Answer, ...]:
    """The four signs of the whole body: temperature, heart, breathing or CO2, white cells or bands."""
    temperature, bands = signs.temperature_celsius, signs.band_forms_percent
    white = signs.white_cells_10_9_l
    banded = None if bands is None else (bands >= 10 if rule == "idsa2012" else bands > 10)
    return (
        answer(None if temperature is None else temperature > 38 or temperature < 36),
        answer(None if signs.heart_rate is None else signs.heart_rate > 90),
        _either(
            None if signs.respiratory_rate is None else signs.respiratory_rate > 20,
            None if signs.paco2_mmhg is None else signs.paco2_mmhg < 32,
        ),
        _either(None if white is None else white > 12 or white < 4, banded),
    )


def iwgdf_infection(signs: InfectionSigns, rule: str = RULES[0]) -> Grade:
    """IWGDF/IDSA grade 1 to 4; ``shown`` ends in (O) where the bone is infected (rule of 2019 and 2023).

    Parameters
    ----------
    rule : "iwgdf2023" or "idsa2012"

    Raises
    ------
    InputError
        ``infection.unknown_rule``.
    """
    if rule not in RULES:
        raise InputError("infection.unknown_rule", "rule", rule, RULES)
    read = _read(signs, rule)
    bone = rule == "iwgdf2023" and signs.osteomyelitis == "yes"
    return grade(
        "iwgdf_infection", _grades(read, (1, 2, 3, 4)), letter="", words=IWGDF_WORDS,
        facts=_facts(signs, read), missing=_missing(signs, read), flags=_flags(signs, read, bone=bone),
        notes=_notes(signs, read), suffix=" (O)" if bone else "",
        rule="redness beyond 2 cm" if rule == "idsa2012" else "redness of 2 cm or more",
        source="IWGDFIDSA", status=SECONDARY if read.local == "yes" or not bone else MEMORY,
    )  # fmt: skip


def wifi_infection(signs: InfectionSigns) -> Grade:
    """WIfI foot infection grade fI0 to fI3."""
    read = _read(signs, "idsa2012")  # WIfI draws the line as the rule of 2012 does: beyond 2 cm
    return grade(
        "wifi_infection", _grades(read, (0, 1, 2, 3)), letter="fI", words=WIFI_WORDS,
        facts=_facts(signs, read), missing=_missing(signs, read), flags=_flags(signs, read, bone=False),
        notes=_notes(signs, read), rule="redness beyond 2 cm, depth, signs of the whole body",
        source="WIFI14", status=SECONDARY,
    )  # fmt: skip


def no_infection_grade() -> Grade:
    """fI0 of a limb without a wound."""
    return grade(
        "wifi_infection", (0,), letter="fI", words=WIFI_WORDS, facts=(Fact("wound", "none"),), missing=(),
        rule="no wound", source="WIFI14", status=SECONDARY,
    )  # fmt: skip


def infection_on_record_grade() -> Grade:
    """Every grade of a limb of which an infection is on record that no wound shows."""
    return grade(
        "wifi_infection", (1, 2, 3), letter="fI", words=WIFI_WORDS,
        facts=(Fact("foot infection", "on record, not assessed"),),
        missing=("assess the infection: redness, depth, signs of the whole body",),
        rule="an infection is on record", source="OURS", status=OURS,
    )  # fmt: skip


def infection_contradiction(
    signs: InfectionSigns, entered: int, rule: str = RULES[0], *, bone: bool | None = None
) -> str:
    """What is odd about a grade that a clinician entered beside these signs, in one sentence; "" if nothing.

    Parameters
    ----------
    entered : int
        IWGDF/IDSA grade 1 to 4.
    bone : bool or None
        Whether the suffix (O) was entered; None where nobody was asked.

    Raises
    ------
    InputError
        ``infection.unknown_grade`` or ``infection.unknown_rule``.
    """
    if entered not in IWGDF_WORDS:
        raise InputError("infection.unknown_grade", "entered", entered, tuple(IWGDF_WORDS))
    found = iwgdf_infection(signs, rule)
    if entered not in found.possible:
        return (
            f"Grade {entered} was entered ({IWGDF_WORDS[entered]}), but the signs make it {found.shown} "
            f"({found.words}). Look at the signs or the grade again."
        )
    if bone and signs.osteomyelitis == "no":
        return "The suffix (O) was entered, but infection of the bone was answered with no."
    if bone is False and signs.osteomyelitis == "yes" and rule == "iwgdf2023":
        return "Infection of the bone was answered with yes, but the grade has no suffix (O)."
    if bone and entered < 3:
        return f"The suffix (O) goes with grade 3 or 4, and grade {entered} was entered."
    return ""


def _read(signs: InfectionSigns, rule: str) -> _Read:
    reach = signs.erythema_mm
    wide = None
    if reach is not None:
        wide = reach > FAR_ERYTHEMA_MM if rule == "idsa2012" else reach >= FAR_ERYTHEMA_MM
    systemic = systemic_signs(signs.systemic, rule)
    return _Read(
        local=at_least(LOCAL_SIGNS_NEEDED, local_signs(signs).values()),
        deep=signs.deeper,
        bone=signs.osteomyelitis,
        wide="no" if signs.explained_by else answer(wide),
        systemic=_systemic(systemic),
        systemic_signs=systemic,
    )


def _systemic(signs: tuple[Answer, ...]) -> Answer:
    """Whether two are there. Temperature and heart rate known and not both abnormal settle it (ours).

    Blood counts come hours later: until then the grade stands by what the bedside shows, and says so.
    """
    if at_least(SYSTEMIC_SIGNS_NEEDED, signs) == "yes":
        return "yes"
    return "unknown" if "unknown" in signs[:2] else "no"


def _grades(read: _Read, levels: tuple[int, int, int, int]) -> set[int]:
    """Every grade the answers allow, in the scheme's own numbers from none to severe."""
    none, mild, moderate, severe = levels
    deep_or_wide = any_of(read.deeper, read.wide)
    found = set()
    if read.infected != "yes":
        found.add(none)
    if read.infected != "no":
        if read.systemic != "yes":
            if read.local != "no" and deep_or_wide != "yes":
                found.add(mild)
            if deep_or_wide != "no":
                found.add(moderate)
        if read.systemic != "no":
            found.add(severe)
    return found


def _either(first: bool | None, second: bool | None) -> Answer:
    """One sign that two values can tell: yes if either does, no if one tells and none says yes."""
    known = [one for one in (first, second) if one is not None]
    return answer(any(known) if known else None)


def _missing(signs: InfectionSigns, read: _Read) -> list[str]:
    asked = [LOCAL_WORDS[name] for name, sign in local_signs(signs).items() if sign == "unknown"]
    asked += ["is it deeper than the subcutis"] if signs.deeper == "unknown" else []
    asked += ["is the bone infected"] if signs.osteomyelitis == "unknown" else []
    told = zip(SYSTEMIC_WORDS, read.systemic_signs, strict=True)
    return asked + [words for words, sign in told if sign == "unknown"]


def _flags(signs: InfectionSigns, read: _Read, *, bone: bool) -> list[str]:
    flags = ["OSTEOMYELITIS"] if bone else []
    if read.infected != "no" and read.systemic != "yes" and "unknown" in read.systemic_signs:
        flags.append("SYSTEMIC_SIGNS_INCOMPLETE")
        if "yes" in read.systemic_signs:
            flags.append("ONE_SIGN_FROM_SEVERE")
    if signs.explained_by:
        flags.append("EXPLAINED_OTHERWISE")
    return flags


def _notes(signs: InfectionSigns, read: _Read) -> list[str]:
    flags = _flags(signs, read, bone=False)
    notes = [INCOMPLETE] if "SYSTEMIC_SIGNS_INCOMPLETE" in flags else []
    notes += [ONE_MORE] if "ONE_SIGN_FROM_SEVERE" in flags else []
    notes += [PUS_EXPLAINED] if signs.explained_by and signs.pus == "yes" else []
    return notes


def _facts(signs: InfectionSigns, read: _Read) -> list[Fact]:
    reach = NotStated("not known") if signs.erythema_mm is None else signs.erythema_mm
    told = [Fact(LOCAL_WORDS[name], sign) for name, sign in local_signs(signs).items() if name != "erythema"]
    told.append(Fact("redness", reach.reason if isinstance(reach, NotStated) else f"{reach} mm"))
    told += [Fact("deeper than subcutis", signs.deeper), Fact("bone infected", signs.osteomyelitis)]
    told += [
        Fact(words, {"yes": "abnormal", "no": "not abnormal"}.get(sign, "not known"))
        for words, sign in zip(SYSTEMIC_WORDS, read.systemic_signs, strict=True)
    ]
    if signs.explained_by:
        told.append(Fact("signs put down to", listed(sorted(one.words for one in signs.explained_by))))
    return told
