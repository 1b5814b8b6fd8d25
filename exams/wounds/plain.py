"""What the core answers as plain lists, strings and numbers, and back: an equal value, read by its own types.

A dataclass is a list of its values in the order of its fields, so a row is small; nothing of it is read by
other code than that which wrote it (``keeping``).
"""

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from exams.hemodynamics import NotStated

_NOT_STATED = "not stated"
Read = Callable[[Any], Any]


def plain(value: Any) -> Any:
    """Lists, strings, whole numbers, true, false and None."""
    if isinstance(value, NotStated):
        return {_NOT_STATED: value.reason}
    if is_dataclass(value):
        return [plain(getattr(value, one.name)) for one in fields(value)]
    if isinstance(value, tuple):
        return [plain(one) for one in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date | datetime):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def read_back(kind: Any, data: Any) -> Any:
    """The value of ``kind`` that ``plain`` wrote.

    Raises
    ------
    TypeError
        For a type that ``plain`` does not write.
    """
    return _reader(kind)(data)


@cache
def _reader(kind: Any) -> Read:
    if get_origin(kind) in (Union, UnionType):
        return _of_union(get_args(kind))
    if get_origin(kind) is tuple:
        return _of_tuple(get_args(kind))
    if is_dataclass(kind):
        return _of_dataclass(kind)
    if kind in (str, int, bool):
        return _as_it_is
    if kind in (date, datetime):
        made: Read = kind.fromisoformat
        return made
    if isinstance(kind, type) and issubclass(kind, Enum | Decimal):
        return kind
    raise TypeError(f"{kind} is not kept.")


def _as_it_is(data: Any) -> Any:
    return data


def _of_dataclass(kind: Any) -> Read:
    hints = get_type_hints(kind)
    readers = [_reader(hints[one.name]) for one in fields(kind)]

    def made(data: Any) -> Any:
        return kind(*[read(one) for read, one in zip(readers, data, strict=True)])

    return made


def _of_tuple(kinds: tuple[Any, ...]) -> Read:
    if kinds[-1] is Ellipsis:
        each = _reader(kinds[0])
        return lambda data: tuple([each(one) for one in data])
    readers = [_reader(kind) for kind in kinds]
    return lambda data: tuple([read(one) for read, one in zip(readers, data, strict=True)])


def _of_union(kinds: tuple[Any, ...]) -> Read:
    others = [_reader(kind) for kind in kinds if kind not in (NoneType, NotStated)]
    if len(others) != 1:
        raise TypeError(f"{kinds} cannot be told apart.")
    (other,) = others

    def made(data: Any) -> Any:
        if data is None:
            return None
        return NotStated(data[_NOT_STATED]) if isinstance(data, dict) else other(data)

    return made
