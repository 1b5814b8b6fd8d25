"""The fields of the exam sheet, in the measuring order, with what stands in each."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from exams.hemodynamics import Segment
from exams.visits.models import Outcome, Preparation, PreparationItem, Reading, Site
from exams.visits.plan import (
    ATTEMPTS,
    SIDES,
    TECHNIQUES,
    TOE_SITES,
    Place,
    SiteGroup,
    groups_in_order,
    kind_of_site,
    shown_sites,
)
from exams.visits.queries.chart import Chart
from exams.visits.queries.last_time import last_cuff_mm, last_technique
from exams.visits.queries.read import Earlier
from exams.visits.sheet import Choice, Expected, Field, Group, LastTime, Past, Remark
from exams.visits.typed import CHOICES, LIMITS, written
from exams.visits.wording import place_words, reading_shown, technique_words

# Folded away until they are wanted; the others are asked in every exam.
FOLDED_ITEMS = (
    PreparationItem.HEART_TO_FOOT_CM,
    PreparationItem.ROOM_CELSIUS,
    PreparationItem.WARMING,
    PreparationItem.FIRST_ARM,
    PreparationItem.REST_MINUTES_TYPED,
    PreparationItem.CUFFS_CLEANED,
    PreparationItem.COMMENT,
)


def groups_of(
    chart: Chart,
    earlier: Sequence[Earlier],
    remarks: Sequence[Remark],
    cards: Mapping[str, LastTime],
    *,
    toes_first: bool,
) -> tuple[Group, ...]:
    """Every site in the measuring order; sites the exam does not ask for are there, folded."""
    by_field = {remark.field: remark for remark in remarks}
    history = _histories(chart)
    open_sites = {side: _open_sites(chart, side) for side in SIDES}
    groups = []
    for group in groups_in_order(toes_first):
        places = _places(chart, group)
        fields = tuple(
            _reading_field(
                chart,
                place,
                open_sites[place.side],
                history,
                remark=by_field.get(place.name),
                expected=_expected(place, cards.get(place.side)),
            )
            for place in places
        )
        kind = kind_of_site(group.sites[0])
        lost = _lost_words(chart, group)
        groups.append(
            Group(
                key=group.key,
                title=group.title,
                side=group.side,
                folded=all(field.folded for field in fields) and not lost,
                technique=_technique(chart, earlier, group, places),
                cuff_mm=_cuff_mm(chart, earlier, group, places),
                techniques=tuple(Choice(one, technique_words(one)) for one in TECHNIQUES[kind]),
                fields=fields,
                lost=lost,
            )
        )
    return tuple(_with_warnings(chart, groups))


def _expected(place: Place, card: LastTime | None) -> Expected | None:
    """What a pressure here is set against: the range belongs to one toe of one foot."""
    if card is None or card.expected is None or card.site != place.site:
        return None
    return replace(card.expected, again=place.attempt > 1)


def _lost_words(chart: Chart, group: SiteGroup) -> tuple[str, ...]:
    """Each loss that takes sites of this group: "hallux: RIGHT hallux amputation, about 2019"."""
    sites_of: dict[str, list[str]] = {}
    for site, event in (chart.lost(group.side) if group.side else {}).items():
        if site in group.sites:
            sites_of.setdefault(event.words_dated, []).append(str(Site(site).label))
    return tuple(f"{', '.join(sites)}: {words}" for words, sites in sites_of.items())


def _with_warnings(chart: Chart, groups: Sequence[Group]) -> Iterator[Group]:
    """Each limb's cautions at its first group that stands open; what concerns the ankle cuff at the ankle."""
    told: set[str] = set()
    for group in groups:
        warnings: list[str] = []
        if group.side and group.fields and not group.folded:
            limb = chart.limbs[group.side]
            if kind_of_site(group.fields[0].site) == "ankle" and Segment.ANKLE in limb.cuff_warnings:
                warnings.append(limb.cuff_warnings[Segment.ANKLE])
            if group.side not in told:
                warnings += limb.cautions
                told.add(group.side)
        yield replace(group, warnings=tuple(warnings)) if warnings else group


