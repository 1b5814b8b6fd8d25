"""Files that leave the house: asked for, decided by a second person, written by a job, taken once."""

import hashlib
import secrets
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from typing import IO, Any
from uuid import uuid4

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs import services as jobs
from reports.audit import export_named, export_rows, export_sums
from reports.audit.calendar import Period, Span, moment_of, periods_of
from reports.audit.export_files import Column, Row, TooManyRows, write_archive
from reports.audit.models import Export
from reports.audit.pseudonyms import Pseudonyms
from reports.audit.queries.figures import newest_count
from reports.audit.queries.rules import rules_now, today_of
from reports.audit.tally import scope_of

WRITE = "audit export"
DAYS_TO_TAKE = {Export.Holds.SUMS: 7, Export.Holds.ROWS: 7, Export.Holds.NAMED: 1}
# For so long the link opens the rows.
LINK_MINUTES = 15
# Who may ask for a kind of file and take it, and who may decide about it.
TO_ASK = {
    Export.Holds.SUMS: "see audit",
    Export.Holds.ROWS: "see audit",
    Export.Holds.NAMED: "export with names",
}
TO_DECIDE = {**TO_ASK, Export.Holds.NAMED: "decide on names"}
A_PIECE = 1 << 20
# How many rows are written before the person's "cancel" is looked for again.
LOOK_EVERY = 2000
Tell = Callable[[float, str], None]


@one_act()
def export_sums_of(*, year: Period, form: str, by: Person) -> Export:
    """Ask for the rounded sums of a year as a file."""
    require(by, "see audit")
    count = newest_count(year)
    if count is None:
        raise ValidationError("That year is not counted yet. Count it first, then export it.")
    export = _new(Export.Holds.SUMS, form, year, by, tally=count)
    return _started(export, by)


@one_act()
def ask_for_rows(
    *, year: Period, form: str, purpose: str, legal_basis: str, by: Person, named: bool = False
) -> Export:
    """Ask for rows of a year, pseudonymised or ``named``; a second person decides.

    Raises
    ------
    ValidationError
        If no quarter of the year is over, of which pseudonymised rows could be told.
    """
    holds = Export.Holds.NAMED if named else Export.Holds.ROWS
    require(by, TO_ASK[holds])
    if not named and told_until(year, today_of(by)) == year.first:
        raise ValidationError(
            "No quarter of that audit year is over yet, and rows are told of whole quarters only. Choose an "
            "earlier year."
        )
    salt = secrets.token_hex(32)
    export = _new(holds, form, year, by, purpose=purpose, legal_basis=legal_basis, salt=salt)
    words = "audit rows with names asked for" if named else "audit rows asked for"
    record(by, words, export, details={"year": year.key, "purpose": purpose, "basis": legal_basis})
    return export


@one_act()
def decide(*, export: Export, approve: bool, because: str, by: Person) -> Export:
    """Approve a request for rows, or refuse it: never the person who asked.

    Raises
    ------
    ValidationError
    """
    require(by, TO_DECIDE[Export.Holds(export.holds)], export)
    export = _held(export)
    if not export.has_rows or export.decided_at is not None or export.cancelled_at:
        raise ValidationError("This request is decided or cancelled already.")
    if export.asked_by == by.user:
        raise ValidationError("You asked for this yourself: somebody else has to decide.")
    if export.expires_at <= clock.now():
        raise ValidationError("This request has run out. It has to be asked for anew.")
    export.approved, export.decided_by, export.decided_at = approve, by.user, clock.now()
    export.decided_because = because
    export.full_clean()
    export.save()
    record(
        by, "audit rows approved" if approve else "audit rows refused", export, details={"because": because}
    )
    return _started(export, by) if approve else export


@one_act()
def cancel(*, export: Export, by: Person) -> Export:
    """Stop a file that is being written, or take back a request."""
    require(by, "see audit", export)
    export = _held(export)
    if export.is_ready:
        raise ValidationError("The file is written already; it goes away by itself when its time is over.")
    if export.cancelled_at is None:
        export.cancelled_at = clock.now()
        export.save(update_fields=["cancelled_at"])
        record(by, "audit export cancelled", export)
    return export


def write_export(*, export: Export, by: Person, tell: Tell = lambda part, words: None) -> Export:
    """Write the file whole or not at all; run twice, or after a worker was killed, it ends as if once.

    Raises
    ------
    ValidationError
        If it was cancelled, not approved, has run out, or is too long for a spreadsheet.
    """
    require(by, "see audit", export)
    if export.is_ready:
        return export
    _refuse_unwritable(export)
    clear_away(export.clinic_id, export)
    name, columns, rows, about = _parts(export, tell)
    try:
        with tempfile.TemporaryFile() as file:  # gone with the process, however it ends
            many = write_archive(
                file,
                name=name,
                form=export.form,
                columns=columns,
                rows=_until_cancelled(export, rows),
                about=about,
            )
            digest = _digest(file)
            kept = default_storage.save(
                f"exports/{export.clinic_id}/{export.pk}-{uuid4().hex}.zip", File(file)
            )
    except TooManyRows:
        raise ValidationError(
            "There are more rows than a spreadsheet holds. Ask for CSV or Parquet."
        ) from None
    try:
        won = _keep(export, kept, digest, many, by)
    except BaseException:
        default_storage.delete(kept)
        raise
    if not won:
        default_storage.delete(kept)
    export.refresh_from_db()
    return export


