"""Soft remarks: unusual values that ask "repeat?". One fact raises one remark; an answered one never returns.

Limits are those of the criteria or of the issue that asked for this page; where a flag of the core says the
same, the flag decides, so that page and findings cannot differ.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from decimal import Decimal

from exams.hemodynamics import (
    Criteria,
    Interpretation,
    NotStated,
    OwnNoise,
    Side,
    change_between,
    minutes_words,
)
from exams.visits.models import Outcome, Site
from exams.visits.plan import ANKLE_SITES, SIDES, TOE_SITES, Place
from exams.visits.queries.chart import Chart
from exams.visits.queries.last_time import last_comparable
from exams.visits.queries.read import Earlier
from exams.visits.sheet import Remark
from exams.visits.typed import as_mmhg
from exams.visits.wording import SIDE_WORDS, SITE_NAMES, plain

# Issue: "arms more than 10 apart", "repeats more than 10 apart"; 15 and 20 only change the wording.
APART_MMHG = 10
ARMS_CLEARLY_APART_MMHG = 15
ARMS_FAR_APART_MMHG = 20
# 20 kPa are 150 mmHg: what an ankle or toe gives in kPa lies mostly below. Common sense, no source.
PERHAPS_KPA_MMHG = 20


def remarks_on(
    chart: Chart,
    found: Interpretation,
    earlier: Sequence[Earlier],
    criteria: Criteria,
    answers: Callable[[], Mapping[str, str]],
    own: Sequence[OwnNoise] = (),
) -> tuple[Remark, ...]:
    """Every remark the exam raises as it stands, RIGHT first.

    `answers`, by the remark's code, are asked only where there is a remark.
    `own` is the clinic's own noise, which takes the place of the published one.
    """
    raised: dict[str, Remark] = {}
    for remark in _all(chart, found, earlier, criteria, own):
        # The first remark at a field is the gravest one; further ones would ask about the same value.
        raised.setdefault(remark.field, remark)
    answered = answers() if raised else {}
    return tuple(
        Remark(one.code, one.words, one.field, answered.get(one.code, "")) for one in raised.values()
    )


def _all(
    chart: Chart,
    found: Interpretation,
    earlier: Sequence[Earlier],
    criteria: Criteria,
    own: Sequence[OwnNoise],
) -> Iterator[Remark]:
    yield from _arms_apart(chart)
    for side in SIDES:
        yield from _repeats_apart(chart, side)
    for side in SIDES:
        yield from _perhaps_kpa(chart, side)
        yield from _toe_above_ankle(chart, side)
        yield from _far_from_last(chart, found, earlier, criteria, own, side)
        yield from _cold_toe(chart, found, side)
    yield from _rest_short(chart)


def _arms_apart(chart: Chart) -> Iterator[Remark]:
    """Asked until the first arm was measured again."""
    right, left = (chart.pressures(side, Site.ARM) for side in SIDES)
    first = chart.first_arm
    if not right or not left or chart.standing.get(Place(first, Site.ARM, 2)):
        return
    apart = abs(right[-1] - left[-1])
    if apart <= APART_MMHG:
        return
    words = f"The arms are {plain(apart)} mmHg apart ({plain(right[-1])} RIGHT, {plain(left[-1])} LEFT)."
    if apart >= ARMS_FAR_APART_MMHG:
        words += " That much may mean narrowing above an arm: repeat both arms."
    elif apart >= ARMS_CLEARLY_APART_MMHG:
        words += " That is clearly more than usual: repeat both arms?"
    else:
        words += " Repeat?"
    if (right if first == "right" else left)[0] > (left if first == "right" else right)[0]:
        words += f" The {SIDE_WORDS[first]} arm, measured first, is the higher: measure it again."
    last = max((chart.attempts(side, Site.ARM)[-1] for side in SIDES), key=lambda row: row.pk)
    yield Remark("arms_apart", words, Place(last.side, last.site, last.attempt).name)


def _repeats_apart(chart: Chart, side: str) -> Iterator[Remark]:
    for site in (*ANKLE_SITES, *TOE_SITES):
        pressures = chart.pressures(side, site)
        if len(pressures) != 2 or abs(pressures[0] - pressures[1]) <= APART_MMHG:
            continue
        yield Remark(
            f"repeats_apart.{side}.{site}",
            f"{SIDE_WORDS[side]} {SITE_NAMES[site]}: the two readings are "
            f"{plain(abs(pressures[0] - pressures[1]))} mmHg apart. Take a third? The median then counts.",
            _last_field(chart, side, site),
        )


def _perhaps_kpa(chart: Chart, side: str) -> Iterator[Remark]:
    """A pressure so low that the gauge may stand on kPa; asked before anyone is told of it."""
    for site in (*ANKLE_SITES, *TOE_SITES):
        pressures = chart.pressures(side, site)
        if not pressures or pressures[-1] > PERHAPS_KPA_MMHG or _repeated_alike(pressures):
            continue
        typed = plain(pressures[-1])
        yield Remark(
            f"perhaps_kpa.{side}.{site}",
            f"{SIDE_WORDS[side]} {SITE_NAMES[site]} {typed} mmHg is very low. Does the gauge show kPa? "
            f"{typed} kPa is about {as_mmhg(pressures[-1])} mmHg: type that. If not, repeat.",
            _last_field(chart, side, site),
        )


def _toe_above_ankle(chart: Chart, side: str) -> Iterator[Remark]:
    ankles = [mmhg for site in ANKLE_SITES for mmhg in chart.pressures(side, site)]
    open_ankle = any(
        row.outcome == Outcome.NOT_OCCLUDABLE for site in ANKLE_SITES for row in chart.attempts(side, site)
    )
    for site in TOE_SITES:
        pressures = chart.pressures(side, site)
        if not ankles or open_ankle or not pressures or min(pressures) <= max(ankles):
            continue
        if _repeated_alike(pressures):
            continue
        yield Remark(
            f"toe_above_ankle.{side}",
            f"{SIDE_WORDS[side]} {SITE_NAMES[site]} {plain(pressures[-1])} mmHg is above the ankle "
            f"({plain(max(ankles))} mmHg). Repeat?",
            _last_field(chart, side, site),
        )
        return


def _far_from_last(
    chart: Chart,
    found: Interpretation,
    earlier: Sequence[Earlier],
    criteria: Criteria,
    own: Sequence[OwnNoise],
    side: str,
) -> Iterator[Remark]:
    """Beyond the noise of the measure, as the core judges a change between two comparable exams."""
    for measure, sites in (("toe_pressure", TOE_SITES), ("ankle_brachial_index", ANKLE_SITES)):
        limb = Side(side)
        finding = found.of(measure, limb)
        last = last_comparable(chart, earlier, found, limb, measure) if finding else None
        if finding is None or last is None or isinstance(finding.value, NotStated):
            continue
        before = last.found.of(measure, limb)
        judged = change_between(last.found, found, limb, measure, criteria, own=own)
        site = next((site for site in sites if chart.pressures(side, site)), None)
        if before is None or site is None or judged.band != "BEYOND_NOISE":
            continue
        if _repeated_alike(chart.pressures(side, site)):
            continue
        on, whose = last.on, "" if judged.source.startswith("this clinic") else "published, "
        what = SITE_NAMES[site] if measure == "toe_pressure" else "ankle-brachial index"
        yield Remark(
            f"far_from_last.{side}.{measure}",
            f"{SIDE_WORDS[side]} {what}: {finding.shown} now, {before.shown} on {on.day} {on:%b %Y}. "
            f"That is more than repeat measurements vary ({whose}{judged.source}). Repeat?",
            _last_field(chart, side, site),
        )


def _cold_toe(chart: Chart, found: Interpretation, side: str) -> Iterator[Remark]:
    celsius = chart.number(f"{side}_toe_celsius")
    if celsius is None or "WARM_AND_REPEAT" not in found.flags(Side(side)):
        return
    yield Remark(
        f"cold_toe.{side}",
        f"{SIDE_WORDS[side]} toe at {plain(Decimal(celsius))} °C may read low, and a warm toe could change "
        "how it is read. Warm the foot (never direct heat) and repeat, or say why not.",
        f"{side}_toe_celsius",
    )


def _rest_short(chart: Chart) -> Iterator[Remark]:
    minutes, _ = chart.rest
    if minutes is None or minutes >= 10:
        return
    # A protected site has its reason before any cuff is inflated; the question belongs to the first cuff.
    inflated = [item for item in chart.standing.items() if item[1].outcome != Outcome.NOT_OBTAINED]
    first = min(inflated, key=lambda item: (item[1].typed_at, item[1].pk), default=None)
    if first is None:
        return
    lasted = minutes_words(minutes)
    words = (
        f"{f'Only {lasted}' if minutes else 'Less than a minute'} of rest before the first cuff: "
        "pressures may not be settled. Repeat?"
        if minutes < 5
        else f"{lasted} of rest before the first cuff, ten are asked for. Go on?"
    )
    yield Remark("rest_short", words, first[0].name)


def _last_field(chart: Chart, side: str, site: str) -> str:
    """The name of the field last filled at a site."""
    row = chart.attempts(side, site)[-1]
    return Place(side, site, row.attempt).name


def _repeated_alike(pressures: Sequence[Decimal]) -> bool:
    """Whether the question "repeat?" was already answered by a repeat that agrees."""
    return len(pressures) > 1 and max(pressures) - min(pressures) <= APART_MMHG
