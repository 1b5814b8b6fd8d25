"""What all measures share: the period asked for, the rows of an exam that stand, the shape of a unit."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import (
    Case,
    CharField,
    Exists,
    F,
    Func,
    IntegerField,
    Model,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast, TruncDate

from access.models import Clinic
from exams.patients.models import Answer, FactKind, LimbFact
from exams.visits.models import Exam, Outcome, Preparation, Reading
from exams.visits.plan import ANKLE_SITES, DONE_STATES, TOE_SITES
from reports.audit.calendar import days_to_working_day

MET, NOT_MET, UNKNOWN = 1, 0, 2
# An answer of a site: flow came back at a pressure, did not stop at the highest, or there was none.
ANSWERS = (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE, Outcome.NO_SIGNAL)
# A facts' levels beyond a single toe: no toe or ankle is planned as usual on such a leg.
BEYOND_TOES = ~Q(level__in=["toe", "ray"])


@dataclass(frozen=True)
class Scope:
    """One clinic and a stretch of time: moments in UTC, the same days on the clinic's calendar, and now.

    ``holidays``: days on which the clinic does not work, beside Saturdays and Sundays.
    """

    clinic: Clinic
    begin: datetime
    end: datetime
    first: date
    after: date
    now: datetime
    holidays: frozenset[date] = frozenset()

    @property
    def today(self) -> date:
        return self.now.astimezone(self.clinic.zone).date()


class Days(Func):
    """Whole days from one date to another, alike on both databases."""

    template = "(%(expressions)s)"
    output_field = IntegerField()

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        first, last = self.get_source_expressions()
        one, one_values = compiler.compile(first)
        other, other_values = compiler.compile(last)
        return f"({other} - {one})", (*other_values, *one_values)

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        first, last = self.get_source_expressions()
        one, one_values = compiler.compile(first)
        other, other_values = compiler.compile(last)
        sql = f"CAST(JULIANDAY({other}) - JULIANDAY({one}) AS INTEGER)"
        return sql, (*other_values, *one_values)


def verdict(*, met: Q, unknown: Q | None = None, not_over: Q | None = None) -> Case:
    """2 where it is not known, else 1 where it is met, else 2 where the time for it is not over, else 0.

    A condition that looks into other tables is asked for anew wherever it is named: name it once.
    """
    cases = [When(met, then=Value(MET))]
    if unknown is not None:
        cases.insert(0, When(unknown, then=Value(UNKNOWN)))
    if not_over is not None:
        cases.append(When(not_over, then=Value(UNKNOWN)))
    return Case(*cases, default=Value(NOT_MET), output_field=IntegerField())


def units(
    rows: "QuerySet[Any, Any]",
    *,
    patient: str,
    anchor: str,
    verdict: Any,
    value: Any = None,
    code: Any = None,
    person: Any = None,
    about: str = "pk",
) -> "QuerySet[Any, Any]":
    """The rows in the one shape that `tally.py` counts and the lists of rows show.

    Parameters
    ----------
    rows : a question to the database, already narrowed to the clinic and the time.
    patient, anchor, about : fields: whose it is, when it counts, and the row an auditor is led to.
    verdict : 1 met, 0 not met, 2 not known.
    value : a whole number of the measure's unit, or of half mmHg, null where there is none.
    code : of a table of codes, the code.
    person : whose work it was, for those with the right.
    """
    return (
        rows.order_by()
        .annotate(
            u_patient=F(patient),
            u_anchor=F(anchor),
            u_about=F(about),
            u_verdict=verdict,
            u_value=Value(None, IntegerField()) if value is None else Cast(value, IntegerField()),
            u_code=Value("", CharField()) if code is None else code,
            u_person=Value(None, IntegerField()) if person is None else person,
        )
        .values_list("u_patient", "u_anchor", "u_about", "u_verdict", "u_value", "u_code", "u_person")
    )


def exams(scope: Scope) -> "QuerySet[Exam]":
    """Measured exams of the period: completed or limited, not entered in error, not from elsewhere.

    One taken in with a table says nothing of how this clinic measures.
    """
    return Exam.objects.filter(
        clinic=scope.clinic,
        state__in=DONE_STATES,
        imported_from="",
        measured_at__gte=scope.begin,
        measured_at__lt=scope.end,
    )


def of_exams(scope: Scope, before: str = "exam__") -> Q:
    """The same exams, asked for from a table that points to them."""
    return Q(
        **{
            f"{before}clinic": scope.clinic,
            f"{before}state__in": DONE_STATES,
            f"{before}imported_from": "",
            f"{before}measured_at__gte": scope.begin,
            f"{before}measured_at__lt": scope.end,
        }
    )


def day_of(field: str, scope: Scope) -> TruncDate:
    """The day of a moment on the clinic's calendar."""
    return TruncDate(field, tzinfo=scope.clinic.zone)


def days_allowed(day: str, number: int, scope: Scope) -> Case:
    """How many days after ``day``, a date of the period, its ``number``-th working day ends.

    Of the few answers there are, each has its list of days: a database reads that as one look into a table.
    """
    found: dict[int, list[date]] = {}
    for place in range((scope.after - scope.first).days):
        one = scope.first + timedelta(days=place)
        found.setdefault(days_to_working_day(one, number, scope.holidays), []).append(one)
    return Case(
        *(When(**{f"{day}__in": days}, then=Value(apart)) for apart, days in sorted(found.items())),
        output_field=IntegerField(),
    )


def replaced(rows: "type[Model]") -> Exists:
    """Whether a later row stands in the place of the row asked about.

    Few rows ever replace one; saying so lets a database look at these alone and not at all rows twice.
    """
    manager = rows._default_manager
    return Exists(manager.filter(replaces=OuterRef("pk"), replaces__isnull=False))


def standing_readings() -> "QuerySet[Reading]":
    return Reading.objects.filter(withdrawn=False).exclude(replaced(Reading))


def a_toe(exam: str, side: Any) -> Subquery:
    """A reading with an answer at a toe of that side, if there is one; of the few limbs asked about.

    As one value it is looked up limb by limb, while "is there any" has every toe of all time read first.
    """
    toes = Reading.objects.filter(
        exam=OuterRef(exam),
        side=side,
        site__in=TOE_SITES,
        outcome__in=ANSWERS,
        withdrawn=False,
        replaced_by=None,
    )
    return Subquery(toes.order_by().values("pk")[:1])


def ankle_answered(exam: str, side: Any) -> Exists:
    """Whether an ankle of that side gave an answer; the fields are those of the outer question."""
    return Exists(
        standing_readings().filter(exam=OuterRef(exam), side=side, site__in=ANKLE_SITES, outcome__in=ANSWERS)
    )


def condition(item: str, *, exam: str = "pk", **more: Any) -> Exists:
    """Whether a condition stands in the preparation of the exam, which is a field of the outer question."""
    standing = Preparation.objects.filter(exam=OuterRef(exam), item=item).exclude(replaced(Preparation))
    return Exists(standing.exclude(value="").filter(**more))


def standing_facts(kind: str) -> "QuerySet[LimbFact]":
    return LimbFact.objects.filter(kind=kind, withdrawn_at=None).exclude(replaced(LimbFact))


def leg_lost(patient: str, side: Any, day: str) -> Exists:
    """Whether an amputation beyond single toes stands on that side on that day."""
    return Exists(
        standing_facts(FactKind.AMPUTATION).filter(
            BEYOND_TOES, patient=OuterRef(patient), side=side, started_on__lte=OuterRef(day)
        )
    )


def with_diabetes(before: str = "patient__") -> Q:
    return Q(**{f"{before}diabetes": Answer.YES})
