"""How the measuring was done (P01 to P12, P18)."""

from datetime import timedelta
from typing import Any

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    FloatField,
    IntegerField,
    Max,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast

from exams.patients.models import FactKind, Side
from exams.visits.models import (
    ExamType,
    Outcome,
    Preparation,
    PreparationItem,
    Reading,
    RemarkAnswer,
    Result,
    Site,
)
from exams.visits.plan import SIDES, TOE_SITES
from exams.visits.queries.criteria import adopted_by
from reports.audit.counted.rows import (
    ANSWERS,
    UNKNOWN,
    Scope,
    a_toe,
    ankle_answered,
    condition,
    day_of,
    exams,
    leg_lost,
    of_exams,
    standing_facts,
    standing_readings,
    units,
    verdict,
    with_diabetes,
)

Rows = QuerySet[Any, Any]

# Ten minutes of rest (workflow.md 2.4), ten mmHg between the arms (workflow.md 2.5).
REST = timedelta(minutes=10)
ARMS_APART_MMHG = 10
BEYOND_LIMIT = "NON_COMPRESSIBLE"
CELSIUS = {Side.RIGHT: PreparationItem.RIGHT_TOE_CELSIUS, Side.LEFT: PreparationItem.LEFT_TOE_CELSIUS}


def rested(scope: Scope) -> Rows:
    unknown = Q(lying_flat_at=None) | Q(first_inflation_at=None)
    met = Q(first_inflation_at__gte=F("lying_flat_at") + REST)
    return _of_exam(exams(scope), verdict(met=met, unknown=unknown))


def toe_temperature(scope: Scope) -> Rows:
    """One row an exam: whether any toe that answered is of a foot without a temperature."""
    without = [
        When(~Q(condition(item, exam="exam")), side=side, then=Value(1)) for side, item in CELSIUS.items()
    ]
    rows = (
        standing_readings()
        .filter(of_exams(scope), site__in=TOE_SITES, outcome__in=ANSWERS)
        .values("exam", "exam__patient", "exam__measured_at")
        .annotate(missing=Max(Case(*without, default=Value(0))))
    )
    return _of_site(rows, verdict(met=Q(missing=0)))


def cold_repeated(scope: Scope) -> Rows:
    """One row a toe reading taken while the skin on record was cold, or with no temperature on record.

    A temperature stands from when it was typed until another is typed; one corrected later, with a reason,
    never stood. What was typed from paper was typed in any order, and is left out.
    """
    cold, warm = Q(celsius__lt=_cold_limit(scope)), Q(celsius__gte=_cold_limit(scope))
    answered = {"site__in": TOE_SITES, "outcome__in": ANSWERS}
    item = Case(*(When(side=side, then=Value(item)) for side, item in CELSIUS.items()))
    readings = (
        standing_readings().filter(of_exams(scope), exam__entered_later=False, **answered).annotate(item=item)
    )
    of_the_foot = _celsius().filter(exam=OuterRef("exam"), item=OuterRef("item"))
    before = of_the_foot.filter(typed_at__lte=OuterRef("typed_at")).order_by("-typed_at", "-pk")
    warmed = of_the_foot.filter(warm, typed_at__gt=OuterRef("typed_at")).order_by("typed_at")
    again = Reading.objects.filter(
        exam=OuterRef("exam"),
        side=OuterRef("side"),
        typed_at__gte=OuterRef("warm_at"),
        withdrawn=False,
        replaced_by=None,
        **answered,
    )
    parts = [_of_site(readings.exclude(Exists(before)), Value(UNKNOWN, IntegerField()))]
    for side, name in CELSIUS.items():
        # The few feet that ever were cold are found first.
        once_cold = _celsius().filter(cold, item=name).values("exam")
        of_a_cold_foot = (
            readings.filter(side=side, exam__in=once_cold)
            .annotate(
                celsius=Subquery(before.values("celsius")[:1]),
                warm_at=Subquery(warmed.values("typed_at")[:1]),
            )
            .filter(cold)
        )
        parts.append(_of_site(of_a_cold_foot, verdict(met=Q(Exists(again)))))
    return parts[0].union(*parts[1:], all=True)


def both_arms(scope: Scope) -> Rows:
    arm = {
        f"{side}_arm": Exists(standing_readings().filter(exam=OuterRef("pk"), side=side, site=Site.ARM))
        for side in SIDES
    }
    return _of_exam(exams(scope).annotate(**arm), verdict(met=Q(right_arm=True, left_arm=True)))


def arms_apart(scope: Scope) -> Rows:
    rows = Result.objects.filter(of_exams(scope), measure="arm_difference", value__gt=ARMS_APART_MMHG)
    again = standing_readings().filter(exam=OuterRef("exam"), site=Site.ARM, attempt__gte=2)
    word = RemarkAnswer.objects.filter(exam=OuterRef("exam"), remark="arms_apart")
    return units(
        rows.annotate(again=Exists(again.filter(outcome=Outcome.PRESSURE)), word=Exists(word)),
        patient="exam__patient",
        anchor="exam__measured_at",
        about="exam",
        verdict=verdict(met=Q(again=True) | Q(word=True)),
    )


def toe_repeats(scope: Scope) -> Rows:
    rows = _by_toe(scope, outcome__in=ANSWERS).annotate(readings=Count("pk"))
    return _of_site(rows, verdict(met=Q(readings__gte=2)))


def toe_spread(scope: Scope) -> Rows:
    """The value is in half mmHg, as pressures are stored."""
    rows = _by_toe(scope, outcome=Outcome.PRESSURE).annotate(
        readings=Count("pk"), spread=2 * (Max("pressure_mmhg") - Min("pressure_mmhg"))
    )
    return _of_site(rows.filter(readings__gte=2), verdict(met=Q(readings__gte=2)), value=F("spread"))


