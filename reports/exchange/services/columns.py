"""Which column is which: said, kept for the next table, and checked by a job."""

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs.models import Job
from jobs.services import start
from reports.exchange.columns import Mapping
from reports.exchange.models import Batch, BatchState, MappingTemplate
from reports.exchange.services.common import ABILITY, mapping_of, open_to_change
from reports.exchange.services.readying import drop_ready

CHECK = "check of a table"


@one_act()
def name_columns(*, batch: Batch, mapping: Mapping, by: Person) -> Batch:
    """Keep which column is which; what an earlier check found counts no more."""
    batch = open_to_change(batch, by)
    batch.mapping = mapping.to_json()
    batch.counts, batch.checked_at = {}, None
    batch.state = BatchState.ARRIVED
    batch.issues.all().delete()
    drop_ready(batch)
    batch.save()
    record(by, "columns of a table named", batch, details={"columns": sum(map(bool, mapping.fields))})
    return batch


@one_act()
def save_template(*, name: str, mapping: Mapping, by: Person) -> MappingTemplate:
    """Keep headings and what they hold under a name; the same name again replaces what stood there."""
    require(by, ABILITY)
    name = " ".join(name.split())
    if not name:
        raise ValidationError({"keep_as": "Give the template a name."})
    row = MappingTemplate.objects.select_for_update().filter(clinic=by.clinic, name=name).first()
    row = row or MappingTemplate(clinic=by.clinic, name=name)
    # The day of one table is not the day of the next.
    options = {**mapping.options.to_json(), "exam_date": ""}
    row.columns, row.options = mapping.as_template(), options
    row.saved_at, row.saved_by = clock.now(), by.user
    row.full_clean(exclude=["clinic", "saved_by"])
    row.save()
    record(by, "template of columns saved", row, details={"name": name})
    return row


@one_act()
def ask_for_check(*, batch: Batch, by: Person) -> Job:
    """Have every row tried, with nothing taken in."""
    batch = open_to_change(batch, by)
    mapping_of(batch)
    job = start(CHECK, by, {"batch": batch.pk})
    batch.state, batch.job = BatchState.CHECKING, job
    batch.save()
    return job