def preparation_of(chart: Chart, remarks: Sequence[Remark]) -> tuple[Field, ...]:
    """The conditions, in the order they are asked."""
    by_field = {remark.field: remark for remark in remarks}
    return tuple(_condition_field(chart, item, by_field.get(item.value)) for item in PreparationItem)


def condition_field(chart: Chart, item: str) -> Field | None:
    """One condition as the sheet shows it, with what stood there before; None if there is no such one."""
    return _condition_field(chart, PreparationItem(item)) if item in PreparationItem.values else None


def reading_field(chart: Chart, place: Place) -> Field:
    """One reading as the sheet shows it, with what stood there before."""
    return _reading_field(chart, place, (place.site,), _histories(chart))


def _open_sites(chart: Chart, side: str) -> tuple[str, ...]:
    """Sites that are not folded: planned ones, the toe after one without a reading, and any with a value."""
    failed = [
        toe
        for toe in TOE_SITES
        if chart.attempts(side, toe)
        and all(row.outcome == Outcome.NOT_OBTAINED for row in chart.attempts(side, toe))
    ]
    used = [site for site in Site if chart.attempts(side, site)]
    return (*shown_sites(chart.exam.exam_type, chart.lost(side), failed), *used)


def _places(chart: Chart, group: SiteGroup) -> list[Place]:
    if group.key == "arms":
        first, second = chart.first_arm, "left" if chart.first_arm == "right" else "right"
        again = [Place(second, Site.ARM, 2), Place(second, Site.ARM, 3), Place(first, Site.ARM, 3)]
        return [Place(first, Site.ARM, 1), Place(second, Site.ARM, 1), *again]
    if group.key == "arm_again":
        return [Place(chart.first_arm, Site.ARM, 2)]
    lost = chart.lost(group.side)
    sites = [site for site in group.sites if site not in lost or chart.attempts(group.side, site)]
    if kind_of_site(group.sites[0]) == "toe":
        return [Place(group.side, site, attempt) for site in sites for attempt in ATTEMPTS]
    # Ankles: each artery once, then the repeats, so that the usual way down the page is the measuring order.
    return [Place(group.side, site, attempt) for attempt in ATTEMPTS for site in sites]


def _reading_field(
    chart: Chart,
    place: Place,
    open_sites: Sequence[str],
    history: Mapping[Place, tuple[Past, ...]],
    remark: Remark | None = None,
    expected: Expected | None = None,
) -> Field:
    row = chart.newest.get(place)
    standing = chart.standing.get(place)
    lock = chart.lock_words(place.side, place.site)
    return Field(
        name=place.name,
        label=place_words(place.side, place.site, place.attempt),
        kind="number",
        unit="mmHg",
        typed=_typed(standing) if standing else "",
        shown=_shown(standing) if standing else "",
        row_id=row.pk if row else 0,
        at=standing.typed_at if standing else None,
        locked=lock,
        lock_reason_needed=bool(lock),
        override=_override_words(standing) if standing else "",
        remark=remark,
        expected=expected,
        history=history.get(place, ()),
        folded=standing is None and _is_folded(chart, place, open_sites),
        planned=place.attempt == 1 and place.site in chart.planned(place.side),
        side=place.side,
        site=place.site,
        attempt=place.attempt,
        technique=standing.technique if standing else "",
    )


def _is_folded(chart: Chart, place: Place, open_sites: Sequence[str]) -> bool:
    if place.site not in open_sites:
        return True
    if place.attempt == 1:
        return False
    kind = kind_of_site(place.site)
    if place.attempt == 2 and kind == "toe":
        return False
    if place.attempt == 2 and kind == "arm":
        return place.side != chart.first_arm or bool(chart.lock_words(place.side, place.site))
    pressures = chart.pressures(place.side, place.site)
    return not (place.attempt == 3 and len(pressures) == 2 and abs(pressures[0] - pressures[1]) > 10)


