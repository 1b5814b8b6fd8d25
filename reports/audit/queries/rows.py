"""The rows behind a figure, by pseudonym; and whose work they were, for those with the right."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.db import connection

from access import clock
from access.models import Clinic, User
from access.people import Person
from access.permissions import allowed, require
from reports.audit.calendar import Period
from reports.audit.counted import ALL
from reports.audit.counted.rows import MET, NOT_MET, UNKNOWN, Scope
from reports.audit.definitions import Measure
from reports.audit.disclosure import SmallNumbers
from reports.audit.queries.figures import HIDDEN, period_of
from reports.audit.queries.rules import holidays_of, rules_now, sees_exact
from reports.audit.tally import IN_HALVES, scope_of

A_PAGE = 200
WORDS = {MET: "met", NOT_MET: "not met", UNKNOWN: "not known"}
# Figures of one person are shown from so many of their units on (workflow.md 5, P14).
LEAST_OF_A_PERSON = 20


@dataclass(frozen=True)
class Row:
    """One unit; ``pseudonym`` is the patient's in this measure and period alone; ``about`` a row."""

    pseudonym: str
    when: Any
    verdict: str
    value: float | None
    code: str
    about: int


@dataclass(frozen=True)
class RowsPage:
    measure: Measure
    period: Period
    rows: Sequence[Row]
    met: int
    not_met: int
    unknown: int
    after: int | None
    leads_to_exams: bool


# Measures whose unit leads to an exam's sheet; the others lead to what holds them.
ABOUT_EXAMS = frozenset(
    {
        "P01", "P02", "P03", "P04", "P05", "P06", "P07", "P08", "P09", "P10", "P11", "P12", "P14", "P15",
        "P16", "P17", "P18", "T02", "C01", "C02", "C03", "C04", "O06", "D02", "D04", "T08",
    }
)  # fmt: skip


def rows_page(by: Person, measure: Measure, asked: str, start: int = 0) -> RowsPage:
    """Every unit of a measure in a period of the clinic acted in, some at a time."""
    require(by, "see audit rows")
    period = period_of(by, asked)
    if by.clinic is None or not measure.is_counted:
        return RowsPage(measure, period, [], 0, 0, 0, None, False)
    rows = ALL[measure.id](_scope(by.clinic, period))
    counts = _counts(rows)
    ordered = rows.order_by("u_anchor", "u_about", "u_patient", "u_verdict")
    found = list(ordered[start : start + A_PAGE + 1])
    salt = f"audit rows {measure.id} {period.key} {by.clinic.pk}"
    halves = 2 if measure.id in IN_HALVES else 1
    return RowsPage(
        measure=measure,
        period=period,
        rows=[
            Row(
                pseudonym=signing.Signer(salt=salt).signature(patient)[:8],
                when=anchor,
                verdict=WORDS[verdict],
                value=None if value is None else value / halves,
                code=code,
                about=about,
            )
            for patient, anchor, about, verdict, value, code, _ in found[:A_PAGE]
        ],
        met=counts.get(MET, 0),
        not_met=counts.get(NOT_MET, 0),
        unknown=counts.get(UNKNOWN, 0),
        after=start + A_PAGE if len(found) > A_PAGE else None,
        leads_to_exams=measure.id in ABOUT_EXAMS and allowed(by, "see exam"),
    )


@dataclass(frozen=True)
class OfPerson:
    """One person's figures in words."""

    name: str
    met: str
    of: str
    unknown: str


def people_page(by: Person, measure: Measure, asked: str) -> tuple[Period, list[OfPerson]]:
    """A measure by whose work it was: all for reporter and educator, a measurer's own otherwise."""
    require(by, "see audit people")
    period = period_of(by, asked)
    if not measure.by_person or by.clinic is None:
        return period, []
    everyone = bool(by.roles & {"reporter", "educator"})
    found: dict[int, dict[int, int]] = {}
    for person, verdict, times in _by_person(measure, by.clinic, period):
        if person is not None and (everyone or person == by.user.pk):
            found.setdefault(person, {})[verdict] = times
    names = dict(User.objects.filter(pk__in=found).values_list("pk", "full_name"))
    rules = rules_now()
    rule = None if sees_exact(by) else SmallNumbers(rules.threshold, rules.base)
    listed = [_of_person(names[person], counts, rule) for person, counts in found.items()]
    return period, sorted(listed, key=lambda one: one.name)


def _of_person(name: str, counts: dict[int, int], rule: SmallNumbers | None) -> OfPerson:
    """``rule``: of small numbers, for who does not care for the patients."""
    met, rest, unknown = (counts.get(verdict, 0) for verdict in (MET, NOT_MET, UNKNOWN))
    hidden = rule is not None and (rule.is_small(met) or rule.is_small(rest))
    said = HIDDEN if hidden else _counted(met, rule)
    if met + rest < LEAST_OF_A_PERSON:
        said = f"shown from {LEAST_OF_A_PERSON} on"
    return OfPerson(name, said, _counted(met + rest, rule), _counted(unknown, rule))


def _counted(number: int, rule: SmallNumbers | None) -> str:
    if rule is None:
        return f"{number:,}"
    return HIDDEN if rule.is_small(number) else f"{rule.rounded(number):,}"


def _by_person(measure: Measure, clinic: Clinic, period: Period) -> list[tuple[int | None, int, int]]:
    rows = ALL[measure.id](_scope(clinic, period))
    return _asked(rows, "SELECT u_person, u_verdict, COUNT(*) FROM ({units}) units GROUP BY 1, 2")


def _scope(clinic: Clinic, period: Period) -> Scope:
    return scope_of(clinic, period, clock.now(), [one.day for one in holidays_of(clinic)])


def _counts(rows: Any) -> dict[int, int]:
    return dict(_asked(rows, "SELECT u_verdict, COUNT(*) FROM ({units}) units GROUP BY 1"))


def abouts_met(rows: Any) -> list[int]:
    """What the met units of a measure are about, each once."""
    found = _asked(rows, "SELECT DISTINCT u_about FROM ({units}) units WHERE u_verdict = 1")
    return [about for (about,) in found]


def _asked(rows: Any, statement: str) -> list[Any]:
    units, values = rows.query.get_compiler(connection=connection).as_sql()
    with connection.cursor() as cursor:
        cursor.execute(statement.format(units=units), values)
        return list(cursor.fetchall())
