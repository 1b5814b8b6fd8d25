"""From what was counted to what is stored and shown: figures of every clinic and all, and what is hidden."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from access.models import Clinic
from reports.audit.calendar import Period, Span, periods_of
from reports.audit.definitions import Kind, Measure
from reports.audit.disclosure import Cell, Key, SmallNumbers, hidden_of
from reports.audit.models import Count, Figure
from reports.audit.statistics import design_effect, mean_and_sd_of, quartiles_of
from reports.audit.tally import Tally

# Of one clinic, or of all together.
Whose = Clinic | None
Tallies = Mapping[tuple[Period, str], Tally]
# Of the 95 % limits of agreement (Bland and Altman).
LIMITS_SD = 1.96


@dataclass(frozen=True)
class _Place:
    """Where a figure stands: whose, when, of which code."""

    whose: Whose
    period: Period
    code: str


def figures_of(
    measure: Measure, tallies: Mapping[Clinic, Tallies], year: Period, until: Period, count: Count
) -> list[Figure]:
    """Every figure of a measure in a year, up to the month ``until``, with what must be hidden.

    A period that has no unit has figures of zero; of a table of codes only the codes that occur.
    """
    periods = [period for period in periods_of(year) if period.first <= until.first]
    placed = _placed(measure, tallies, periods)
    wholes = _wholes(measure, placed)
    hidden = _hidden(placed, wholes, SmallNumbers(count.threshold, count.base))
    return [_figure(measure, place, one, wholes[place], hidden, count) for place, one in placed.items()]


def _placed(
    measure: Measure, tallies: Mapping[Clinic, Tallies], periods: Iterable[Period]
) -> dict[_Place, Tally]:
    codes = sorted({code for some in tallies.values() for _, code in some}) or [""]
    if measure.kind is not Kind.CODES:
        codes = [""]
    placed = {}
    for period in periods:
        for code in codes:
            together = Tally()
            for clinic, some in tallies.items():
                one = some.get((period, code), Tally())
                placed[_Place(clinic, period, code)] = one
                together += one
            placed[_Place(None, period, code)] = together
    return placed


def _wholes(measure: Measure, placed: Mapping[_Place, Tally]) -> dict[_Place, int]:
    """The denominators: of a code, all codes together."""
    sums: dict[tuple[Whose, Period], int] = {}
    for place, one in placed.items():
        key = (place.whose, place.period)
        sums[key] = sums.get(key, 0) + one.of
    if measure.kind is Kind.CODES:
        return {place: sums[place.whose, place.period] for place in placed}
    return {place: one.of for place, one in placed.items()}


def _hidden(
    placed: Mapping[_Place, Tally], wholes: Mapping[_Place, int], rule: SmallNumbers
) -> set[tuple[str, _Place]]:
    counted, unknown = _cells(placed, wholes, rule)
    clinics = sorted({place.whose.pk for place in placed if place.whose is not None})
    own = [_known_to(clinic, counted) for clinic in clinics]
    own_unknown = [_known_to(clinic, unknown) for clinic in clinics]
    return {*hidden_of(counted, rule, own), *hidden_of(unknown, rule, own_unknown)}  # type: ignore[arg-type]


def _cells(
    placed: Mapping[_Place, Tally], wholes: Mapping[_Place, int], rule: SmallNumbers
) -> tuple[list[Cell], list[Cell]]:
    """Part, rest and whole of every figure; and the unknowns apart, for they add up to nothing else."""
    counted, unknown = [], []
    codes = sorted({place.code for place in placed})
    pieces = sorted(
        {
            (place.whose.pk, place.period.first)
            for place in placed
            if place.whose is not None and place.period.span is Span.MONTH
        }
    )
    for place, one in placed.items():
        mine = [(clinic, month) for clinic, month in pieces if _within(clinic, month, place)]
        met_parts: frozenset[Key] = frozenset(("met", *piece, place.code) for piece in mine)
        # The rest of a code is all the other codes; of anything else, what was not met.
        other: Iterable[Key] = (
            (("met", *piece, code) for piece in mine for code in codes if code != place.code)
            if place.code
            else (("rest", *piece, "") for piece in mine)
        )
        rest_parts = frozenset(other)
        rest = wholes[place] - one.met
        few, few_met, few_rest = (
            rule.is_small(number) for number in (one.people, one.people_met, one.people_unmet)
        )
        counted += [
            Cell(
                ("met", place),
                one.met,
                met_parts,
                of_few=few_met,
                must_hide=rule.is_small(rest) or few_rest or few,
            ),
            Cell(("of", place), wholes[place], met_parts | rest_parts, of_few=few and not place.code),
        ]
        if rest_parts:
            counted.append(Cell(("rest", place), rest, rest_parts, of_few=few_rest, can_show=False))
        unknown.append(
            Cell(("unknown", place), one.unknown, met_parts, of_few=rule.is_small(one.people_unknown))
        )
    return counted, unknown


def _within(clinic: int, month: date, place: _Place) -> bool:
    mine = place.whose is None or place.whose.pk == clinic
    return mine and place.period.first <= month < place.period.end


def _known_to(clinic: int, cells: Sequence[Cell]) -> dict[Key, int]:
    """The pieces of one clinic with their numbers, for people who care for its patients."""
    known: dict[Key, int] = {}
    for cell in cells:
        if len(cell.parts) == 1:
            (part,) = cell.parts
            if part[1] == clinic:  # type: ignore[index]
                known[part] = cell.number
    return known


def _figure(
    measure: Measure,
    place: _Place,
    one: Tally,
    of: int,
    hidden: set[tuple[str, _Place]],
    count: Count,
) -> Figure:
    low, middle, high = _values(measure, one)
    few = SmallNumbers(count.threshold, count.base).is_small
    return Figure(
        tally=count,
        clinic=place.whose,
        measure=measure.id,
        version=measure.version,
        span=place.period.span,
        first=place.period.first,
        code=place.code,
        met=one.met,
        of=of,
        unknown=one.unknown,
        people=one.people,
        deff=_deff(one),
        low_value=low,
        middle_value=middle,
        high_value=high,
        within={str(most): _up_to(one, most) for most in measure.within},
        met_hidden=("met", place) in hidden,
        of_hidden=("of", place) in hidden,
        unknown_hidden=("unknown", place) in hidden,
        # No averages where few people contribute (workflow.md 5.2).
        value_hidden=few(one.people) or few(sum(one.values.values())),
    )


def _deff(one: Tally) -> float:
    return design_effect(
        met=one.some_met,
        of=one.some_of,
        people=one.people,
        met_met=one.met_met,
        met_of=one.met_of,
        of_of=one.of_of,
    )


def _values(measure: Measure, one: Tally) -> tuple[float | None, float | None, float | None]:
    if measure.kind is Kind.MEDIAN and (found := quartiles_of(one.values)):
        return found.first, found.median, found.third
    if measure.kind is Kind.DIFFERENCE and (spread := mean_and_sd_of(one.values)):
        mean, sd = spread
        return mean - LIMITS_SD * sd, mean, mean + LIMITS_SD * sd
    return None, None, None


def _up_to(one: Tally, most: int) -> int:
    return sum(times for value, times in one.values.items() if value <= most)
