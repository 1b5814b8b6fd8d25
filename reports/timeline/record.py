"""From the exams to the four series of each limb. Pure: exams in, frozen values out."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from decimal import Decimal

from exams.hemodynamics import (
    Criteria,
    EventKind,
    Found,
    LimbEvent,
    NotStated,
    OwnNoise,
    Side,
    breaks_between,
    limb_standing,
    noise_of_change,
    reasons_between,
    sites_of,
)
from exams.visits.history import ExamRecord
from reports.timeline.change import change_of
from reports.timeline.gist import Gist, gist_of
from reports.timeline.series import Measure, ReasonsBetween, Seen, join
from reports.timeline.years import Event, LimbYears, Limit, Years

# What makes of the numbers before it those of another limb.
DONE = (EventKind.AMPUTATION, EventKind.REVASCULARISATION)
# The findings that these pages read, so that the rest of two hundred exams stays in the database.
FINDINGS_READ = frozenset({*Measure, "position", "pattern", "urgency", "arm_used"})


def years_of(
    records: Sequence[ExamRecord],
    events: Mapping[Side, tuple[Event, ...]],
    criteria: Criteria,
    zone: tzinfo,
    today: date,
    *,
    own: Sequence[OwnNoise] = (),
) -> Years:
    """Both limbs over all the exams of one patient, in the clinic's time.

    `own` is the clinic's own noise, which takes the place of the published one.
    """
    limits = limits_of(criteria)
    gists = sorted((gist_of(record, limits, zone)[0] for record in records), key=_when)
    return years_from_gists(gists, events, criteria, today, own=own)


def years_from_gists(
    gists: Sequence[Gist],
    events: Mapping[Side, tuple[Event, ...]],
    criteria: Criteria,
    today: date,
    *,
    own: Sequence[OwnNoise] = (),
) -> Years:
    """The same from the gists of the exams, the oldest first."""
    limits = limits_of(criteria)
    right, left = (
        _limb(gists, side, events.get(side, ()), criteria, limits, today, own)
        for side in (Side.RIGHT, Side.LEFT)
    )
    return Years((right, left), limits, criteria.label, today, sources_of(criteria))


def limits_of(criteria: Criteria) -> tuple[Limit, ...]:
    """The limits of the criteria that are drawn as named lines."""
    limits = []
    for measure, short in ((Measure.ANKLE_BRACHIAL_INDEX, "ankle"), (Measure.TOE_BRACHIAL_INDEX, "toe")):
        highest = Decimal(criteria.abnormal_hi(measure)) / 100
        beneath = f"{highest:.2f} or below"
        edge = highest + Decimal("0.01")
        limits.append(Limit(measure, highest, f"{short} {beneath}: reduced", beneath, edge))
    for band in criteria.index_bands[Measure.ANKLE_BRACHIAL_INDEX]:
        if band.code == "NON_COMPRESSIBLE":
            highest = Decimal(band.lo - 1) / 100
            words = f"ankle above {highest:.2f}: too stiff to measure"
            limits.append(Limit(Measure.ANKLE_BRACHIAL_INDEX, highest, words))
    for measure, short, name in (
        (Measure.ANKLE_PRESSURE, "ankle", "urgent_ankle_mmhg"),
        (Measure.TOE_PRESSURE, "toe", "urgent_toe_mmhg"),
    ):
        threshold = criteria.thresholds.get(name)
        if threshold:
            value, beneath = Decimal(threshold.limit), str(threshold.words)
            limits.append(Limit(measure, value, f"{short} {beneath}: urgent", beneath, value))
    return tuple(limits)


def sources_of(criteria: Criteria) -> tuple[str, ...]:
    """The studies behind the published noise of every measure, by hand and automated, in full."""
    noises = (noise_of_change(measure, way, criteria) for measure in Measure for way in ("", "oscillometric"))
    named = dict.fromkeys(noise.source for noise in noises if not isinstance(noise, NotStated))
    return tuple(f"{key}: {criteria.sources[key].title}" for key in named if key in criteria.sources)


def _when(gist: Gist) -> tuple[datetime, int]:
    return gist.at, gist.exam_id


def _limb(
    gists: Sequence[Gist],
    side: Side,
    events: tuple[Event, ...],
    criteria: Criteria,
    limits: Sequence[Limit],
    today: date,
    own: Sequence[OwnNoise],
) -> LimbYears:
    cores = [event.core for event in events if event.core]
    series, changes = {}, {}
    for measure in Measure:
        of_measure = [
            (gist.limbs[side].seen[measure], gist.limbs[side].found[measure])
            for gist in gists
            if gist.measured
        ]
        series[measure] = join(
            measure, (seen for seen, _ in of_measure), _reasons_between(of_measure, side, cores)
        )
        found = [(seen.at.date(), found) for seen, found in of_measure]
        change = change_of(series[measure], found, side, events, criteria, limits, today, own)
        if change:
            changes[measure] = change
    return LimbYears(side.word, series, events, changes, baseline_words(events, side, today))


def baseline_words(events: Sequence[Event], side: Side, today: date) -> str:
    """Since when numbers count anew, as said on a day; "" where no vessel was treated."""
    standing = limb_standing([event.core for event in events if event.core], side, today)
    if standing.baseline is None or standing.days_since_baseline is None:
        return ""
    fewest, most = standing.days_since_baseline
    days = f"{fewest} days ago" if fewest == most else f"{fewest} to {most} days ago"
    return f"New baseline: {standing.baseline.words_dated}, {days}. Older values are from before it."


def since_words(events: Sequence[Event], side: Side, on: date, today: date) -> str:
    """What was done to a limb after the exam of a day, said before what that exam found; "" for nothing.

    A foot that was amputated, or a vessel treated, since makes of every older word one about another limb.
    What is dated so loosely that it may have been before the exam is said with a "perhaps".
    """
    done = [
        event.core
        for event in events
        if event.core and event.core.kind in DONE and event.core.concerns(side)
        if event.core.on.latest > on and event.core.on.may_be_before(today)
    ]
    if not done:
        return ""
    words = "; ".join(
        f"{'perhaps ' if one.on.earliest <= on else ''}{one.words_dated.removeprefix(f'{side.word} ')}"
        for one in done
    )
    gone = limb_standing(done, side, today).major_loss
    return f"Since this exam: {words}. What follows is from before it{'' if gone else ': measure again'}."


def _reasons_between(
    of_measure: Sequence[tuple[Seen, Found | None]], side: Side, events: Sequence[LimbEvent]
) -> ReasonsBetween:
    found_in = {seen.exam_id: found for seen, found in of_measure}

    def reasons(earlier: Seen, later: Seen) -> tuple[str, ...]:
        was, now = found_in[earlier.exam_id], found_in[later.exam_id]
        sites = sites_of(was) if was else ()
        breaks = breaks_between(events, side, sites, earlier.at.date(), later.at.date()) if events else ()
        return reasons_between(was, now, breaks=breaks)

    return reasons
