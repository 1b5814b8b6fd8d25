"""Results of many exams taken apart: what stands in one row of every array, a row at a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from exams.hemodynamics.evaluation import ExamResult


def rows_of(results: ExamResult) -> Iterator[ExamResult]:
    """Each exam's results as if it had been read alone.

    Every array becomes lists of one plain number: a finding asks for ``[0]`` only, and a list answers many
    times sooner. All are taken apart at once, because slicing some two hundred arrays for each exam took
    longer than evaluating them.
    """
    return iter(_rows(results))


def _rows(part: Any) -> list[Any]:
    if isinstance(part, np.ndarray):
        numbers: list[Any] = part.reshape(-1, 1).tolist()
        return numbers
    if isinstance(part, Mapping):
        columns = zip(*map(_rows, part.values()), strict=True)
        return [dict(zip(part, row, strict=True)) for row in columns]
    return list(map(type(part), *(_rows(getattr(part, field.name)) for field in fields(part))))
