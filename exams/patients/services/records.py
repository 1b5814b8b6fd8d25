"""What changes a person's record and identifiers."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients import matching, queries
from exams.patients.models import EARLIEST_BIRTH, Identifier, Patient
from exams.patients.services.common import (
    CHECK_YEAR,
    check,
    reason_given,
    refuse_merged,
    tell_life_listeners,
    tell_listeners,
)
from exams.patients.services.lived import contradictions
from exams.patients.typed_date import written

LIKELY_DUPLICATE = (
    "A record that looks like the same person is here already. Open it, or say why these are different "
    "people. What you typed is kept."
)

# The code of the refusal of a page that was overtaken by somebody else's saving.
STALE = "stale"

CHANGEABLE = (
    "family_name",
    "given_name",
    "birth_date",
    "sex",
    "telephone",
    "address",
    "referrer",
    "died_on",
    "diabetes",
    "kidney_disease",
    "neuropathy",
    "tobacco",
)
# What the core reads beside the pressures (its ``Context``).
_CHANGES_MEANING = frozenset({"diabetes", "kidney_disease", "neuropathy"})
_LIFE = frozenset({"birth_date", "died_on"})
_MEND = (
    "Check the year, or mend the other date first. An exam that was another person's is marked so on its "
    "own sheet."
)


@one_act()
def register_patient(
    *,
    family_name: str,
    given_name: str,
    birth_date: date,
    sex: str,
    by: Person,
    identifiers: Iterable[tuple[str, str]] = (),
    telephone: str = "",
    address: str = "",
    referrer: str = "",
    diabetes: str = "unknown",
    kidney_disease: str = "unknown",
    neuropathy: str = "unknown",
    tobacco: str = "unknown",
    duplicate_reason: str = "",
) -> Patient:
    """A new record in the clinic of ``by``.

    Parameters
    ----------
    identifiers : pairs of issuer and value.
    duplicate_reason : why this is not one of the likely duplicates, where there are any.

    Raises
    ------
    ValidationError
        By field; at ``duplicate_reason`` if a record looks like the same person and no reason is given, at
        ``identifiers`` if a record of this clinic holds one of them.
    """
    require(by, "change patient")
    identifiers = list(identifiers)
    patient = Patient(
        clinic=by.clinic,
        family_name=family_name,
        given_name=given_name,
        birth_date=birth_date,
        sex=sex,
        telephone=telephone,
        address=address,
        referrer=referrer,
        diabetes=diabetes,
        kidney_disease=kidney_disease,
        neuropathy=neuropathy,
        tobacco=tobacco,
        created_at=clock.now(),
        created_by=by.user,
    )
    check_record(patient)
    likely = queries.likely_duplicates(
        by,
        family_name=family_name,
        given_name=given_name,
        birth_date=birth_date,
        identifiers=identifiers,
        telephone=telephone,
    )
    if likely and not duplicate_reason.strip():
        raise ValidationError({"duplicate_reason": LIKELY_DUPLICATE})
    patient.save()
    for issuer, value in identifiers:
        _give(patient, issuer, value)
    refresh_compared(patient)
    details: dict[str, Any] = {"identifiers": [list(pair) for pair in identifiers]}
    if likely:
        details["different_from"] = [match.patient.pk for match in likely]
        details["because"] = duplicate_reason.strip()
    record(by, "patient registered", patient, details=details)
    return patient


@one_act()
def change_patient(*, patient: Patient, revision: int, by: Person, **values: Any) -> Patient:
    """Change what is typed of a person; ``values`` are any of ``CHANGEABLE``.

    Raises
    ------
    ValidationError
        If somebody saved the record after ``revision`` was read: at each field that would be overwritten,
        with the newer value named; nothing is saved.
    """
    require(by, "change patient", patient)
    unknown = set(values) - set(CHANGEABLE)
    if unknown:
        raise TypeError(f"{sorted(unknown)} cannot be changed here.")
    refuse_merged(patient)
    current = Patient.objects.select_for_update().get(pk=patient.pk)
    changed = {
        name: [getattr(current, name), value]
        for name, value in values.items()
        if getattr(current, name) != value
    }
    if not changed:
        return current
    if revision != current.revision:
        raise ValidationError({name: ValidationError(_newer(current, name), code=STALE) for name in changed})
    for name, (_, value) in changed.items():
        setattr(current, name, value)
    current.revision += 1
    _refuse_death(current)
    check_record(current)
    if _LIFE & changed.keys():
        _refuse_contradicted(current)
    current.save()
    refresh_compared(current)
    record(by, "patient changed", current, details={"changed": changed})
    if _CHANGES_MEANING & changed.keys():
        tell_listeners(current, by)
    if "died_on" in changed:
        tell_life_listeners(current, by)
    return current


@one_act()
def add_identifier(*, patient: Patient, issuer: str, value: str, by: Person) -> Identifier:
    require(by, "change patient", patient)
    refuse_merged(patient)
    identifier = _give(patient, issuer, value)
    refresh_compared(patient)
    record(by, "identifier added", identifier, details={"issuer": issuer, "value": value})
    return identifier


@one_act()
def withdraw_identifier(*, identifier: Identifier, reason: str, by: Person) -> Identifier:
    """Take a mistyped identifier out of use; it stays in the record with who and why."""
    require(by, "change patient", identifier)
    standing = Identifier.objects.select_for_update().get(pk=identifier.pk)
    if standing.withdrawn_at:
        raise ValidationError({"reason": "This identifier was withdrawn already."})
    standing.withdrawn_at, standing.withdrawn_by = clock.now(), by.user
    standing.withdrawn_because = reason_given(reason)
    check(standing)
    standing.save()
    refresh_compared(standing.patient)
    record(
        by,
        "identifier withdrawn",
        standing,
        details={"issuer": standing.issuer, "value": standing.value, "because": standing.withdrawn_because},
    )
    return standing


def check_record(patient: Patient) -> None:
    _refuse_birth(patient)
    if not matching.words(patient.family_name):
        raise ValidationError({"family_name": "Write the family name; it needs a letter."})
    patient.name_key = matching.name_key(patient.family_name, patient.given_name)
    patient.telephone_key = matching.telephone_key(patient.telephone)
    patient.search_text = patient.search_text or patient.name_key
    check(patient)


def _refuse_birth(patient: Patient) -> None:
    today = queries.today_in(patient.clinic)
    if patient.birth_date > today:
        raise ValidationError({"birth_date": f"{written(patient.birth_date)} is to come. {CHECK_YEAR}"})
    if patient.birth_date < EARLIEST_BIRTH:
        raise ValidationError({"birth_date": f"{written(patient.birth_date)} is before 1900. {CHECK_YEAR}"})


def _refuse_death(patient: Patient) -> None:
    if patient.died_on is None:
        return
    if patient.died_on > queries.today_in(patient.clinic):
        raise ValidationError({"died_on": f"{written(patient.died_on)} is to come. {CHECK_YEAR}"})
    if patient.died_on < patient.birth_date:
        raise ValidationError(
            {"died_on": f"{written(patient.died_on)} is before the birth date. {CHECK_YEAR}"}
        )


def _refuse_contradicted(patient: Patient) -> None:
    said = contradictions(patient, _MEND)
    if said:
        raise ValidationError(said)


def refresh_compared(patient: Patient) -> None:
    """Write the searched line again: the names, the identifiers in use, the names of records merged here."""
    in_use = Identifier.objects.filter(patient=patient, withdrawn_at=None).order_by("pk")
    merged = patient.merged_here.order_by("pk").values_list("family_name", "given_name")
    patient.search_text = matching.searchable(
        patient.family_name,
        patient.given_name,
        *in_use.values_list("value", flat=True),
        *(name for names in merged for name in names),
    )
    Patient.objects.filter(pk=patient.pk).update(search_text=patient.search_text)


def _give(patient: Patient, issuer: str, value: str) -> Identifier:
    identifier = Identifier(
        patient=patient,
        clinic_id=patient.clinic_id,
        issuer=issuer,
        value=value,
        issuer_key=matching.key(issuer),
        value_key=matching.key(value),
    )
    if not identifier.issuer_key or not identifier.value_key:
        raise ValidationError({"identifiers": "An identifier needs its issuer and a letter or figure."})
    taken = ValidationError(
        {"identifiers": f"{issuer} {value} is in a record of this clinic already. Find that record first."}
    )
    in_use = Identifier.objects.filter(
        clinic_id=patient.clinic_id,
        issuer_key=identifier.issuer_key,
        value_key=identifier.value_key,
        withdrawn_at=None,
    )
    if in_use.exists():
        raise taken
    identifier.clean_fields(exclude=["patient", "clinic"])
    try:
        with transaction.atomic():
            identifier.save()
    except IntegrityError:
        # Two people gave out the same identifier in the same instant; the database let one in.
        raise taken from None
    return identifier


def _newer(current: Patient, name: str) -> str:
    value = getattr(current, name)
    shown = written(value) if isinstance(value, date) else _label(current, name) or "nothing"
    return (
        f"Somebody saved this record while you were typing; it now says “{shown}” here. What you typed is "
        "kept: save again to replace the newer value, or type it back."
    )


def _label(current: Patient, name: str) -> str:
    show = getattr(current, f"get_{name}_display", None)
    return show() if show else str(getattr(current, name))
