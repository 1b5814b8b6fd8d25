"""What the core answers: frozen outputs.

A value is a ``Decimal`` or ``NotStated(reason)``; nothing stands for missing in silence.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from exams.hemodynamics.measured import Side


@dataclass(frozen=True, slots=True)
class NotStated:
    """There is no value, and this is why, in words a nurse understands."""

    reason: str


@dataclass(frozen=True, slots=True)
class Beyond:
    """How likely the value lies on the far side of a limit, on rounded hundredths (or whole mmHg).

    ``operator`` is "<=" or ">"; ``limit`` is in the unit of the finding; ``probability`` is 0 to 1.
    """

    limit: Decimal
    operator: str
    band: str
    probability: float


@dataclass(frozen=True, slots=True)
class Interval:
    """95 % interval of a value, in the unit of the finding."""

    low: Decimal
    high: Decimal
    sd: Decimal
    beyond: tuple[Beyond, ...] = ()
    level: int = 95

    @property
    def shown(self) -> str:
        return f"{self.low} to {self.high}"


@dataclass(frozen=True, slots=True)
class Input:
    """One site pressure a finding was made from.

    ``shown`` is how it reads ("128 mmHg", "no signal"); ``mmhg`` is None where there is no number. ``role``:
    "site" or "arm" as measured; "numerator" or "denominator" as made from them by the rule in ``site``.
    """

    role: str
    side: Side | None
    site: str
    shown: str
    mmhg: Decimal | None
    technique: str
    readings: int


@dataclass(frozen=True, slots=True)
class Finding:
    """One line of the interpretation.

    Attributes
    ----------
    measure : str
        What it is a finding of; the list of codes is in docs/core.md.
    limb : Side or None
        None where it belongs to the whole exam.
    value, unit, shown
        The value with its unit ("index", "mmHg", "" for none), and how it is written on a screen.
    interval : Interval or NotStated
    band, band_words : str
        Code of the band by the criteria ("" where the measure has none) and its plain words.
    flags : tuple of str
        Codes, in the order of ``FLAGS``.
    sentence : str
        Plain words a nurse can act on; "" where the fact is already said by another finding.
    rule, source, status : str
        Which rule of which criteria, the source key that says so, and how well that was confirmed.
    inputs : tuple of Input
    """

    measure: str
    limb: Side | None
    value: Decimal | NotStated
    unit: str
    shown: str
    interval: Interval | NotStated
    band: str
    band_words: str
    flags: tuple[str, ...]
    sentence: str
    rule: str
    source: str
    status: str = ""
    inputs: tuple[Input, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain lists, strings and numbers; ``from_json`` gives an equal finding back."""
        return {
            "measure": self.measure,
            "limb": self.limb.value if self.limb else None,
            "value": _value_to_json(self.value),
            "unit": self.unit,
            "shown": self.shown,
            "interval": _interval_to_json(self.interval),
            "band": self.band,
            "band_words": self.band_words,
            "flags": list(self.flags),
            "sentence": self.sentence,
            "rule": self.rule,
            "source": self.source,
            "status": self.status,
            "inputs": [_input_to_json(item) for item in self.inputs],
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Finding:
        return cls(
            measure=data["measure"],
            limb=Side(data["limb"]) if data["limb"] else None,
            value=_value_from_json(data["value"]),
            unit=data["unit"],
            shown=data["shown"],
            interval=_interval_from_json(data["interval"]),
            band=data["band"],
            band_words=data["band_words"],
            flags=tuple(data["flags"]),
            sentence=data["sentence"],
            rule=data["rule"],
            source=data["source"],
            status=data["status"],
            inputs=tuple(_input_from_json(item) for item in data["inputs"]),
        )


@dataclass(frozen=True, slots=True)
class Interpretation:
    """Every finding of one exam under one set of criteria."""

    criteria_name: str
    criteria_version: str
    criteria_hash: str
    findings: tuple[Finding, ...] = field(default=())

    def of(self, measure: str, limb: Side | None = None) -> Finding | None:
        """The finding of a measure on a limb (None: of the exam), or None if it was not made."""
        for finding in self.findings:
            if finding.measure == measure and finding.limb == limb:
                return finding
        return None

    def on(self, limb: Side | None) -> tuple[Finding, ...]:
        """The findings of one limb, or with None those of the whole exam, in reading order."""
        return tuple(finding for finding in self.findings if finding.limb == limb)

    def flags(self, limb: Side | None = None) -> tuple[str, ...]:
        """Every flag raised on a limb (None: on the whole exam), once each, in the order raised."""
        return tuple(dict.fromkeys(flag for finding in self.on(limb) for flag in finding.flags))

    @property
    def urgent(self) -> tuple[Finding, ...]:
        """The findings that somebody must be told of: measure "urgency", RIGHT first."""
        return tuple(finding for finding in self.findings if finding.measure == "urgency")

    def to_json(self) -> dict[str, Any]:
        return {
            "criteria_name": self.criteria_name,
            "criteria_version": self.criteria_version,
            "criteria_hash": self.criteria_hash,
            "findings": [finding.to_json() for finding in self.findings],
        }

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Interpretation:
        return cls(
            criteria_name=data["criteria_name"],
            criteria_version=data["criteria_version"],
            criteria_hash=data["criteria_hash"],
            findings=tuple(Finding.from_json(item) for item in data["findings"]),
        )


def _value_to_json(value: Decimal | NotStated) -> dict[str, str]:
    return {"not_stated": value.reason} if isinstance(value, NotStated) else {"value": str(value)}


def _value_from_json(data: dict[str, str]) -> Decimal | NotStated:
    return NotStated(data["not_stated"]) if "not_stated" in data else Decimal(data["value"])


def _interval_to_json(interval: Interval | NotStated) -> dict[str, Any]:
    if isinstance(interval, NotStated):
        return {"not_stated": interval.reason}
    return {
        "low": str(interval.low),
        "high": str(interval.high),
        "sd": str(interval.sd),
        "level": interval.level,
        "beyond": [
            {"limit": str(b.limit), "operator": b.operator, "band": b.band, "probability": b.probability}
            for b in interval.beyond
        ],
    }


def _interval_from_json(data: dict[str, Any]) -> Interval | NotStated:
    if "not_stated" in data:
        return NotStated(data["not_stated"])
    return Interval(
        low=Decimal(data["low"]),
        high=Decimal(data["high"]),
        sd=Decimal(data["sd"]),
        level=data["level"],
        beyond=tuple(
            Beyond(Decimal(b["limit"]), b["operator"], b["band"], b["probability"]) for b in data["beyond"]
        ),
    )


def _input_to_json(item: Input) -> dict[str, Any]:
    return {
        "role": item.role,
        "side": item.side.value if item.side else None,
        "site": item.site,
        "shown": item.shown,
        "mmhg": None if item.mmhg is None else str(item.mmhg),
        "technique": item.technique,
        "readings": item.readings,
    }


def _input_from_json(data: dict[str, Any]) -> Input:
    return Input(
        role=data["role"],
        side=Side(data["side"]) if data["side"] else None,
        site=data["site"],
        shown=data["shown"],
        mmhg=None if data["mmhg"] is None else Decimal(data["mmhg"]),
        technique=data["technique"],
        readings=data["readings"],
    )
