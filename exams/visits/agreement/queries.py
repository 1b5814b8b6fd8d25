"""What is read of agreement: an exam's pair, what it may repeat, the clinic's pairs, the noise in force."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import DateTimeField, IntegerField, Max, Q, QuerySet

from access.models import Clinic, User
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared
from exams.hemodynamics import (
    PAIRS_NEEDED,
    ChangeNoise,
    Criteria,
    DatedExam,
    Interpretation,
    NotStated,
    OwnNoise,
    RepeatPair,
    Side,
    noise_of_change,
    own_noise,
    pair_of,
    sd_interval,
)
from exams.patients.events import DONE_ONCE
from exams.patients.models import LimbFact
from exams.visits.agreement.models import AgreementRepeat, ClinicNoise
from exams.visits.models import Exam, ExamState, Technique
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import moment_of
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.people import tellers
from exams.visits.queries.results import stored_interpretations
from exams.visits.wording import technique_words

# Measures that a change is told of, with the findings that say whether two exams may be compared.
MEASURES = {
    "toe_pressure": "toe pressure",
    "toe_brachial_index": "toe-brachial index",
    "ankle_brachial_index": "ankle-brachial index",
    "ankle_pressure": "ankle pressure",
}
READ = frozenset({*MEASURES, "position", "arm_used"})
USUAL = {
    "toe_pressure": (Technique.TWO_CUFFS, Technique.ONE_CUFF_HAND, Technique.OSCILLOMETRIC),
    "toe_brachial_index": (Technique.TWO_CUFFS, Technique.ONE_CUFF_HAND, Technique.OSCILLOMETRIC),
    "ankle_brachial_index": (Technique.DOPPLER, Technique.OSCILLOMETRIC),
    "ankle_pressure": (Technique.DOPPLER, Technique.OSCILLOMETRIC),
}
# The longest interval of a study whose SD the clinical reference gives (7: 4 to 8 weeks); the rule is ours.
MOST_DAYS_APART = 56


# ---- one exam


def repeat_of(exam: Exam) -> AgreementRepeat | None:
    """The standing pair this exam is part of, as the repeat or as the first. One query."""
    return (
        AgreementRepeat.objects.filter(Q(exam=exam) | Q(first=exam), withdrawn_at=None)
        .select_related("exam", "first", "recuffed_by", "recorded_by")
        .first()
    )


def may_repeat(exam: Exam) -> list[Exam]:
    """Finished exams of the same person on an earlier day, at most eight weeks before, not in a pair yet.

    Not those that came in with a table: how cuffs were laid for them nobody here has seen.
    """
    moment, zone = moment_of(exam), exam.clinic.zone
    taken = AgreementRepeat.objects.filter(withdrawn_at=None, exam__patient_id=exam.patient_id)
    used = {pk for pair in taken.values_list("exam_id", "first_id") for pk in pair}
    earlier = Exam.objects.filter(
        patient_id=exam.patient_id,
        clinic_id=exam.clinic_id,
        state__in=DONE_STATES,
        imported_from="",
        first_inflation_at__lt=moment,
        first_inflation_at__gte=moment - timedelta(days=MOST_DAYS_APART + 1),
    ).order_by("-first_inflation_at", "-pk")
    on = moment.astimezone(zone).date()
    return [
        one
        for one in earlier
        if one.pk not in used and 0 < (on - day_of(one, exam.clinic)).days <= MOST_DAYS_APART
    ]


def day_of(exam: Exam, clinic: Clinic) -> date:
    """The exam's day on the clinic's wall."""
    return moment_of(exam).astimezone(clinic.zone).date()


def happened_between(patient_id: int, first: date, second: date) -> list[str]:
    """What is on record of a person that began or ended between two days, in words. One query."""
    facts = LimbFact.objects.filter(patient_id=patient_id, replaced_by=None, withdrawn_at=None)
    return [_said(fact) for fact in facts.order_by("started_on", "pk") if _between(fact, first, second)]


def staff_of(person: Person) -> list[User]:
    """Who may have laid the cuffs again."""
    return tellers(person)


# ---- the clinic


def own_noise_of(clinic: Clinic, at: datetime | None = None) -> tuple[OwnNoise, ...]:
    """The clinic's own noise in force, now or at a time. One query."""
    rows = _own.rows(clinic=clinic.pk) if at is None else _own_at.rows(clinic=clinic.pk, at=at)
    return tuple(
        OwnNoise(measure, technique, float(sd), pairs, study)
        for measure, technique, sd, pairs, study in rows
        if sd is not None
    )


