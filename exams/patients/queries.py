"""What is read of patients, and for whom. Every function costs a fixed number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch, Q, QuerySet

from access import clock
from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from exams.patients import matching
from exams.patients.events import FactKind
from exams.patients.models import Caution, Identifier, LimbFact, Patient, Region, Side
from exams.patients.typed_date import date_within

MOST_SHOWN = 50
LONGEST_SEARCH = 120
_MOST_NAMESAKES = 200


def today_in(clinic: Clinic) -> date:
    """The date on the clinic's wall."""
    return clock.now().astimezone(clinic.zone).date()


def today_for(person: Person) -> date:
    """The date on the wall of the clinic ``person`` acts in."""
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    return today_in(person.clinic)


class MergedAway(NotHere):
    """The record was merged into another one, which stands in its place."""

    def __init__(self, patient: Patient) -> None:
        super().__init__("merged into another record")
        self.patient = patient


@dataclass(frozen=True)
class Found:
    """People found by a search; ``more`` says that the list was cut and the search should be narrowed."""

    patients: tuple[Patient, ...]
    more: bool


def patients_matching(person: Person, text: str) -> Found:
    """People of the person's clinic in whose names or identifiers every word of ``text`` stands somewhere.

    A date in ``text`` is read as a birth date. Accents, case, order and punctuation make no difference.
    At most ``MOST_SHOWN`` people, by name; two queries. Nothing to look for finds nobody.
    """
    require(person, "find patients")
    born, as_typed, rest = date_within(text[:LONGEST_SEARCH])
    words = matching.words(rest)
    if not words and not born:
        return Found((), more=False)
    searched = _every_word_stands_in(words)
    if born:
        # Figures like 12 10 1950 can be an identifier just as well.
        searched &= Q(birth_date=born) | Q(search_text__contains=matching.squeezed(as_typed))
    people = list(with_identifiers(_standing(person).filter(searched))[: MOST_SHOWN + 1])
    return Found(tuple(people[:MOST_SHOWN]), more=len(people) > MOST_SHOWN)


def patient_for(person: Person, patient_id: int) -> Patient:
    """The record, with its identifiers; ``NotHere`` (a 404) for a number of another clinic or of nobody.

    One that was merged into another is ``MergedAway``: nothing may be recorded or booked there any more.
    """
    patient = any_record_for(person, patient_id)
    if patient.merged_into_id is not None:
        raise MergedAway(patient)
    return patient


def any_record_for(person: Person, patient_id: int) -> Patient:
    """The same, also of a record that was merged into another one."""
    require(person, "see patient")
    in_order = Prefetch("identifiers", queryset=Identifier.objects.order_by("pk"))
    found = Patient.objects.filter(clinic=person.clinic, pk=patient_id).prefetch_related(in_order)
    patient = next(iter(found), None)
    if patient is None or person.clinic is None:
        raise NotHere("no such patient in this clinic")
    # The clinic acted in is at hand and need not be read again.
    patient.clinic = person.clinic
    return patient


def issuers_known_to(person: Person) -> list[str]:
    """Issuers this clinic has used, to be offered while typing, so that one issuer keeps one spelling."""
    used = Identifier.objects.filter(clinic=person.clinic).order_by("issuer")
    return list(used.values_list("issuer", flat=True).distinct()[:20])


def holder_of_identifier(person: Person, issuer: str, value: str) -> Patient | None:
    """Whose identifier it is in this clinic, however it is typed; None if nobody's."""
    return Patient.objects.filter(
        clinic=person.clinic,
        identifiers__issuer_key=matching.key(issuer),
        identifiers__value_key=matching.key(value),
        identifiers__withdrawn_at=None,
    ).first()


def withdrawn_identifiers(patient: Patient) -> tuple[Identifier, ...]:
    """Identifiers taken out of use, with who and why. One query."""
    gone = Identifier.objects.filter(patient=patient, withdrawn_at__isnull=False)
    return tuple(gone.select_related("withdrawn_by").order_by("-withdrawn_at"))


