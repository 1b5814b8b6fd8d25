"""Where a foot was last time: for the card at the couch, and for judging whether a value is unusual."""

from collections.abc import Sequence
from decimal import Decimal
from statistics import median

from exams.hemodynamics import (
    Criteria,
    DatedExam,
    ExpectedRange,
    Interpretation,
    NotStated,
    OwnNoise,
    Side,
    breaks_between,
    comparability,
    expected_today,
    line_of,
)
from exams.hemodynamics import Site as CoreSite
from exams.visits.plan import ANKLE_SITES, SIDES, TOE_SITES, kind_of_site
from exams.visits.queries.chart import Chart
from exams.visits.queries.read import Earlier
from exams.visits.sheet import Expected, LastTime
from exams.visits.wording import SIDE_WORDS, SITE_NAMES, plain, technique_words, whole_mmhg


def last_comparable(
    chart: Chart, earlier: Sequence[Earlier], now: Interpretation, side: Side, measure: str
) -> Earlier | None:
    """The newest earlier exam whose measure may be compared with this one's, by the core's own rules."""
    for one in earlier:
        if one.found.of(measure, side) is None:
            continue
        sites = TOE_SITES if measure == "toe_pressure" else ANKLE_SITES
        measured = [CoreSite(site) for site in sites if one.pressures(side, site)]
        breaks = _breaks(chart, one, side, measured)
        if not comparability(one.found, now, side, measure, breaks=breaks):
            return one
    return None


def _breaks(chart: Chart, one: Earlier, side: Side, sites: Sequence[CoreSite]) -> tuple[str, ...]:
    """What happened to the limb since an earlier exam, and makes its values belong to before."""
    return breaks_between(chart.events, side, sites, one.on, chart.on)


def last_time_cards(
    chart: Chart, earlier: Sequence[Earlier], criteria: Criteria, own: Sequence[OwnNoise] = ()
) -> dict[str, LastTime]:
    """For each side that was measured before: the same toe (or the ankle), and what to expect today.

    `own` is the clinic's own noise, which takes the place of the published one.
    """
    cards = {}
    for side in SIDES:
        card = _card(chart, earlier, side, criteria, own)
        if card:
            cards[side] = card
    return cards


def last_technique(earlier: Sequence[Earlier], side: str, sites: Sequence[str]) -> str:
    """How this foot's sites were measured last time, or nothing."""
    for one in earlier:
        for site in sites:
            for reading in one.attempts(side, site):
                return str(reading.technique)
    return ""


def last_cuff_mm(earlier: Sequence[Earlier], side: str, sites: Sequence[str]) -> str:
    """The width of the cuff this foot's sites were measured with last time, mm, or nothing."""
    for one in earlier:
        for site in sites:
            for reading in one.attempts(side, site):
                if reading.cuff_width_mm:
                    return str(reading.cuff_width_mm)
    return ""


def _card(
    chart: Chart, earlier: Sequence[Earlier], side: str, criteria: Criteria, own: Sequence[OwnNoise]
) -> LastTime | None:
    planned = chart.planned(side)
    wanted = [site for site in planned if site in TOE_SITES] or [
        site for site in planned if site in ANKLE_SITES
    ]
    others = [site for site in (*TOE_SITES, *ANKLE_SITES) if site not in wanted]
    for site in (*wanted, *others):
        for one in earlier:
            pressures = one.pressures(side, site)
            if pressures:
                breaks = _breaks(chart, one, Side(side), [CoreSite(site)])
                expected = None
                if site in wanted and not breaks:
                    expected = _expected(chart, earlier, one, Side(side), site, criteria, own)
                return _card_of(one, side, site, Decimal(median(pressures)), expected, wanted, breaks)
    return None


def _card_of(
    one: Earlier,
    side: str,
    site: str,
    mmhg: Decimal,
    range_today: ExpectedRange | None,
    wanted: Sequence[str],
    breaks: Sequence[str],
) -> LastTime:
    reading = one.attempts(side, site)[0]
    on = f"{one.on.day} {one.on:%b %Y}"
    name = f"{SIDE_WORDS[side]} {SITE_NAMES[site]}"
    if range_today is not None:
        expected = f"{_expected_words(range_today)}."
    elif site in wanted and breaks:
        expected = f"Not to be compared with today's: {'; '.join(breaks)}."
    elif site in wanted:
        expected = "How much it varies from visit to visit is not known, so no range is given."
    elif not wanted or kind_of_site(site) == kind_of_site(wanted[0]):
        expected = "Another site is measured today: compare with care."
    else:
        missing = kind_of_site(wanted[0])
        expected = f"The last exams hold no {missing} pressure on this side to compare today's with."
    celsius = one.toe_celsius.get(side)
    how = [technique_words(reading.technique)]
    how += [f"{reading.cuff_width_mm} mm cuff"] if reading.cuff_width_mm else []
    how += [f"toe {plain(celsius)} °C"] if celsius is not None else []
    return LastTime(
        side=side,
        exam_id=one.exam_id,
        on=one.on,
        site=site,
        shown=f"{whole_mmhg(mmhg)} mmHg",
        technique="; ".join(how[:2] if reading.cuff_width_mm else how[:1]),
        toe_celsius=celsius,
        expected_low_mmhg=int(range_today.low) if range_today else None,
        expected_high_mmhg=int(range_today.high) if range_today else None,
        expected=Expected(range_today, reading.technique) if range_today else None,
        sentence=f"{name}: {whole_mmhg(mmhg)} mmHg on {on} ({'; '.join(how)}). {expected}",
    )


def _expected(
    chart: Chart,
    earlier: Sequence[Earlier],
    last: Earlier,
    side: Side,
    site: str,
    criteria: Criteria,
    own: Sequence[OwnNoise],
) -> ExpectedRange | None:
    """The range expected today at a toe, from the exams of this same toe; None where no noise is known."""
    if kind_of_site(site) != "toe":
        return None
    of_this_toe = [
        DatedExam(one.on, one.found)
        for one in earlier
        if (found := one.found.of("toe_pressure", side)) is not None
        and any(item.site == site for item in found.inputs)
    ]
    expected = expected_today(line_of(of_this_toe, side, "toe_pressure", chart.events), criteria, own)
    # The card shows the newest exam of the toe: a range from an older one would not belong to it.
    if isinstance(expected, NotStated) or expected.from_days[-1] != last.on:
        return None
    return expected


def _expected_words(expected: ExpectedRange) -> str:
    said = f"Expected today {expected.low}–{expected.high} if nothing has changed"
    number = len(expected.from_days)
    rests_on = "" if number == 1 else f", by the last {number} comparable exams"
    return f"{said}{rests_on} (noise: {expected.noise.words})"
