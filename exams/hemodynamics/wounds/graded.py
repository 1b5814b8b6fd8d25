"""Grades of a wound, a foot and a limb: frozen outputs, each with facts, source and what is missing."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing a grade was made from, as it reads: ``Fact("deepest tissue", "tendon")``."""

    name: str
    shown: str


@dataclass(frozen=True, slots=True)
class Grade:
    """One graded answer.

    Attributes
    ----------
    scheme : str
        "wifi_wound", "wifi_ischaemia", "wifi_infection", "iwgdf_infection", "sinbad", "iwgdf_foot_risk".
    value : int or NotStated
        The grade, score or category; NotStated with the reason where what is unknown decides.
    at_least, at_most : int
        The lowest and highest it can be, given what is not known; equal to the value where all is known.
    shown, words : str
        As written on a screen ("W2", "3 (O)"), and what that means.
    facts : tuple of Fact
    missing : tuple of str
        What was not known, in words to ask by; empty if nothing could change the grade.
    flags : tuple of str
    notes : tuple of str
        Plain sentences to show beside it.
    rule, source, status : str
        Which rule, the key of its source in ``WOUND_SOURCES``, and how well that was confirmed.
    """

    scheme: str
    value: int | NotStated
    at_least: int
    at_most: int
    shown: str
    words: str
    facts: tuple[Fact, ...]
    missing: tuple[str, ...]
    flags: tuple[str, ...]
    notes: tuple[str, ...]
    rule: str
    source: str
    status: str

    @property
    def number(self) -> int | None:
        """The grade, or None where it is not stated."""
        return None if isinstance(self.value, NotStated) else self.value

    @property
    def possible(self) -> tuple[int, ...]:
        """Every grade it can be, lowest first."""
        return tuple(range(self.at_least, self.at_most + 1))

    def to_json(self) -> dict[str, Any]:
        return {
            "scheme": self.scheme,
            "value": _value_to_json(self.value),
            "at_least": self.at_least,
            "at_most": self.at_most,
            "shown": self.shown,
            "words": self.words,
            "facts": [[fact.name, fact.shown] for fact in self.facts],
            "missing": list(self.missing),
            "flags": list(self.flags),
            "notes": list(self.notes),
            "rule": self.rule,
            "source": self.source,
            "status": self.status,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Grade:
        return cls(
            scheme=data["scheme"],
            value=_value_from_json(data["value"]),
            at_least=data["at_least"],
            at_most=data["at_most"],
            shown=data["shown"],
            words=data["words"],
            facts=tuple(Fact(name, shown) for name, shown in data["facts"]),
            missing=tuple(data["missing"]),
            flags=tuple(data["flags"]),
            notes=tuple(data["notes"]),
            rule=data["rule"],
            source=data["source"],
            status=data["status"],
        )


@dataclass(frozen=True, slots=True)
class MethodGrade:
    """The ischaemia grade that one method gives: ``method`` is "toe", "oxygen", "pulse_volume" or "ankle".

    ``grade`` is NotStated, with the reason, where the method may not be used.
    """

    method: str
    words: str
    grade: int | NotStated
    shown: str


@dataclass(frozen=True, slots=True)
class IschaemiaGrade:
    """The WIfI ischaemia grade, which method decided, and what the others say.

    ``disagreement`` is one sentence where another method would grade otherwise, else "".
    """

    grade: Grade
    method: str
    by_method: tuple[MethodGrade, ...]
    disagreement: str

    def to_json(self) -> dict[str, Any]:
        return {
            "grade": self.grade.to_json(),
            "method": self.method,
            "by_method": [
                [one.method, one.words, _value_to_json(one.grade), one.shown] for one in self.by_method
            ],
            "disagreement": self.disagreement,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> IschaemiaGrade:
        return cls(
            grade=Grade.from_json(data["grade"]),
            method=data["method"],
            by_method=tuple(
                MethodGrade(method, words, _value_from_json(grade), shown)
                for method, words, grade, shown in data["by_method"]
            ),
            disagreement=data["disagreement"],
        )


class Level(StrEnum):
    """Very low to high, as in both published tables of WIfI."""

    VERY_LOW = "VL"
    LOW = "L"
    MODERATE = "M"
    HIGH = "H"

    @property
    def words(self) -> str:
        return LEVEL_WORDS[self]


LEVEL_WORDS = {
    Level.VERY_LOW: "very low",
    Level.LOW: "low",
    Level.MODERATE: "moderate",
    Level.HIGH: "high",
}


@dataclass(frozen=True, slots=True)
class LimbStage:
    """WIfI of one limb on one day.

    Attributes
    ----------
    wound, infection : Grade
        Of the worst wound of the limb.
    ischaemia : IschaemiaGrade
    risk, benefit : Level or NotStated
        Of amputation within a year as it is; of revascularisation, once infection is controlled.
    computed : int or NotStated
        Stage 1 to 4 from the three grades.
    by_clinician : int or None
        5, where a clinician has called the foot unsalvageable; never computed.
    possible : tuple of int
        Every stage it can be, given what is not known.
    """

    wound: Grade
    ischaemia: IschaemiaGrade
    infection: Grade
    risk: Level | NotStated
    benefit: Level | NotStated
    computed: int | NotStated
    by_clinician: int | None
    possible: tuple[int, ...]
    source: str
    status: str

    @property
    def stage(self) -> int | NotStated:
        """The stage to show: the clinician's 5, else the computed one."""
        return self.by_clinician if self.by_clinician is not None else self.computed

    @property
    def code(self) -> str:
        """ "W1 I2 fI0"; a grade that is not stated is "?"."""
        named = (("W", self.wound), ("I", self.ischaemia.grade), ("fI", self.infection))
        return " ".join(f"{name}{'?' if g.number is None else g.number}" for name, g in named)

    @property
    def missing(self) -> tuple[str, ...]:
        every = (*self.wound.missing, *self.ischaemia.grade.missing, *self.infection.missing)
        return tuple(dict.fromkeys(every))

    def to_json(self) -> dict[str, Any]:
        return {
            "wound": self.wound.to_json(),
            "ischaemia": self.ischaemia.to_json(),
            "infection": self.infection.to_json(),
            "risk": _value_to_json(self.risk),
            "benefit": _value_to_json(self.benefit),
            "computed": _value_to_json(self.computed),
            "by_clinician": self.by_clinician,
            "possible": list(self.possible),
            "source": self.source,
            "status": self.status,
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> LimbStage:
        risk, benefit = (_value_from_json(data[name]) for name in ("risk", "benefit"))
        return cls(
            wound=Grade.from_json(data["wound"]),
            ischaemia=IschaemiaGrade.from_json(data["ischaemia"]),
            infection=Grade.from_json(data["infection"]),
            risk=risk if isinstance(risk, NotStated) else Level(risk),
            benefit=benefit if isinstance(benefit, NotStated) else Level(benefit),
            computed=_value_from_json(data["computed"]),
            by_clinician=data["by_clinician"],
            possible=tuple(data["possible"]),
            source=data["source"],
            status=data["status"],
        )


@dataclass(frozen=True, slots=True)
class AreaCourse:
    """How the area of one wound has changed.

    Attributes
    ----------
    percent : Decimal or NotStated
        Percent area reduction at about 4 weeks, one decimal; negative is growth.
    latest_percent, latest_days
        The same up to the newest area, once it is about 4 weeks from the first.
    in_care_days : int
    days : int or None
        Between the two areas compared; None without a pair.
    shrinking : "yes", "no" or "unknown"
        Whether it has shrunk by at least the practical cut of the criteria at 4 weeks.
    flags : tuple of str
        SLOW_HEALING, IMAGE_REGARDLESS.
    """

    percent: Decimal | NotStated
    days: int | None
    latest_percent: Decimal | NotStated
    latest_days: int | None
    in_care_days: int
    shrinking: Answer
    sentence: str
    flags: tuple[str, ...]
    rule: str
    source: str
    status: str


def _value_to_json(value: int | str | NotStated) -> dict[str, Any]:
    return {"not_stated": value.reason} if isinstance(value, NotStated) else {"value": value}


def _value_from_json(data: dict[str, Any]) -> Any:
    return NotStated(data["not_stated"]) if "not_stated" in data else data["value"]
