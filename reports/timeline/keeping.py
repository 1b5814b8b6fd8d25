"""What is kept of a record: marked in the act that changes it, made when it is looked at, and checked.

An act only puts a new mark, so that typing a value into the sheet of somebody with two hundred exams costs no
more than into anybody's. Whoever looks next has it made: of the exams that changed, the gist is read again,
and the gists of all are put together. Nothing on record changes by that, so it leaves no line in the trail
(docs/decisions/612-what-is-kept-of-a-record.md).
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any

from django.db.models import Case, F, When

from access.kept import mark_of, put_marks
from exams.followup.queries.waiting import anything_waits_for
from exams.hemodynamics import Criteria, OwnNoise
from exams.identity.queries import any_notice_of
from exams.patients.models import Caution, Patient
from exams.patients.queries import standing_facts, today_in
from exams.traces.queries.pictures import any_recording_of
from exams.visits.agreement.queries import own_noise_of
from exams.visits.history import ExamStamp, stamps_of, whole_history
from exams.visits.models import ExamState
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.exams import any_open_hand_over
from reports.timeline.few import NEWEST
from reports.timeline.gist import Gist, Whole, gist_json, gist_of, gists_from, whole_from, whole_json
from reports.timeline.glance import stands_of
from reports.timeline.happened import events_from
from reports.timeline.kept import glance_json, years_json
from reports.timeline.made_by import rules_of_exam, rules_of_record
from reports.timeline.models import KeptExam, KeptRecord
from reports.timeline.plain import Json
from reports.timeline.record import FINDINGS_READ, limits_of, years_from_gists
from reports.timeline.summary import unreported_of


def mark_changed(patients: Collection[int]) -> None:
    """Let what was kept of these records count no more. Part of the act that changed them; one query."""
    put_marks(KeptRecord, patients)


def kept_of(patient: Patient, criteria: Criteria, part: str) -> Json:
    """The `glance` or the `years` of a record: as kept, for two queries, or made now and then kept."""
    return kept_at_mark(patient, criteria, part)[1]


def kept_at_mark(patient: Patient, criteria: Criteria, part: str) -> tuple[str, Json]:
    """The same, and the mark at which it was made."""
    own = own_noise_of(patient.clinic)
    rules = rules_of_record(patient, criteria, own)
    counts = Case(When(made_of=F("mark"), made_by=rules, then=F(part)))
    # The mark is read before the record: an act that ends meanwhile puts another, and nothing is kept then.
    kept = KeptRecord.objects.filter(pk=patient.pk).values_list("mark", counts)
    mark, found = next(iter(kept), ("", None))
    if found is not None:
        return mark, found
    mark = mark or mark_of(KeptRecord, patient.pk)
    made = made_now(patient, criteria, own)
    KeptRecord.objects.filter(pk=patient.pk, mark=mark).update(
        made_of=mark, made_by=rules, page="", page_of=None, **made
    )
    return mark, made[part]


def made_now(patient: Patient, criteria: Criteria, own: Sequence[OwnNoise]) -> dict[str, Json]:
    """Both parts, from what is kept of the exams that have not changed, and the rows of those that have."""
    stamps = stamps_of(patient)
    return _made_of(patient, criteria, own, stamps, *exams_now(patient, criteria, stamps))


def made_afresh(patient: Patient, criteria: Criteria, own: Sequence[OwnNoise]) -> dict[str, Json]:
    """The same from the rows of the record alone, whatever is kept."""
    stamps = stamps_of(patient)
    limits, zone = limits_of(criteria), patient.clinic.zone
    read = [gist_of(record, limits, zone) for record in whole_history(patient, measures=FINDINGS_READ)]
    wholes = {gist.exam_id: whole for gist, whole in read}
    return _made_of(patient, criteria, own, stamps, [gist for gist, _ in read], lambda _: wholes)


Wholes = Callable[[Collection[int]], Mapping[int, Whole]]


def exams_now(
    patient: Patient, criteria: Criteria, stamps: Sequence[ExamStamp] | None = None
) -> tuple[list[Gist], Wholes]:
    """The gists of all exams, oldest first, and what takes the whole of some out: one query each.

    An exam whose stamp is not the kept one is read again and kept; those that are not on record any more are
    forgotten.
    """
    if stamps is None:
        stamps = stamps_of(patient)
    rules, zone = rules_of_exam(patient, criteria), patient.clinic.zone
    rows = KeptExam.objects.filter(patient_number=patient.pk).values_list(
        "exam_number", "made_of", "made_by", "gist"
    )
    kept = {number: (made_of, made_by, gist) for number, made_of, made_by, gist in rows}
    now = {one.exam_id: one.stamp for one in stamps}
    if gone := kept.keys() - now.keys():
        KeptExam.objects.filter(patient_number=patient.pk, exam_number__in=gone).delete()
    changed = {number for number, stamp in now.items() if kept.get(number, ("", ""))[:2] != (stamp, rules)}
    read = _read_again(patient, criteria, {number: now[number] for number in changed}, rules)
    standing = {number: gist for number, (_, _, gist) in kept.items() if number in now.keys() - changed}
    standing |= {number: one.gist for number, one in read.items()}
    return gists_from(list(standing.values()), zone), partial(wholes_of, patient)


def wholes_of(patient: Patient, exams: Collection[int]) -> dict[int, Whole]:
    """The wholes of exams whose gists were just taken; one query."""
    rows = KeptExam.objects.filter(patient_number=patient.pk, exam_number__in=exams)
    zone = patient.clinic.zone
    return {number: whole_from(whole, zone) for number, whole in rows.values_list("exam_number", "whole")}


def _read_again(
    patient: Patient, criteria: Criteria, stamps: Mapping[int, str], rules: str
) -> dict[int, KeptExam]:
    """Exams read from their rows and kept. Their stamps were taken before: later changes find them stale."""
    if not stamps:
        return {}
    limits, zone = limits_of(criteria), patient.clinic.zone
    made = {}
    for record in whole_history(patient, measures=FINDINGS_READ, only=stamps.keys()):
        gist, whole = gist_of(record, limits, zone)
        made[gist.exam_id] = KeptExam(
            exam_number=gist.exam_id,
            patient_number=patient.pk,
            made_of=stamps[gist.exam_id],
            made_by=rules,
            gist=gist_json(gist),
            whole=whole_json(whole),
        )
    KeptExam.objects.bulk_create(
        [made[number] for number in sorted(made)],
        update_conflicts=True,
        unique_fields=["exam_number"],
        update_fields=["patient_number", "made_of", "made_by", "gist", "whole"],
    )
    return made


def _made_of(
    patient: Patient,
    criteria: Criteria,
    own: Sequence[OwnNoise],
    stamps: Sequence[ExamStamp],
    gists: Sequence[Gist],
    wholes: Wholes,
) -> dict[str, Json]:
    zone, today = patient.clinic.zone, today_in(patient.clinic)
    facts, of_the_person = standing_facts(patient)
    years = years_from_gists(gists, events_from(facts, of_the_person), criteria, today, own=own)
    measured = [
        (one.exam_id, one.at.astimezone(zone).date()) for one in stamps if one.state == ExamState.MEASURED
    ]
    glance = {
        **glance_json(stands_of(gists, years.limbs, wholes), years, unreported_of(measured)),
        "exams": len(stamps),
        "listed": [gist.exam_id for gist in gists if gist.measured][-NEWEST:],
        # Whether there is anything to ask for; most pages have none of these.
        "notices": any_notice_of(patient),
        "hand_overs": any_open_hand_over(patient),
        "recordings": any_recording_of(patient),
        "waiting": anything_waits_for(patient),
        "facts": any(facts.values()) or bool(of_the_person),
        "cautions": Caution.objects.filter(patient=patient).exists(),
    }
    of_years = Counter(gist.at.year for gist in gists if gist.measured)
    return {
        "glance": glance,
        "years": {**years_json(years), "of_years": [list(one) for one in of_years.items()]},
    }


def kept_page(patient: Patient, criteria: Criteria, today: date) -> tuple[str, Json] | None:
    """The timeline as drawn today, with the glance; None where it must be drawn. Two queries."""
    rules = rules_of_record(patient, criteria, own_noise_of(patient.clinic))
    kept = KeptRecord.objects.filter(pk=patient.pk, made_of=F("mark"), made_by=rules, page_of=today)
    found = next(iter(kept.values_list("page", "glance")), None)
    return None if found is None or found[1] is None else (found[0], found[1])


def keep_page(patient: Patient, made_of: str, page: str, today: date) -> None:
    """Keep the timeline drawn of what was read after that mark; not where an act has put another since."""
    KeptRecord.objects.filter(pk=patient.pk, mark=made_of, made_of=made_of).update(page=page, page_of=today)


def differing(patients: Iterator[Patient]) -> Iterator[tuple[int, str]]:
    """Records, and the part of each, of which something is kept that would be made otherwise now."""
    for patient in patients:
        criteria, own = adopted_by(patient.clinic), own_noise_of(patient.clinic)
        kept = KeptRecord.objects.filter(
            pk=patient.pk, made_of=F("mark"), made_by=rules_of_record(patient, criteria, own)
        ).first()
        made: dict[str, Any] = made_afresh(patient, criteria, own) if kept else {}
        yield from ((patient.pk, part) for part, now in made.items() if getattr(kept, part) != now)
        yield from ((patient.pk, f"exam {number}") for number in _differing_exams(patient, criteria))


def keep_now(patient: Patient) -> None:
    """Have it made, so that whoever looks next need not wait for it."""
    kept_of(patient, adopted_by(patient.clinic), "glance")


def _differing_exams(patient: Patient, criteria: Criteria) -> Iterator[int]:
    """Exams of which something counts as kept that their rows do not say."""
    now = {one.exam_id: one.stamp for one in stamps_of(patient)}
    counting = [
        one
        for one in KeptExam.objects.filter(
            patient_number=patient.pk, made_by=rules_of_exam(patient, criteria)
        )
        if now.get(one.exam_number) == one.made_of
    ]
    if not counting:
        return
    limits, zone = limits_of(criteria), patient.clinic.zone
    read = {
        gist.exam_id: (gist_json(gist), whole_json(whole))
        for gist, whole in (
            gist_of(record, limits, zone) for record in whole_history(patient, measures=FINDINGS_READ)
        )
    }
    yield from (one.exam_number for one in counting if read.get(one.exam_number) != (one.gist, one.whole))