def newest_noises(clinic: Clinic, at: datetime | None = None) -> list[ClinicNoise]:
    """The newest row of each measure and technique, also those that say there is none. One query."""
    return list(_newest(clinic.pk, at))


def _newest(clinic: int | Given, at: datetime | Given | None) -> QuerySet[ClinicNoise]:
    rows = ClinicNoise.objects.filter(clinic_id=clinic)
    if at is not None:
        rows = rows.filter(computed_at__lte=at)
    newest = rows.values("measure", "technique").annotate(newest=Max("pk")).values("newest")
    return ClinicNoise.objects.filter(pk__in=newest).order_by("measure", "technique")


_OWN = ("measure", "technique", "sd_within", "pairs", "study")
_of_clinic = Given("clinic", IntegerField())
_own = Prepared(lambda: _newest(_of_clinic, None), *_OWN)
_own_at = Prepared(lambda: _newest(_of_clinic, Given("at", DateTimeField())), *_OWN)


@dataclass
class Gathered:
    """The clinic's pairs by measure and technique, the studies behind each, and what was left out and why."""

    pairs: dict[tuple[str, str], list[RepeatPair]] = field(default_factory=lambda: defaultdict(list))
    studies: dict[tuple[str, str], list[str]] = field(default_factory=lambda: defaultdict(list))
    left_out: Counter[tuple[str, str]] = field(default_factory=Counter)
    repeats: int = 0

    def noise(self, key: tuple[str, str]) -> OwnNoise | NotStated:
        return own_noise(*key, self.pairs.get(key, ()), _named(self.studies.get(key, ())))


def gathered(clinic: Clinic) -> Gathered:
    """Every pair of the clinic, both limbs of both exams; three queries for any number of them.

    Each is looked at anew: an exam opened again, a fact recorded later or a corrected reading counts at once.
    """
    repeats = list(
        AgreementRepeat.objects.filter(exam__clinic=clinic, withdrawn_at=None)
        .select_related("exam", "first")
        .order_by("pk")
    )
    exams = [exam for one in repeats for exam in (one.exam, one.first)]
    found = stored_interpretations(exams, READ)
    facts = _facts_of({one.exam.patient_id for one in repeats})
    result = Gathered(repeats=len(repeats))
    for one in repeats:
        why = _whole_reason(one, clinic, facts[one.exam.patient_id])
        if why:
            result.left_out["both limbs, every measure", why] += 1
        else:
            _add(result, one, clinic, found)
    return result


def _add(result: Gathered, one: AgreementRepeat, clinic: Clinic, found: Mapping[int, Interpretation]) -> None:
    first, second = (DatedExam(day_of(exam, clinic), found[exam.pk]) for exam in (one.first, one.exam))
    for measure, words in MEASURES.items():
        for limb in Side:
            pair = pair_of(first, second, limb, measure, recuffed=True)
            if isinstance(pair, NotStated):
                result.left_out[words, pair.reason] += 1
                continue
            key = (measure, pair[0])
            result.pairs[key].append(pair[1])
            result.studies[key].append(one.study)


def _whole_reason(one: AgreementRepeat, clinic: Clinic, facts: Iterable[LimbFact]) -> str:
    """Why neither limb of a repeat makes a pair any more; nothing where it may."""
    if one.exam.patient_id != one.first.patient_id or ExamState.IN_ERROR in (one.exam.state, one.first.state):
        return "an exam turned out to be another person's"
    if not {one.exam.state, one.first.state} <= set(DONE_STATES):
        return "an exam was opened again and is not finished"
    first, second = day_of(one.first, clinic), day_of(one.exam, clinic)
    if not 0 < (second - first).days <= MOST_DAYS_APART:
        return "not on another day within eight weeks"
    if any(_between(fact, first, second) for fact in facts):
        return "something happened to the person in between"
    return ""


def _facts_of(patients: Iterable[int]) -> Mapping[int, list[LimbFact]]:
    found: dict[int, list[LimbFact]] = defaultdict(list)
    rows = LimbFact.objects.filter(patient_id__in=patients, replaced_by=None, withdrawn_at=None)
    for row in rows.order_by("pk"):
        found[row.patient_id].append(row)
    return found