@one_act()
def make_link(*, export: Export, by: Person) -> str:
    """A token that opens the rows once, for minutes; the one made before no longer does. For who asked.

    Raises
    ------
    ValidationError
    """
    require(by, TO_ASK[Export.Holds(export.holds)], export)
    export = _held(export)
    _refuse_untakable(export, by)
    token = secrets.token_urlsafe(32)
    export.link_hash = hashlib.sha256(token.encode()).hexdigest()
    export.link_until = clock.now() + timedelta(minutes=LINK_MINUTES)
    export.save(update_fields=["link_hash", "link_until"])
    record(by, "audit export link made", export)
    return token


@one_act()
def take(*, export: Export, by: Person, token: str = "") -> IO[bytes]:
    """The file, open, for a download. Rows go once, to the person who asked, by the link; then it is gone.

    Raises
    ------
    ValidationError
    """
    require(by, TO_ASK[Export.Holds(export.holds)], export)
    export = _held(export)
    if export.has_rows:
        _refuse_untakable(export, by)
        _refuse_wrong_link(export, token)
    elif not export.is_ready or export.expires_at <= clock.now():
        raise ValidationError("This file is not written yet, or its time is over. Export it anew.")
    file = _checked_copy(export)
    export.downloaded_at = clock.now()
    if export.has_rows:
        export.link_hash, export.link_until = "", None
        name = str(export.file.name)
        transaction.on_commit(lambda: default_storage.delete(name))
    export.save(update_fields=["downloaded_at", "link_hash", "link_until"])
    details = {"sha256": export.sha256, "holds": export.holds, "count": export.rows}
    record(by, "audit export downloaded", export, details=details)
    return file


def clear_away_everywhere() -> None:
    """Delete what nobody can take any more of every clinic that ever exported."""
    for clinic_id in Export.objects.order_by().values_list("clinic", flat=True).distinct():
        clear_away(clinic_id)


def clear_away(clinic_id: int, anew: Export | None = None) -> None:
    """Delete stored files of the clinic that nobody can take any more, and what a killed attempt left.

    What stays of an export is its row, with the hash of what went out. ``anew``: the one whose file is about
    to be written.
    """
    folder = f"exports/{clinic_id}"
    try:
        names = default_storage.listdir(folder)[1]
    except FileNotFoundError:
        return
    takable = Export.objects.filter(clinic=clinic_id, expires_at__gt=clock.now(), cancelled_at=None)
    takable = takable.exclude(holds__in=(Export.Holds.ROWS, Export.Holds.NAMED), downloaded_at__isnull=False)
    kept = dict(takable.values_list("pk", "file"))
    for name in names:
        number = name.partition("-")[0]
        owner = int(number) if number.isdecimal() else 0
        stored = f"{folder}/{name}"
        # One without a file is being written by another worker, who lets go of it if it fails.
        if owner in kept and (anew is None or owner != anew.pk) and kept[owner] in ("", stored):
            continue
        with suppress(FileNotFoundError):
            default_storage.delete(stored)


def _new(holds: str, form: str, year: Period, by: Person, **more: object) -> Export:
    if by.clinic is None:
        raise ValidationError("Choose the clinic you act in first.")
    now = clock.now()
    export = Export(
        clinic=by.clinic,
        holds=holds,
        form=form,
        year_first=year.first,
        asked_at=now,
        asked_by=by.user,
        expires_at=now + timedelta(days=DAYS_TO_TAKE[Export.Holds(holds)]),
        **more,
    )
    export.full_clean()
    export.save()
    return export


def _started(export: Export, by: Person) -> Export:
    export.job = jobs.start(WRITE, by, {"export": export.pk})
    export.save(update_fields=["job"])
    record(by, "audit export asked for", export, details={"holds": export.holds, "form": export.form})
    return export


def _held(export: Export) -> Export:
    return (
        Export.objects.select_for_update(of=("self",)).select_related("asked_by", "clinic").get(pk=export.pk)
    )


