"""The stored recordings under the present version of the reader: kept beside the old, and compared."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from exams.hemodynamics import READER_VERSION
from exams.traces.models import Analysis, State, Trace
from exams.traces.services.reading import analyse_again


def read_stored_again() -> tuple[int, Iterator[dict[str, Any] | None]]:
    """How many recordings there are, and for each what would differ in it, None where nothing would.

    Each gets the present version's suggestion beside its earlier ones; no mark, no reading and no earlier
    suggestion is changed. Numbers of recordings only, nothing that names a person.
    """
    stored = Trace.objects.filter(state=State.READ, withdrawn_at=None).order_by("pk")
    return stored.count(), _differences(stored.values_list("pk", flat=True))


def _differences(numbers: Any) -> Iterator[dict[str, Any] | None]:
    # One at a time, so that memory stays flat however many recordings there are.
    for number in numbers.iterator(chunk_size=500):
        trace = Trace.objects.get(pk=number)
        before = trace.analyses.exclude(version=READER_VERSION).order_by("-computed_at", "-pk").first()
        now = analyse_again(trace=trace)
        if before is None or not _differ(before, now):
            yield None
            continue
        yield {
            "trace": number,
            "before": _plain(before),
            "now": _plain(now),
            "accepted_mmhg": _accepted(trace),
        }


def _differ(before: Analysis, now: Analysis) -> bool:
    return {**_plain(before), "version": ""} != {**_plain(now), "version": ""}


def _plain(analysis: Analysis) -> dict[str, Any]:
    return {
        "version": analysis.version,
        "pressure_mmhg": _number(analysis.pressure_mmhg),
        "interval_mmhg": (
            None if analysis.low_mmhg is None else [_number(analysis.low_mmhg), _number(analysis.high_mmhg)]
        ),
        "usable": analysis.usable,
        "flags": [flag["code"] for flag in analysis.reading["flags"]],
    }


def _accepted(trace: Trace) -> float | None:
    """The pressure that stands in the exam because of this recording, if any."""
    mark = trace.marks.filter(reading__isnull=False).order_by("-marked_at", "-pk").first()
    return _number(mark.pressure_mmhg) if mark else None


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
