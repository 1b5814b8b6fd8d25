"""What is kept of a record: marked in the act that changes it, made when it is looked at, and checked.

An act only puts a new mark, so that typing a value into the sheet of somebody with two hundred exams costs no
more than into anybody's. Whoever looks next has it made: nothing on record changes by that, so it leaves no
line in the trail (docs/decisions/612-what-is-kept-of-a-record.md).
"""

from collections.abc import Collection, Iterator, Sequence
from hashlib import sha256
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.db.models import F

from exams.followup.queries.waiting import anything_waits_for
from exams.hemodynamics import Criteria, OwnNoise
from exams.identity.queries import notices_of
from exams.patients.models import Caution, Patient
from exams.patients.queries import standing_facts, today_in
from exams.traces.queries.pictures import any_recording_of
from exams.visits.agreement.queries import own_noise_of
from exams.visits.history import whole_history
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.exams import any_open_hand_over
from reports.timeline.happened import events_from
from reports.timeline.kept import FORM, Json, glance_json, years_json
from reports.timeline.models import KeptRecord
from reports.timeline.record import FINDINGS_READ, years_of


def mark_changed(patients: Collection[int]) -> None:
    """Let what was kept of these records count no more. Part of the act that changed them; one query."""
    # Each once, as the database demands, and in one order, so that two acts do not wait for each other.
    KeptRecord.objects.bulk_create(
        [KeptRecord(patient_number=number, mark=uuid4().hex) for number in sorted(set(patients))],
        update_conflicts=True,
        unique_fields=["patient_number"],
        update_fields=["mark"],
    )


def kept_of(patient: Patient, criteria: Criteria, part: str) -> Json:
    """The `glance` or the `years` of a record: as kept, for two queries, or made now and then kept."""
    own = own_noise_of(patient.clinic)
    rules = _rules(patient, criteria, own)
    kept = KeptRecord.objects.filter(pk=patient.pk, made_of=F("mark"), made_by=rules)
    found: Json | None = next(iter(kept.values_list(part, flat=True)), None)
    if found is not None:
        return found
    # The mark is read before the record: an act that ends meanwhile puts another, and nothing is kept then.
    KeptRecord.objects.bulk_create(
        [KeptRecord(patient_number=patient.pk, mark=uuid4().hex)], ignore_conflicts=True
    )
    mark = KeptRecord.objects.values_list("mark", flat=True).get(pk=patient.pk)
    made = made_now(patient, criteria, own)
    KeptRecord.objects.filter(pk=patient.pk, mark=mark).update(made_of=mark, made_by=rules, **made)
    of_part: Json = made[part]
    return of_part


def made_now(patient: Patient, criteria: Criteria, own: Sequence[OwnNoise]) -> dict[str, Json]:
    """Both parts, from the rows of the record."""
    zone, today = patient.clinic.zone, today_in(patient.clinic)
    records = whole_history(patient, measures=FINDINGS_READ)
    facts, of_the_person = standing_facts(patient)
    years = years_of(records, events_from(facts, of_the_person), criteria, zone, today, own=own)
    notices = notices_of(patient)
    glance = {
        **glance_json(records, years),
        "exams": len(records),
        # Whether there is anything to ask for; most pages have none of these.
        "notices": bool(notices.merges or notices.in_error),
        "hand_overs": any_open_hand_over(patient),
        "recordings": any_recording_of(patient),
        "waiting": anything_waits_for(patient),
        "facts": any(facts.values()) or bool(of_the_person),
        "cautions": Caution.objects.filter(patient=patient).exists(),
    }
    return {"glance": glance, "years": years_json(years)}


def differing(patients: Iterator[Patient]) -> Iterator[tuple[int, str]]:
    """Records, and the part of each, of which something is kept that would be made otherwise now."""
    for patient in patients:
        criteria, own = adopted_by(patient.clinic), own_noise_of(patient.clinic)
        kept = KeptRecord.objects.filter(
            pk=patient.pk, made_of=F("mark"), made_by=_rules(patient, criteria, own)
        ).first()
        made: dict[str, Any] = made_now(patient, criteria, own) if kept else {}
        yield from ((patient.pk, part) for part, now in made.items() if getattr(kept, part) != now)


def keep_now(patient: Patient) -> None:
    """Have it made, so that whoever looks next need not wait for it."""
    kept_of(patient, adopted_by(patient.clinic), "glance")


def _rules(patient: Patient, criteria: Criteria, own: Sequence[OwnNoise]) -> str:
    """By what it is made beside the record: a row made by other rules does not count."""
    adopted = f"{criteria.name}@{criteria.version} {criteria.content_hash[:16]}"
    noise = sha256(repr(own).encode()).hexdigest()[:16] if own else "published"
    return f"{FORM} {settings.VERSION} {adopted} {noise} {patient.clinic.time_zone}"
