"""What changes the pairs of agreement, and the clinic's own noise that follows from them."""

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError

from access import clock
from access.models import Clinic, User
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import OwnNoise
from exams.patients.models import Patient
from exams.patients.typed_date import written
from exams.visits.agreement import queries
from exams.visits.agreement.models import AgreementRepeat, ClinicNoise
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES
from exams.visits.services.acts import check, held, need

NOT_FINISHED = "This exam is not finished yet. Finish measuring first; then say that it repeats another."

IMPORTED = (
    "An exam that came in with a table says nothing of how far two measurements differ here. Choose exams "
    "measured in this clinic."
)


@one_act()
def record_repeat(
    *, exam: Exam, first: Exam, study: str, recuffed_by: User, recuffed: bool, by: Person
) -> AgreementRepeat:
    """Say that an exam repeats an earlier one: same person, other day, every cuff laid again.

    Raises
    ------
    ValidationError
        At ``first`` where the two make no pair: the same visit, another person, not finished, more than
        eight weeks apart, in a pair already, or something happened in between; at ``recuffed`` where a cuff
        stayed on; at ``study`` without a name.
    """
    require(by, "measure", exam)
    exam, first = held(exam), held(first)
    _refuse(exam, first, recuffed=recuffed)
    repeat = AgreementRepeat(
        exam=exam,
        first=first,
        study=need(study, "study", "Name the study, such as “agreement, autumn 2026”."),
        recuffed_by=recuffed_by,
        recorded_at=clock.now(),
        recorded_by=by.user,
    )
    check(repeat)
    repeat.save()
    details = {"repeats exam": first.pk, "study": repeat.study, "cuffs laid again by": recuffed_by.pk}
    record(by, "agreement repeat recorded", exam, details=details | _told(refresh_noise(exam.clinic, by)))
    return repeat


@one_act()
def withdraw_repeat(*, repeat: AgreementRepeat, because: str, by: Person) -> AgreementRepeat:
    """Take a pair back that was none. It stays in the record, with who and why."""
    require(by, "measure", repeat.exam)
    standing = AgreementRepeat.objects.select_for_update().get(pk=repeat.pk)
    if standing.withdrawn_at:
        raise ValidationError({"because": "This was taken back already. Nothing was changed."})
    standing.withdrawn_at, standing.withdrawn_by = clock.now(), by.user
    standing.withdrawn_because = need(because, "because", "Say why it is no repeat after all.")
    check(standing)
    standing.save()
    details = {"repeats exam": standing.first_id, "because": standing.withdrawn_because}
    record(
        by,
        "agreement repeat withdrawn",
        standing.exam,
        details=details | _told(refresh_noise(standing.exam.clinic, by)),
    )
    return standing


def follow_pairs(*, patient: Patient, by: Person) -> None:
    """Compute the clinic's noise again where a change of this person's record can have touched a pair.

    Called inside the act that changed it: a corrected reading, an event recorded later.
    """
    if AgreementRepeat.objects.filter(exam__patient=patient, withdrawn_at=None).exists():
        refresh_noise(patient.clinic, by)


def refresh_noise(clinic: Clinic, by: Person) -> list[ClinicNoise]:
    """Store the noise of every measure whose pairs have changed; what is stored of others stays.

    A row is kept for each change, so that a page of a past day can say which noise was in force then.
    """
    # Two acts at once would each leave out the pair of the other.
    Clinic.objects.select_for_update().get(pk=clinic.pk)
    found = queries.gathered(clinic)
    stored = {(row.measure, row.technique): row for row in queries.newest_noises(clinic)}
    changed = [
        row for key in {*found.pairs, *stored} if (row := _changed(key, found, stored.get(key), clinic, by))
    ]
    for row in sorted(changed, key=lambda one: (one.measure, one.technique)):
        check(row)
        row.save()
    return changed


def _changed(
    key: tuple[str, str], found: queries.Gathered, before: ClinicNoise | None, clinic: Clinic, by: Person
) -> ClinicNoise | None:
    own = found.noise(key)
    row = ClinicNoise(
        clinic=clinic,
        measure=key[0],
        technique=key[1],
        pairs=len(found.pairs.get(key, ())),
        computed_at=clock.now(),
        computed_by=by.user,
    )
    if isinstance(own, OwnNoise):
        row.sd_within, row.study = Decimal(own.sd_within).quantize(Decimal("0.000001")), own.study
    else:
        row.because = own.reason
    if before is None:
        return row if row.sd_within is not None else None
    was = (before.sd_within, before.pairs, before.study)
    if was == (row.sd_within, row.pairs, row.study) or (before.sd_within is None and row.sd_within is None):
        return None
    return row


def _refuse(exam: Exam, first: Exam, *, recuffed: bool) -> None:
    if exam.state not in DONE_STATES:
        raise ValidationError({"first": NOT_FINISHED})
    if exam.imported_from or first.imported_from:
        raise ValidationError({"first": IMPORTED})
    if first.patient_id != exam.patient_id:
        raise ValidationError({"first": "That exam is of another person. Choose one of the list."})
    if first.state not in DONE_STATES:
        raise ValidationError({"first": "That exam is not finished, so it cannot be repeated yet."})
    on, again = queries.day_of(first, exam.clinic), queries.day_of(exam, exam.clinic)
    if first.pk == exam.pk or on == again:
        raise ValidationError(
            {
                "first": "Repeats of the same visit differ too little to say how a foot varies: "
                "choose another day."
            }
        )
    if not 0 < (again - on).days <= queries.MOST_DAYS_APART:
        raise ValidationError({"first": "Choose an exam of an earlier day, at most eight weeks before."})
    for one in (exam, first):
        pair = queries.repeat_of(one)
        if pair is not None:
            raise ValidationError(
                {
                    "first": f"The exam of {written(queries.day_of(one, exam.clinic))} is in a pair already. "
                    "Take that back first."
                }
            )
    happened = queries.happened_between(exam.patient_id, on, again)
    if happened:
        raise ValidationError(
            {"first": f"In between: {'; '.join(happened)}. This pair tells of that, not of the noise."}
        )
    if not recuffed:
        raise ValidationError(
            {
                "recuffed": "A cuff left on hides part of the noise. Only an exam with every cuff laid "
                "again counts."
            }
        )


def _told(changed: list[ClinicNoise]) -> dict[str, Any]:
    """For the trail: what the act made of the noise, if anything."""
    said = {
        f"{row.measure}, {row.technique}": row.because or f"SD {row.sd_within}, {row.pairs} pairs"
        for row in changed
    }
    return {"own noise": said} if said else {}
