"""Two records of one person, and the acts that make them one and part them."""

from django.apps import apps
from django.db.models import BinaryField

from exams.identity import queries, services
from reports.documents.queries import draft_for
from reports.documents.services import make_report
from tests.patients.make import register

# The trail, the merges, and what only follows from the record and is made anew.
NOT_COMPARED = {
    "access.trailrow",
    "access.trailhead",
    "identity.merge",
    "timeline.keptrecord",
    "wounds.keptoutlook",
}


def two_records(by, **of_other):
    """The same person twice, the second time under another identifier and without a telephone."""
    one = register(by, telephone="01632 960001", identifiers=[("Alder House", "FN 42")])
    said = {"given_name": "Iriss", "identifiers": [("Lock Street", "LS 7")], **of_other}
    return one, register(by, duplicate_reason="not seen", **said)


def merge(survivor, merged, by, keep="survivor", because="same birth date and address", **kept):
    """Merge with ``keep`` for everything that differs, save what is named."""
    survivor.refresh_from_db()
    merged.refresh_from_db()
    decided = {one.key: kept.get(one.key, keep) for one in queries.to_decide(survivor, merged)}
    return services.merge_records(
        survivor=survivor,
        merged=merged,
        keep=decided,
        because=because,
        seen=(survivor.revision, merged.revision),
        by=by,
    )


def undo(done, by, because="twins after all", **places):
    return services.undo_merge(merge=done, places=places, because=because, by=by)


def report_of(exam, by):
    draft = draft_for(by, exam.pk)
    return make_report(exam=exam, conclusion=draft.drafted, drafted=draft.drafted, seen=draft.seen, by=by)


def everything():
    """Every row of every table of the service, save the trail and the merges."""
    return {
        model._meta.label_lower: sorted(
            tuple((field.attname, str(field.value_from_object(row))) for field in model._meta.concrete_fields)
            for row in model._base_manager.all()
        )
        for model in apps.get_models()
        if model._meta.label_lower not in NOT_COMPARED
        and not any(isinstance(field, BinaryField) for field in model._meta.concrete_fields)
    }