def identifier_for(person: Person, patient_id: int, identifier_id: int) -> Identifier:
    found = (
        Identifier.objects.filter(clinic=person.clinic, patient_id=patient_id, pk=identifier_id)
        .select_related("patient__clinic")
        .first()
    )
    if found is None:
        raise NotHere("no such identifier in this clinic")
    return found


# ---- likely duplicates


@dataclass(frozen=True)
class LikelyMatch:
    """A record that may be the same person, and in what the two agree."""

    patient: Patient
    reasons: tuple[str, ...]


def likely_duplicates(
    person: Person,
    *,
    family_name: str,
    given_name: str,
    birth_date: date | None,
    identifiers: Iterable[tuple[str, str]] = (),
    telephone: str = "",
) -> tuple[LikelyMatch, ...]:
    """Records of the person's clinic that may be the same person, the likeliest first; two queries.

    Likely means: an identifier in common; the same name (also changed about); a name one slip away with the
    same birth date (also with day and month changed about); the same birth date and one name in common; or
    the same telephone with a name or the birth date in common. Never merged, only shown.
    """
    typed = _AsCompared(
        family=matching.squeezed(family_name),
        given=matching.squeezed(given_name),
        name_key=matching.name_key(family_name, given_name),
        births=_births_meant(birth_date),
        numbers=frozenset(filter(None, (matching.key(value) for _, value in identifiers))),
        telephone=matching.telephone_key(telephone),
    )
    # The clinic stands in each part, so that a database can answer each from an index of its own.
    clinic = Q(clinic=person.clinic)
    near = (clinic & Q(name_key=typed.name_key)) | (clinic & Q(birth_date__in=typed.births))
    if typed.numbers:
        holders = Identifier.objects.filter(clinic, value_key__in=typed.numbers, withdrawn_at=None)
        near |= clinic & Q(pk__in=holders.values("patient_id"))
    if typed.telephone:
        near |= clinic & Q(telephone_key=typed.telephone)
    candidates = with_identifiers(Patient.objects.filter(near, merged_into=None))
    matches = [LikelyMatch(patient, _agreements(typed, patient)) for patient in candidates[:_MOST_NAMESAKES]]
    likely = [match for match in matches if match.reasons]
    return tuple(sorted(likely, key=lambda match: -len(match.reasons)))


def agreements(one: Patient, other: Patient) -> tuple[str, ...]:
    """In what two records agree, if that makes them likely to be of one person; otherwise nothing.

    By the same rules as the warning when somebody is registered. Both come with their identifiers.
    """
    compared = _AsCompared(
        family=matching.squeezed(one.family_name),
        given=matching.squeezed(one.given_name),
        name_key=one.name_key,
        births=_births_meant(one.birth_date),
        numbers=frozenset(number.value_key for number in one.identifiers_in_use),
        telephone=one.telephone_key,
    )
    return _agreements(compared, other)


@dataclass(frozen=True)
class _AsCompared:
    family: str
    given: str
    name_key: str
    births: tuple[date, ...]
    numbers: frozenset[str]
    telephone: str


def _agreements(typed: _AsCompared, patient: Patient) -> tuple[str, ...]:
    """In what ``typed`` agrees with ``patient``, if that is enough to be likely; otherwise nothing."""
    family, given = matching.squeezed(patient.family_name), matching.squeezed(patient.given_name)
    same_name = typed.name_key == patient.name_key
    alike = _alike(typed, family, given)
    one_name = typed.family == family or typed.given == given
    same_birth = bool(typed.births) and patient.birth_date == typed.births[0]
    near_birth = patient.birth_date in typed.births
    same_number = any(one.value_key in typed.numbers for one in patient.identifiers_in_use)
    same_telephone = bool(typed.telephone) and patient.telephone_key == typed.telephone

    said = {
        "the same identifier": same_number,
        "the same name": same_name and (typed.family, typed.given) == (family, given),
        "the same names changed about": same_name and (typed.family, typed.given) != (family, given),
        "a name one slip away": alike and not same_name,
        "one name in common": one_name and not alike and not same_name,
        "the same birth date": same_birth,
        "the same birth date with day and month changed about": near_birth and not same_birth,
        "the same telephone": same_telephone,
    }
    likely = (
        same_number
        or same_name
        or (near_birth and alike)
        or (same_birth and one_name)
        or (same_telephone and (alike or one_name or near_birth))
    )
    return tuple(words for words, holds in said.items() if holds) if likely else ()


