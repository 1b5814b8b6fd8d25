"""A file that was sent: looked into, kept with what is odd about it; read in another way where asked."""

import hashlib
from itertools import islice

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from reports.exchange.headings import LOOKED_AT, likely_heading_row
from reports.exchange.models import Batch, BatchFile, BatchState
from reports.exchange.services.common import ABILITY, content_of, open_to_change, refused
from reports.exchange.services.readying import drop_ready
from reports.exchange.sheets import Profile, TableRefused, profile_of, rows_of

TAKEN_IN = (BatchState.IMPORTING, BatchState.IMPORTED, BatchState.TAKING_BACK)


@one_act()
def receive_table(*, name: str, content: bytes, by: Person) -> Batch:
    """Keep a file and what it holds. Nothing of it reaches a record before somebody says so.

    Raises
    ------
    ValidationError
        At ``file`` where it is no table, could do harm, or was taken in already.
    """
    require(by, ABILITY)
    digest = hashlib.sha256(content).hexdigest()
    before = Batch.objects.filter(clinic=by.clinic, sha256=digest, state__in=TAKEN_IN).first()
    if before is not None:
        raise ValidationError(
            {
                "file": f"This very file was taken in already (“{before.file_name}”). To take it in again, "
                "take that one back first."
            }
        )
    try:
        profile = profile_of(content)
    except TableRefused as error:
        raise ValidationError({"file": str(error)}) from None
    batch = Batch(
        clinic=by.clinic,
        file_name=_clean(name),
        sha256=digest,
        size=len(content),
        profile=profile.to_json(),
        received_at=clock.now(),
        received_by=by.user,
    )
    _choose_sheet(batch, profile, "")
    batch.heading_row = _likely_heading_row(batch, content, profile)
    batch.full_clean(exclude=["clinic", "received_by"])
    batch.save()
    BatchFile.objects.create(batch=batch, content=content)
    record(by, "table received", batch, details={"sha256": digest, "size": len(content)})
    return batch


@one_act()
def read_differently(
    *, batch: Batch, sheet: str, heading_row: int, encoding: str, separator: str, by: Person
) -> Batch:
    """Another sheet, row of headings, encoding or separator; what was said of columns is said anew.

    Raises
    ------
    ValidationError
        Where the file cannot be read so.
    """
    batch = open_to_change(batch, by)
    try:
        profile = profile_of(content_of(batch), encoding, separator)
        chosen = profile.sheet(sheet) if profile.kind == "xlsx" else profile.sheets[0]
    except TableRefused as error:
        raise refused(error) from None
    batch.profile = profile.to_json()
    _choose_sheet(batch, profile, chosen.name)
    batch.heading_row = heading_row or chosen.first_row
    batch.mapping, batch.counts, batch.checked_at = None, {}, None
    batch.state = BatchState.ARRIVED
    batch.issues.all().delete()
    drop_ready(batch)
    batch.full_clean(exclude=["clinic", "received_by", "job"])
    batch.save()
    record(by, "table read in another way", batch, details={"heading row": batch.heading_row})
    return batch


def _choose_sheet(batch: Batch, profile: Profile, name: str) -> None:
    filled = [sheet for sheet in profile.visible if sheet.rows]
    chosen = next((sheet for sheet in filled if sheet.name == name), filled[0])
    batch.sheet, batch.heading_row = chosen.name, chosen.first_row


def _likely_heading_row(batch: Batch, content: bytes, profile: Profile) -> int:
    try:
        rows = list(islice(rows_of(content, profile, batch.sheet), LOOKED_AT))
    except TableRefused:  # said when the columns are shown, with what to choose instead
        return batch.heading_row
    return likely_heading_row(rows) if rows else batch.heading_row


def _clean(name: str) -> str:
    plain = "".join(
        sign if sign.isprintable() else "_" for sign in name.replace("\\", "/").rsplit("/", 1)[-1]
    )
    return plain.strip()[:120] or "table"