def _technique(chart: Chart, earlier: Sequence[Earlier], group: SiteGroup, places: Sequence[Place]) -> str:
    """As used in this exam, else as last time at this foot, else the usual one."""
    for place in places:
        if place in chart.standing and chart.standing[place].outcome != Outcome.NOT_OBTAINED:
            return str(chart.standing[place].technique)
    sides = (group.side,) if group.side else SIDES
    before = [last_technique(earlier, side, group.sites) for side in sides]
    return next(filter(None, before), "") or TECHNIQUES[kind_of_site(group.sites[0])][0]


def _cuff_mm(chart: Chart, earlier: Sequence[Earlier], group: SiteGroup, places: Sequence[Place]) -> str:
    """As said in this exam, else as last time at this foot; never guessed."""
    for place in places:
        row = chart.standing.get(place)
        if row is not None and row.cuff_width_mm:
            return str(row.cuff_width_mm)
    sides = (group.side,) if group.side else SIDES
    return next(filter(None, (last_cuff_mm(earlier, side, group.sites) for side in sides)), "")


def _condition_field(chart: Chart, item: PreparationItem, remark: Remark | None = None) -> Field:
    rows = [row for row in chart.preparations if row.item == item]
    row = rows[-1] if rows else None
    value = row.value if row else ""
    choices = tuple(Choice(code, words) for code, words in CHOICES.get(item, {}).items())
    limits = LIMITS.get(item)
    yes = item == PreparationItem.CUFFS_CLEANED
    side = item.value.split("_")[0] if item.value.endswith("toe_celsius") else ""
    return Field(
        name=item.value,
        label=str(item.label),
        kind="yes" if yes else "choice" if choices else "number" if limits else "text",
        unit=limits.unit if limits else "",
        typed=value,
        shown=dict(CHOICES.get(item, {})).get(value, value),
        row_id=row.pk if row else 0,
        at=row.typed_at if row and value else None,
        remark=remark,
        history=_condition_history(rows),
        choices=() if yes else choices,
        folded=item in FOLDED_ITEMS and not value and not _is_wanted(chart, item),
        planned=item not in FOLDED_ITEMS,
        side=side,
    )


def _is_wanted(chart: Chart, item: PreparationItem) -> bool:
    position = chart.condition(PreparationItem.POSITION)
    if item == PreparationItem.HEART_TO_FOOT_CM:
        return position not in ("", "supine")
    if item == PreparationItem.REST_MINUTES_TYPED:
        return chart.exam.lying_flat_at is None and chart.exam.first_inflation_at is not None
    return False


def _histories(chart: Chart) -> dict[Place, tuple[Past, ...]]:
    rows: dict[Place, list[Reading]] = {}
    for row in chart.readings:
        rows.setdefault(Place(row.side, row.site, row.attempt), []).append(row)
    return {
        place: tuple(
            Past(
                shown=_shown(before),
                who=before.entered_by.full_name,
                when=before.typed_at,
                why=after.replaced_because or ("taken back" if after.withdrawn else ""),
            )
            for before, after in pairwise(line)
            if not before.withdrawn
        )
        for place, line in rows.items()
    }


def _condition_history(rows: Sequence[Preparation]) -> tuple[Past, ...]:
    return tuple(
        Past(before.value, before.entered_by.full_name, before.typed_at, after.replaced_because)
        for before, after in pairwise(rows)
        if before.value
    )


def _typed(row: Reading) -> str:
    return written(row.outcome, row.pressure_mmhg, row.reason, row.reason_text)


def _shown(row: Reading) -> str:
    return reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text)


def _override_words(row: Reading) -> str:
    return f"{row.override_because} ({row.override_by.full_name})" if row.override_by else ""
