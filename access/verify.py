"""Checking the trail: does every row still say what it said, and is none missing?"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from django.db.models import Q

from access.models import TrailHead, TrailRow
from access.trail import row_hash

_NOTHING_YET = "0" * 64
_READ = [field.attname for field in TrailRow._meta.concrete_fields]


@dataclass(frozen=True)
class ChainResult:
    """What was found in one chain: how many rows were read, and the first thing wrong, if any."""

    clinic_id: int | None
    rows: int
    broken_at: int | None = None
    fault: str = ""

    @property
    def whole(self) -> bool:
        return self.broken_at is None


def verify_chain(clinic_id: int | None, kept: Mapping[int, str] | None = None) -> ChainResult:
    """Read one chain from its first row to its end.

    Parameters
    ----------
    clinic_id : the clinic's number, None for the service's own chain.
    kept : row number to hash, of heads kept outside this database; each must still be there.

    Returns
    -------
    ChainResult
        Naming the first row that was changed, removed, inserted or moved.
    """
    kept = kept or {}
    place, before, read = 0, _NOTHING_YET, 0
    rows = TrailRow.objects.filter(Q(clinic_id=clinic_id)).order_by("sequence")
    # Bare rows: making an object of each would take longer than checking it.
    for row in rows.values_list(*_READ, named=True).iterator(chunk_size=2000):
        place += 1
        fault = _fault_in(row, place, before, kept.get(place))
        if fault:
            return ChainResult(clinic_id, read, place, fault)
        before = row.hash
        read += 1
    fault = _fault_at_the_end(clinic_id, place, before, kept)
    if fault:
        return ChainResult(clinic_id, read, place + 1, fault)
    return ChainResult(clinic_id, read)


def verify_all(kept: Mapping[int | None, Mapping[int, str]] | None = None) -> Iterator[ChainResult]:
    """Every chain there is, or should be: the service's own first, then clinic by clinic."""
    kept = kept or {}
    chains: set[int | None] = set(TrailRow.objects.order_by().values_list("clinic_id", flat=True).distinct())
    chains |= set(TrailHead.objects.values_list("clinic_id", flat=True))
    chains |= set(kept)
    for clinic_id in sorted(chains, key=lambda number: number or 0):
        yield verify_chain(clinic_id, kept.get(clinic_id))


def heads() -> list[tuple[int | None, int, str]]:
    """The last row of every chain (clinic number, row number, hash): short enough to keep on paper."""
    found = TrailHead.objects.values_list("clinic_id", "sequence", "hash")
    return sorted(found, key=lambda head: head[0] or 0)


def _fault_in(row: TrailRow, place: int, before: str, kept_hash: str | None) -> str:
    if row.sequence != place:
        return f"Row {place} is missing: row {row.sequence} follows row {place - 1}."
    if row.previous_hash != before:
        return f"Row {place} does not follow the row before it."
    if row_hash(row) != row.hash:
        return f"Row {place} has been changed since it was written."
    if kept_hash is not None and kept_hash != row.hash:
        return f"Row {place} is not the row whose mark was kept outside."
    return ""


def _fault_at_the_end(clinic_id: int | None, place: int, last: str, kept: Mapping[int, str]) -> str:
    longest = max((number for number in kept if number > place), default=None)
    head = TrailHead.objects.filter(Q(clinic_id=clinic_id)).first()
    if head is None:
        return "" if place == 0 and longest is None else "The record of the last row is missing."
    if head.sequence != place:
        return f"Row {place + 1} is missing: {head.sequence} rows were written."
    if head.hash != last:
        return f"Row {place} is not the row that was written last."
    if longest is not None:
        return f"Row {place + 1} is missing: a mark of row {longest} was kept outside."
    return ""