def _alike(typed: _AsCompared, family: str, given: str) -> bool:
    straight = matching.one_slip_apart(typed.family, family) and matching.one_slip_apart(typed.given, given)
    about = matching.one_slip_apart(typed.family, given) and matching.one_slip_apart(typed.given, family)
    return straight or about


def _births_meant(birth_date: date | None) -> tuple[date, ...]:
    """The date itself first, then the date with day and month changed about, where there is one."""
    if birth_date is None:
        return ()
    if birth_date.day > 12 or birth_date.day == birth_date.month:
        return (birth_date,)
    return (birth_date, birth_date.replace(day=birth_date.month, month=birth_date.day))


# ---- cautions


@dataclass(frozen=True)
class CautionsInForce:
    """Cautions of one person on one date."""

    right: tuple[Caution, ...]
    left: tuple[Caution, ...]
    whole_person: tuple[Caution, ...]

    def of(self, side: Side | str) -> tuple[Caution, ...]:
        return self.right if side == Side.RIGHT else self.left

    def over(self, side: Side | str, region: Region | str) -> tuple[Caution, ...]:
        """Cautions where a cuff would lie: region is arm, ankle or toes; a whole leg covers the last two."""
        covering = {region} if region == Region.ARM else {region, Region.WHOLE_LEG}
        return tuple(one for one in self.of(side) if one.region in covering)

    def forbidding(self, side: Side | str, region: Region | str) -> tuple[Caution, ...]:
        """Those of ``over`` that say "do not inflate"."""
        return tuple(one for one in self.over(side, region) if one.do_not_inflate)

    @property
    def protected_sites(self) -> frozenset[tuple[Side, Region]]:
        """Every (side, region) where a cuff must not be inflated; region is arm, ankle or toes."""
        return frozenset(
            (side, region)
            for side in Side
            for region in (Region.ARM, Region.ANKLE, Region.TOES)
            if self.forbidding(side, region)
        )

    @property
    def all(self) -> tuple[Caution, ...]:
        return (*self.right, *self.left, *self.whole_person)

    @property
    def sentence(self) -> str:
        """What a person about to lay a cuff must know, RIGHT first."""
        if not self.all:
            return "No caution is recorded. Ask before every exam."
        forbidden = list(dict.fromkeys(one.place for one in self.all if one.do_not_inflate))
        care = sum(not one.do_not_inflate for one in self.all)
        said = [f"Do not inflate: {', '.join(forbidden)}."] if forbidden else []
        if care:
            said.append(f"{care} {'caution asks' if care == 1 else 'cautions ask'} for care.")
        return " ".join(said)


def cautions_in_force(patient: Patient, on: date) -> CautionsInForce:
    """Cautions that stand on the date ``on``. One query."""
    entered = (
        Caution.objects.filter(patient=patient)
        .select_related("entered_by", "confirmed_by")
        .order_by("-do_not_inflate", "region", "pk")
    )
    standing = [caution for caution in entered if caution.in_force_on(on)]
    return CautionsInForce(
        right=tuple(one for one in standing if one.side == Side.RIGHT),
        left=tuple(one for one in standing if one.side == Side.LEFT),
        whole_person=tuple(one for one in standing if not one.side),
    )


def fistulas_on(patient: Patient, on: date) -> tuple[LimbFact, ...]:
    """Fistulas on record among the facts of the limbs: each locks its arm as a caution does. One query."""
    recorded = LimbFact.objects.filter(
        patient=patient, kind=FactKind.FISTULA, replaced_by=None, withdrawn_at=None
    )
    return tuple(one for one in recorded.order_by("-side", "pk") if one.holds_on(on))


def ended_cautions(patient: Patient) -> tuple[Caution, ...]:
    """Cautions that were ended, the last first. One query."""
    ended = Caution.objects.filter(patient=patient, ended_on__isnull=False)
    return tuple(ended.select_related("entered_by", "ended_by").order_by("-ended_on", "-pk"))


