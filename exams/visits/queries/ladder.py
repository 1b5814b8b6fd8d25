"""The pressure ladders of one exam, from its chart and its findings."""

from exams.hemodynamics import TOE_SITES, Finding, Interpretation, Interval, NotStated, Outcome, Side, Site
from exams.visits.ladder import Ladder, Standing, ladders
from exams.visits.models import Reading
from exams.visits.models import Site as StoredSite
from exams.visits.queries.chart import Chart
from exams.visits.wording import reason_words

ORDER = (Site.ARM, Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.PERONEAL, *TOE_SITES)
AMPUTATED = "amputated"


def ladders_of(chart: Chart, interpretation: Interpretation) -> tuple[Ladder, Ladder]:
    """RIGHT and LEFT on one scale, with the intervals of the exam's findings."""
    return ladders(
        standings_of(chart, Side.RIGHT, interpretation),
        standings_of(chart, Side.LEFT, interpretation),
        key=f"exam-{chart.exam.pk}",
    )


def standings_of(chart: Chart, side: Side, interpretation: Interpretation) -> tuple[Standing, ...]:
    """What stands at each site that was planned, tried, or is not there any more."""
    absent = chart.absent_toes(side.value)
    planned = set(chart.planned(side.value))
    pressures = _pressures_by_site(interpretation, side)
    standings = []
    for site in ORDER:
        attempts = chart.attempts(side.value, StoredSite(site.value))
        gone = site.value in absent or any(row.reason == AMPUTATED for row in attempts)
        if gone and (site is Site.TOE_1 or attempts):
            standings.append(Standing(site, Outcome.NOT_OBTAINED, reason=AMPUTATED, absent=True))
        elif attempts:
            standings.append(_standing(site, attempts, pressures.get(site)))
        elif site.value in planned:
            standings.append(Standing(site, Outcome.NOT_OBTAINED, reason="no reason given yet"))
    return tuple(standings)


def _standing(site: Site, attempts: tuple[Reading, ...], finding: Finding | None) -> Standing:
    """A pressure goes before "cannot be occluded", that before no signal, and that before a reason."""
    by_outcome = {Outcome(row.outcome): row for row in attempts}
    if Outcome.PRESSURE in by_outcome and finding is not None and not isinstance(finding.value, NotStated):
        interval = finding.interval
        stated = isinstance(interval, Interval)
        return Standing(
            site,
            Outcome.PRESSURE,
            finding.value,
            interval.low if stated else None,
            interval.high if stated else None,
        )
    for outcome in (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE, Outcome.NO_SIGNAL):
        if outcome in by_outcome:
            return Standing(site, outcome, by_outcome[outcome].pressure_mmhg)
    last = attempts[-1]
    return Standing(site, Outcome.NOT_OBTAINED, reason=reason_words(last.reason, last.reason_text))


def _pressures_by_site(interpretation: Interpretation, side: Side) -> dict[Site, Finding]:
    """The finding of each site's own pressure; the ankle's joint one is not a site's."""
    found: dict[Site, Finding] = {}
    for finding in interpretation.on(side):
        if finding.measure.endswith("_pressure") and finding.measure != "ankle_pressure":
            for item in finding.inputs:
                found.setdefault(Site(item.site), finding)
    return found
