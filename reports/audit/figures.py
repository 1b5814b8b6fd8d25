"""From what was counted to what is stored and shown: figures of every clinic and all, and what is hidden."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import product

from access.models import Clinic
from reports.audit.calendar import Period, Span, periods_of
from reports.audit.definitions import Kind, Measure
from reports.audit.disclosure import Cell, Key, Same, SmallNumbers, hidden_of
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


# The same number by the definitions of two measures: whoever sees both sees it twice. ``of`` is met and rest,
# ``all`` these and the unknown.
SAME = (
    ("P01 all", "P04 of"),
    ("P01 all", "P18 of"),
    ("P01 all", "D02 of"),
    ("P01 all", "T02 all"),
    ("P10 met", "P11 of"),
    ("C02 of", "C03 of"),
    ("O01 all", "O05 all"),
    ("O01 all", "P13 all"),
    ("O01 rest", "O02 all"),
    ("O03 of", "O04 of"),
    ("O03 unknown", "O04 unknown"),
    ("P16 all", "P17 all"),
)
WITH_ALL = {said.split()[0] for pair in SAME for said in pair if said.endswith(" all")}
_SUMS = {"of": ("met", "rest"), "all": ("met", "rest", "unknown")}


@dataclass(frozen=True)
class _Counted:
    """What was counted of one measure: each place with its tally and its denominator."""

    measure: Measure
    placed: Mapping[_Place, Tally]
    wholes: Mapping[_Place, int]


def families(counted: Iterable[Measure]) -> list[list[Measure]]:
    """Measures that share numbers, together; what must be hidden of them is judged at once."""
    found = {one.id: [one] for one in counted}
    for left, right in SAME:
        mine, other = found.get(left.split()[0]), found.get(right.split()[0])
        if mine is not None and other is not None and mine is not other:
            mine += other
            found |= dict.fromkeys((one.id for one in other), mine)
    return list({id(some): some for some in found.values()}.values())


def figures_of(
    tallies: Mapping[Measure, Mapping[Clinic, Tallies]],
    year: Period,
    today: date,
    count: Count,
    before: Collection[Figure] = (),
) -> list[Figure]:
    """Every figure of a family of measures in a year, up to the month of ``today``, with what must be hidden.

    A period that has no unit has figures of zero; of a table of codes only the codes that occur. Of a period
    that still runs all is hidden: two counts of it would be subtracted. ``before``: the figures of the count
    that this one follows.
    """
    periods = [period for period in periods_of(year) if period.first <= today]
    family = []
    for measure, of_clinics in tallies.items():
        placed = _placed(measure, of_clinics, periods)
        family.append(_Counted(measure, placed, _wholes(measure, placed)))
    hidden = _hidden(family, today, SmallNumbers(count.threshold, count.base), _told(before, count))
    return [_figure(counted, place, hidden, count) for counted in family for place in counted.placed]


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


def _told(before: Iterable[Figure], count: Count) -> dict[Key, int]:
    """What was shown by the count before, as numbers."""
    told: dict[Key, int] = {}
    for one in before:
        if (one.tally.threshold, one.tally.base) != (count.threshold, count.base):
            continue
        place = _Place(one.clinic, Period(one.first, Span(one.span)), one.code)
        numbers = {"met": one.met, "of": one.of, "unknown": one.unknown, "value": one.of}
        told |= {
            (name, one.measure, place): number
            for name, number in numbers.items()
            if not getattr(one, f"{name}_hidden")
        }
    return told


def _hidden(family: Sequence[_Counted], today: date, rule: SmallNumbers, told: Mapping[Key, int]) -> set[Key]:
    counts: list[Cell] = []
    values: list[Cell] = []
    running: set[Key] = set()
    for counted in family:
        over = [place for place in counted.placed if place.period.end <= today]
        counts += _cells(counted, over, rule)
        if counted.measure.has_values:
            values += _value_cells(counted, over, rule)
        running |= {
            (name, counted.measure.id, place)
            for place in counted.placed.keys() - over
            for name in ("met", "of", "unknown", "value")
        }
    clinics = sorted(
        {place.whose.pk for counted in family for place in counted.placed if place.whose is not None}
    )
    kept = {cell.key for cell in counts if told.get(cell.key) == cell.number}
    hidden = hidden_of(
        counts, rule, [_known_to(one, counts) for one in clinics], same=_same(counts), told_before=kept
    )
    # A mean, and the decimals of a quartile, may tell of how many they are.
    exact = replace(rule, exact=True)
    kept = {cell.key for cell in values if cell.key in told}
    hidden |= hidden_of(values, exact, [_known_to(one, values) for one in clinics], told_before=kept)
    return hidden | running


def _pieces(over: Iterable[_Place]) -> list[tuple[int, date]]:
    """Clinics by months: what all that is counted is made of."""
    return sorted(
        {
            (place.whose.pk, place.period.first)
            for place in over
            if place.whose is not None and place.period.span is Span.MONTH
        }
    )


def _cells(counted: _Counted, over: Sequence[_Place], rule: SmallNumbers) -> list[Cell]:
    """Part, rest, whole and unknown of every figure of a period that is over."""
    cells, name = [], counted.measure.id
    codes = sorted({place.code for place in over})
    pieces = _pieces(over)
    for place in over:
        one, of = counted.placed[place], counted.wholes[place]
        mine = [(clinic, month) for clinic, month in pieces if _within(clinic, month, place)]
        met_parts: frozenset[Key] = frozenset((name, "met", *piece, place.code) for piece in mine)
        # The rest of a code is all the other codes; of anything else, what was not met.
        other: Iterable[Key] = (
            ((name, "met", *piece, code) for piece in mine for code in codes if code != place.code)
            if place.code
            else ((name, "rest", *piece, "") for piece in mine)
        )
        rest_parts = frozenset(other)
        rest = of - one.met
        few, few_met, few_rest = (
            rule.is_small(number) for number in (one.people, one.people_met, one.people_unmet)
        )
        cells += [
            Cell(
                ("met", name, place),
                one.met,
                met_parts,
                of_few=few_met,
                must_hide=rule.is_small(rest) or few_rest or few,
            ),
            Cell(("of", name, place), of, met_parts | rest_parts, of_few=few and not place.code),
            Cell(
                ("unknown", name, place),
                one.unknown,
                frozenset((name, "unknown", *piece, place.code) for piece in mine),
                of_few=rule.is_small(one.people_unknown),
                # Two rounded numbers that come out equal leave their difference one number fewer than any
                # other count: to hide one of them each time would leave little of P01.
                left=rule.base - 1 if name in WITH_ALL else None,
            ),
        ]
        if rest_parts:
            cells.append(Cell(("rest", name, place), rest, rest_parts, of_few=few_rest, can_show=False))
    return cells


def _value_cells(counted: _Counted, over: Sequence[_Place], rule: SmallNumbers) -> list[Cell]:
    """How many values stand behind each median or mean: no average of few people (workflow.md 5.2)."""
    pieces = _pieces(over)
    return [
        Cell(
            ("value", counted.measure.id, place),
            sum(counted.placed[place].values.values()),
            frozenset(piece for piece in pieces if _within(*piece, place)),
            of_few=rule.is_small(counted.placed[place].people),
        )
        for place in over
    ]


def _same(cells: Sequence[Cell]) -> list[Same]:
    """Of each clinic and month, the sums that are the same number, where they are."""
    numbers = {next(iter(cell.parts)): cell.number for cell in cells if len(cell.parts) == 1}
    pieces = sorted({part[2:4] for part in numbers})  # type: ignore[index]
    found: list[Same] = []
    for (clinic, month), pair in product(pieces, SAME):
        left, right = (
            frozenset[Key]((name, part, clinic, month, "") for part in _SUMS.get(which, (which,)))
            for name, which in (said.split() for said in pair)
        )
        if left | right <= numbers.keys() and sum(numbers[one] for one in left) == sum(
            numbers[one] for one in right
        ):
            found.append((left, right))
    return found


def _within(clinic: int, month: date, place: _Place) -> bool:
    mine = place.whose is None or place.whose.pk == clinic
    return mine and place.period.first <= month < place.period.end


def _known_to(clinic: int, cells: Sequence[Cell]) -> dict[Key, int]:
    """The pieces of one clinic with their numbers, for people who care for its patients."""
    known: dict[Key, int] = {}
    for cell in cells:
        if len(cell.parts) == 1:
            (part,) = cell.parts
            if clinic in part:  # type: ignore[operator]
                known[part] = cell.number
    return known


def _figure(counted: _Counted, place: _Place, hidden: Collection[Key], count: Count) -> Figure:
    measure, one = counted.measure, counted.placed[place]
    low, middle, high = _values(measure, one)
    return Figure(
        tally=count,
        clinic=place.whose,
        measure=measure.id,
        version=measure.version,
        span=place.period.span,
        first=place.period.first,
        code=place.code,
        met=one.met,
        of=counted.wholes[place],
        unknown=one.unknown,
        people=one.people,
        deff=_deff(one),
        low_value=low,
        middle_value=middle,
        high_value=high,
        within={str(most): _up_to(one, most) for most in measure.within},
        **{
            f"{name}_hidden": (name, measure.id, place) in hidden
            for name in ("met", "of", "unknown", "value")
        },
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