def caution_for(person: Person, patient_id: int, caution_id: int) -> Caution:
    found = (
        Caution.objects.filter(patient__clinic=person.clinic, patient_id=patient_id, pk=caution_id)
        .select_related("patient__clinic")
        .first()
    )
    if found is None:
        raise NotHere("no such caution in this clinic")
    return found


# ---- dated facts of a limb


def limb_fact_history(patient: Patient) -> dict[Side, tuple[LimbFact, ...]]:
    """Every row ever entered, RIGHT and LEFT: what still holds, then what ended, then what was withdrawn.

    In each the newest start first, and a replaced row under what replaced it (or, where that is of the other
    side, among what ended). One query; each row knows ``replaces`` and, where there is one, ``replaced_by``.
    """
    return fact_history(patient)[0]


def person_fact_history(patient: Patient) -> tuple[LimbFact, ...]:
    """The same of what is of the whole person: dialysis, heartbeat. One query.

    A row that was corrected to one limb, or from one, stands here struck through or alone.
    """
    return fact_history(patient)[1]


def fact_history(patient: Patient) -> tuple[dict[Side, tuple[LimbFact, ...]], tuple[LimbFact, ...]]:
    """`limb_fact_history` and `person_fact_history` at once; one query."""
    rows = _in_reading_order(LimbFact.objects.filter(patient=patient))
    of_limbs = {side: tuple(row for row in rows if row.side == side) for side in Side}
    return of_limbs, tuple(row for row in rows if not row.side)


def standing_facts(patient: Patient) -> tuple[dict[Side, tuple[LimbFact, ...]], tuple[LimbFact, ...]]:
    """Of both what stands alone, in the same order and without who entered it; one narrow query."""
    rows = list(
        LimbFact.objects.filter(patient=patient, replaced_by=None, withdrawn_at=None).order_by(
            "-started_on", "-pk"
        )
    )
    for row in rows:
        # Known by the question asked, and otherwise asked again of every row.
        row._state.fields_cache["replaced_by"] = None
    rows.sort(key=lambda row: row.ended_on is not None)
    of_limbs = {side: tuple(row for row in rows if row.side == side) for side in Side}
    return of_limbs, tuple(row for row in rows if not row.side)


def _in_reading_order(facts: QuerySet[LimbFact]) -> list[LimbFact]:
    rows = list(
        facts.select_related("entered_by", "ended_by", "withdrawn_by", "replaced_by__entered_by").order_by(
            "-started_on", "-pk"
        )
    )
    by_number = {row.pk: row for row in rows}

    def newest_of_its_line(row: LimbFact) -> LimbFact:
        while getattr(row, "replaced_by", None):
            row = by_number[row.replaced_by.pk]
        return row

    def place(row: LimbFact) -> tuple[int, timedelta, int, int]:
        newest = newest_of_its_line(row)
        over = 2 if newest.withdrawn_at else 1 if newest.ended_on or newest.side != row.side else 0
        return (over, date.max - newest.started_on, -newest.pk, -row.pk)

    return sorted(rows, key=place)


def limb_fact_for(person: Person, patient_id: int, fact_id: int) -> LimbFact:
    """A fact that still stands; one that was replaced or withdrawn can no longer be worked on (404)."""
    found = (
        LimbFact.objects.filter(patient__clinic=person.clinic, patient_id=patient_id, pk=fact_id)
        .filter(replaced_by=None, withdrawn_at=None)
        .select_related("patient__clinic", "entered_by")
        .first()
    )
    if found is None:
        raise NotHere("no such fact in this clinic, or it was replaced")
    return found


def _standing(person: Person) -> QuerySet[Patient]:
    """The clinic's records without those that were merged into another."""
    return Patient.objects.filter(clinic=person.clinic, merged_into=None)


def with_identifiers(patients: QuerySet[Patient]) -> QuerySet[Patient]:
    in_order = Prefetch("identifiers", queryset=Identifier.objects.order_by("pk"))
    return patients.prefetch_related(in_order).order_by("family_name", "given_name", "pk")


def _every_word_stands_in(words: Iterable[str]) -> Q:
    """True of everybody if there are no words."""
    searched = Q()
    for word in words:
        searched &= Q(search_text__contains=word)
    return searched