def _between(fact: LimbFact, first: date, second: date) -> bool:
    """Whether a fact may have begun, or ended, after the first exam and by the day of the second."""
    began = fact.started_on <= second and fact.dated.latest > first
    ended = fact.ended_on is not None and first < fact.ended_on <= second
    # Of what lasts and is dated to a month or year only, a beginning long before is the likelier one.
    vague = fact.started_precision != "day" and fact.kind not in DONE_ONCE and fact.started_on <= first
    return ended or (began and not vague)


def _said(fact: LimbFact) -> str:
    return f"{fact.whose} {fact.words}, {fact.when}"


def _named(studies: Sequence[str]) -> str:
    names = list(dict.fromkeys(studies))
    return " and ".join(names) if len(names) < 3 else f"{len(names)} studies, the last {names[-1]}"


# ---- the page


@dataclass(frozen=True)
class NoiseLine:
    """One measure by one technique: what the pairs say, and which noise is in force.

    ``sd`` and ``interval`` are of one measurement, ``limit`` the change beyond noise, each as written.
    """

    measure: str
    technique: str
    pairs: int
    sd: str
    interval: str
    limit: str
    in_force: str
    is_own: bool
    since: datetime | None


@dataclass(frozen=True)
class NoisePage:
    """``left_out``: of what, why, and how often. ``needed`` pairs make the clinic's own noise."""

    lines: tuple[NoiseLine, ...]
    left_out: tuple[tuple[str, str, int], ...]
    repeats: int
    needed: int
    criteria: str
    sources: tuple[str, ...]

    @property
    def own(self) -> int:
        """How many lines have the clinic's own noise in force."""
        return sum(line.is_own for line in self.lines)


def noise_page(person: Person) -> NoisePage:
    """What the clinic's pairs say of each measure. No patient is named."""
    require(person, "see own noise")
    clinic = person.clinic
    if clinic is None:
        raise NotHere("acting in no clinic")
    found, criteria = gathered(clinic), adopted_by(clinic)
    stored = {(row.measure, row.technique): row for row in newest_noises(clinic)}
    keys = [
        (measure, technique)
        for measure in MEASURES
        for technique in dict.fromkeys(
            [*USUAL[measure], *(way for one, way in (*found.pairs, *stored) if one == measure)]
        )
    ]
    lines = tuple(_line(key, found, criteria, stored.get(key)) for key in keys)
    return NoisePage(
        lines,
        tuple((what, why, count) for (what, why), count in found.left_out.most_common()),
        found.repeats,
        PAIRS_NEEDED,
        criteria.label,
        _sources(lines, criteria),
    )


def _sources(lines: Sequence[NoiseLine], criteria: Criteria) -> tuple[str, ...]:
    """The full reference behind each published noise that is in force."""
    named = dict.fromkeys(line.in_force.removeprefix("published, ") for line in lines if not line.is_own)
    return tuple(f"{key}: {criteria.sources[key].title}" for key in named if key in criteria.sources)


def _line(key: tuple[str, str], found: Gathered, criteria: Criteria, row: ClinicNoise | None) -> NoiseLine:
    measure, technique = key
    unit = " mmHg" if measure.endswith("_pressure") else ""
    own = found.noise(key)
    sd = interval = ""
    if isinstance(own, OwnNoise):
        low, high = sd_interval(own.sd_within, own.pairs)
        sd, interval = (_shown(own.sd_within, unit), f"{_shown(low, '')} to {_shown(high, unit)}")
    noise = noise_of_change(measure, technique, criteria, [own] if isinstance(own, OwnNoise) else ())
    return NoiseLine(
        measure=MEASURES[measure],
        technique=" and ".join(technique_words(one) for one in technique.split("+")),
        pairs=len(found.pairs.get(key, ())),
        sd=sd,
        interval=interval,
        limit=f"{noise.limit.normalize():f}{unit}" if isinstance(noise, ChangeNoise) else "",
        in_force=noise.words if isinstance(noise, ChangeNoise) else f"none: {noise.reason}",
        is_own=isinstance(noise, ChangeNoise) and noise.is_own,
        since=row.computed_at if row is not None and row.sd_within is not None else None,
    )


def _shown(value: float, unit: str) -> str:
    return f"{value:.1f}{unit}" if value >= 1 else f"{value:.3f}{unit}"
