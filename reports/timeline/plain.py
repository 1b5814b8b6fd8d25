"""Frozen values as plain lists and strings, and back. Pure."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from datetime import date, datetime, tzinfo
from decimal import Decimal
from typing import Any

from exams.hemodynamics import Side
from reports.timeline.series import Absence, NoValue, Point, Seen

Json = dict[str, Any]
SIDES = (Side.RIGHT, Side.LEFT)


def plain(one: Any) -> Json:
    """The fields of a frozen value without those that are as when left out."""
    if isinstance(one, tuple):
        said, usual = one._asdict(), one._field_defaults  # type: ignore[attr-defined]
    else:
        said = {field.name: getattr(one, field.name) for field in fields(one)}
        usual = {field.name: field.default for field in fields(one)}
    return {
        name: _as_json(value) for name, value in said.items() if name not in usual or value != usual[name]
    }


def seen_from(kept: Json, zone: tzinfo) -> Seen:
    """Of a `Seen` what differs from an empty one; `absence` stands in one without a value alone."""
    said = {name: _BACK[name](value) if name in _BACK else value for name, value in kept.items()}
    said["at"] = said["at"].astimezone(zone)
    return NoValue(**said) if "absence" in said else Point(**said)


def _as_json(value: Any) -> Any:
    if isinstance(value, date):  # a moment too
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return [_as_json(one) for one in value]
    return value


def _tuple(values: Iterable[Any]) -> tuple[Any, ...]:
    return tuple(values)


# How the fields of a point, or of an exam without a value, come back where JSON has no such kind.
_BACK: Mapping[str, Callable[[Any], Any]] = {
    "at": datetime.fromisoformat,
    "value": Decimal,
    "cuff_mmhg": Decimal,
    "absence": Absence,
    "interval": lambda ends: (Decimal(ends[0]), Decimal(ends[1])),
    "reading_ids": _tuple,
    "chances": _tuple,
}