def _parts(export: Export, tell: Tell) -> tuple[str, tuple[Column, ...], Iterator[Row], list[str]]:
    """Name of the table, its columns, its rows and what goes with them."""
    year = Period(export.year_first, Span.YEAR)
    if export.holds == Export.Holds.SUMS and export.tally is not None:
        about = export_sums.about(export.tally, export.clinic)
        return "figures", export_sums.COLUMNS, export_sums.rows(export.tally, export.clinic), about
    scope = scope_of(export.clinic, year, clock.now())
    what_for = [f"Purpose: {export.purpose}", f"Legal basis: {export.legal_basis}"]
    if export.holds == Export.Holds.NAMED:
        rows = export_named.rows(scope, lambda part: tell(part, "writing"))
        return "exams", export_named.COLUMNS, rows, [*_about_names(export), *what_for]
    names, least = Pseudonyms.of(export.salt), rules_now().least_alike
    until = told_until(year, clock.now().astimezone(export.clinic.zone).date())
    scope = replace(scope, end=moment_of(until, export.clinic.zone), after=until)
    tell(0, "looking for people alone of their kind")
    planned = export_rows.Plan(scope, names, least)
    export.log = {"people": planned.many, "widened": planned.widened, "left_out": planned.left_out}
    rows = export_rows.rows(scope, names, planned, lambda part: tell(part, "writing"))
    about = [
        f"Pseudonymised exams, audit year from {export.year_first:%d %b %Y}, before {until:%d %b %Y}: whole "
        "quarters only.",
        *what_for,
        "Everybody here shares age band, sex, amputation, ulcer, diabetes and visits (how many, what was "
        "planned, which sites were measured, quarters of a year between) with at least "
        f"{least - 1} others: of {_few(planned.widened, least)} people some of it was widened or later exams "
        f"were left out, and {_few(planned.left_out, least)} people were left out.",
        "Names are keyed for this file alone; no days, no text, no names, no numbers of records or devices; "
        "whoever measured few people has no pseudonym. De-identified does not mean anonymous: it stays "
        "health data.",
        f"Software version {settings.VERSION}.",
    ]
    return "exams", export_rows.COLUMNS, rows, about


def told_until(year: Period, today: date) -> date:
    """The day before which pseudonymised rows are told: only quarters of the year that are over.

    Whoever holds a file of yesterday and one of today would find in the second who came today.
    """
    ends = (one.end for one in periods_of(year) if one.span is Span.QUARTER)
    return max((end for end in ends if end <= today), default=year.first)


def _about_names(export: Export) -> list[str]:
    approver = export.decided_by.full_name if export.decided_by else ""
    return [
        f"Exams WITH NAMES, audit year from {export.year_first:%d %b %Y}, of {export.clinic.name}.",
        f"Asked for by {export.asked_by.full_name}, approved by {approver}: {export.decided_because}",
        "These are health data of named people. Keep them only as long as the purpose needs.",
        f"Software version {settings.VERSION}.",
    ]


def _few(number: int, least: int) -> str:
    return "fewer than " + str(least) if 0 < number < least else str(number)


def _until_cancelled(export: Export, rows: Iterator[Row]) -> Iterator[Row]:
    for number, row in enumerate(rows):
        if number % LOOK_EVERY == 0:
            _refuse_unwritable(Export.objects.get(pk=export.pk))
        yield row


def _refuse_unwritable(export: Export) -> None:
    if export.cancelled_at is not None:
        raise ValidationError("Cancelled; nothing was kept.")
    if export.has_rows and not export.approved:
        raise ValidationError("Nobody has approved this request.")
    if export.expires_at <= clock.now():
        raise ValidationError("This request has run out. It has to be asked for anew.")


def _refuse_untakable(export: Export, by: Person) -> None:
    if export.asked_by != by.user:
        raise ValidationError("Only the person who asked for these rows may take them.")
    if not export.is_ready or export.downloaded_at is not None or export.expires_at <= clock.now():
        raise ValidationError("These rows are not ready, were taken already, or their time is over.")


def _refuse_wrong_link(export: Export, token: str) -> None:
    if not secrets.compare_digest(hashlib.sha256(token.encode()).hexdigest(), export.link_hash or "-"):
        raise ValidationError("This link is not the newest one. Make a new link on the page of the export.")
    if export.link_until is None or export.link_until <= clock.now():
        raise ValidationError(
            f"This link opened the rows for {LINK_MINUTES} minutes, and they are over. Make a new link."
        )


def _checked_copy(export: Export) -> IO[bytes]:
    """A copy of the stored file, gone with the process, that is what was written."""
    copy = tempfile.TemporaryFile()  # noqa: SIM115 whoever sends it closes it
    try:
        with export.file.open("rb") as stored:
            while piece := stored.read(A_PIECE):
                copy.write(piece)
    except FileNotFoundError:
        pass
    if _digest(copy) != export.sha256:
        copy.close()
        raise ValidationError("The stored file is not the one that was written. Export it anew.")
    return copy


def _digest(file: Any) -> str:
    file.seek(0)
    found = hashlib.file_digest(file, "sha256").hexdigest()
    file.seek(0)
    return found


@one_act()
def _keep(export: Export, name: str, digest: str, many: int, by: Person) -> bool:
    """Whether this attempt's file became the export's; false where another attempt was first."""
    if not default_storage.exists(name):
        return False  # a later attempt cleared it away, thinking this one dead
    kept = Export.objects.filter(pk=export.pk, file="", cancelled_at=None).update(
        file=name, sha256=digest, rows=many, log=export.log
    )
    if kept:
        record(by, "audit export written", export, details={"count": many, "sha256": digest})
    return bool(kept)