def empty_sites(scope: Scope) -> Rows:
    """One row a planned site: each arm, and of each leg two ankle arteries and a toe."""
    parts = []
    for side in SIDES:
        legs = (
            exams(scope).annotate(day=day_of("measured_at", scope)).exclude(leg_lost("patient", side, "day"))
        )
        ankles = legs.exclude(exam_type=ExamType.TOE_ONLY)
        parts += [
            _entered(exams(scope), side, [Site.ARM]),
            _entered(ankles, side, [Site.POSTERIOR_TIBIAL]),
            _entered(ankles, side, [Site.DORSALIS_PEDIS]),
            _entered(legs, side, TOE_SITES),
        ]
    return parts[0].union(*parts[1:], all=True)


def reasons(scope: Scope) -> Rows:
    return units(
        standing_readings().filter(of_exams(scope), outcome=Outcome.NOT_OBTAINED),
        patient="exam__patient",
        anchor="exam__measured_at",
        about="exam",
        verdict=Value(1),
        code=F("reason"),
    )


def stiff_ankles(scope: Scope) -> Rows:
    stiff = Q(band=BEYOND_LIMIT) | Q(Exists(_not_occludable()))
    return _of_limb(_ankles(scope), verdict(met=stiff))


def stiff_with_toe(scope: Scope) -> Rows:
    """Stiff by the index, and by the cuff alone: asked for at once, each ankle would be looked up apart."""
    ankles = _ankles(scope)
    parts = (
        ankles.filter(band=BEYOND_LIMIT),
        ankles.exclude(band=BEYOND_LIMIT).filter(Exists(_not_occludable())),
    )
    toe = a_toe("exam", OuterRef("limb"))
    by_index, by_cuff = (
        _of_limb(part.annotate(toe=toe), verdict(met=Q(toe__isnull=False))) for part in parts
    )
    return by_index.union(by_cuff, all=True)


def ulcer_with_toe(scope: Scope) -> Rows:
    """The toe pressure's result stands for the limb: every interpreted exam has one for each."""
    rows = (
        Result.objects.filter(of_exams(scope), with_diabetes("exam__patient__"), measure="toe_pressure")
        .annotate(day=day_of("exam__measured_at", scope), toe=a_toe("exam", OuterRef("limb")))
        .filter(open_wound("exam__patient", "limb", "day"))
        .exclude(leg_lost("exam__patient", OuterRef("limb"), "day"))
    )
    return _of_limb(rows, verdict(met=Q(toe__isnull=False)))


def cleaned(scope: Scope) -> Rows:
    rows = exams(scope).annotate(was_cleaned=condition(PreparationItem.CUFFS_CLEANED, value="yes"))
    return _of_exam(rows, verdict(met=Q(was_cleaned=True)))


def open_wound(patient: str, side: str, day: str) -> Exists:
    """Whether a wound of that limb is open on that day; the fields are those of the outer question."""
    open_then = Q(ended_on=None) | Q(ended_on__gt=OuterRef(day))
    return Exists(
        standing_facts(FactKind.OPEN_WOUND).filter(
            open_then, patient=OuterRef(patient), side=OuterRef(side), started_on__lte=OuterRef(day)
        )
    )


def _cold_limit(scope: Scope) -> int:
    """Below so many °C a toe is cold, by the criteria the clinic has adopted."""
    return adopted_by(scope.clinic).thresholds["toe_cold_celsius"].limit


def _celsius() -> Rows:
    """Each temperature of a foot ever typed, but for those corrected later."""
    of_a_toe = Q(item__in=CELSIUS.values())
    number = Case(When(of_a_toe & ~Q(value=""), then=Cast("value", FloatField())), output_field=FloatField())
    corrections = Preparation.objects.filter(replaces=OuterRef("pk"), replaced_because__gt="")
    return (
        Preparation.objects.filter(of_a_toe)
        .exclude(value="")
        .exclude(Exists(corrections.filter(replaces__isnull=False)))
        .annotate(celsius=number)
    )


def _of_exam(rows: Rows, verdict: Any) -> Rows:
    return units(rows, patient="patient", anchor="measured_at", verdict=verdict)


def _of_limb(rows: Rows, verdict: Any) -> Rows:
    return units(rows, patient="exam__patient", anchor="exam__measured_at", about="exam", verdict=verdict)


def _of_site(rows: Rows, verdict: Any, value: Any = None) -> Rows:
    return units(
        rows,
        patient="exam__patient",
        anchor="exam__measured_at",
        about="exam",
        verdict=verdict,
        value=value,
    )


def _by_toe(scope: Scope, **more: Any) -> Rows:
    rows: QuerySet[Reading] = standing_readings().filter(of_exams(scope), site__in=TOE_SITES, **more)
    return rows.values("exam", "side", "site", "exam__patient", "exam__measured_at")


def _entered(rows: Rows, side: str, sites: Any) -> Rows:
    there = Exists(standing_readings().filter(exam=OuterRef("pk"), side=side, site__in=list(sites)))
    return _of_exam(rows.annotate(there=there), verdict(met=Q(there=False)))


def _ankles(scope: Scope) -> Rows:
    """Limbs with an answer at the ankle."""
    rows = Result.objects.filter(of_exams(scope), measure="ankle_brachial_index")
    return rows.filter(ankle_answered("exam", OuterRef("limb")))


def _not_occludable() -> Rows:
    """Ankle arteries of a limb that no cuff could stop."""
    return standing_readings().filter(
        exam=OuterRef("exam"),
        side=OuterRef("limb"),
        site__in=[Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.PERONEAL],
        outcome=Outcome.NOT_OCCLUDABLE,
    )
